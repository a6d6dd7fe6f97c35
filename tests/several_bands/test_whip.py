"""A tapped whip on a circuit with another coil formula than the product's, and losses it is not told of."""

import itertools

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.kit import Kit
from sweepkit.report.trim_card import plan_card
from sweepkit.several_bands.from_sweeps import plan_whip_from_sweeps
from sweepkit.several_bands.places import places_of
from sweepkit.several_bands.seen import Around
from sweepkit.several_bands.whip_card import card_of_whip
from sweepkit.several_bands.whip_model import Coil, Ground, inductance_h
from sweepkit.several_bands.whip_told import EarlierSetting, UsedSetting, WhipWish
from sweepkit.trim.dip import DipEnsemble
from tests.several_bands.circuits import dip_hz, lundin_h, swept, whip_z_ohm

COIL, GROUND = Coil(0.052, 0.0024), Ground(4, 4.0)
BANDS = ["40 m", "30 m", "20 m"]


def sweep_at(tap, whip_m, seed=1):
    f0 = dip_of(tap, whip_m)
    f_hz = np.linspace(0.95 * f0, 1.05 * f0, 201)
    return swept(f_hz, whip_z_ohm(f_hz, tap, whip_m), seed)


def dip_of(tap, whip_m):
    return dip_hz(lambda f: whip_z_ohm(f, tap, whip_m), 4e6, 20e6)


def planned(*, earlier=(), bands=BANDS, draws=100, sweeps=None, **more):
    told = {"tap": 24.0, "turns": 40.0, "whip_range_m": (1.5, 3.6), "coil": COIL, "ground": GROUND} | more
    wish = WhipWish(told.pop("length_m", 2.4), "mean", **told)
    sweeps = sweeps or [sweep_at(24, 2.4)]
    places = places_of(bands=bands)
    return plan_whip_from_sweeps(
        sweeps, places, wish, earlier=earlier, kit=Kit(), measured_at="feedpoint", draws=draws, seed=1
    )


@pytest.fixture(scope="module")
def two_taps():
    return planned(earlier=[(8.0, 2.4, sweep_at(8, 2.4, 2))])


def test_wheelers_formula_agrees_with_lundins():
    """Published: two formulas for one coil; 1 % is what Wheeler (1928) claims for coils longer than 0.8 radii."""
    for turns in (10, 20, 40):
        assert inductance_h(turns, np.array([0.052]), np.array([0.0024]))[0] == pytest.approx(
            lundin_h(turns, 0.026, turns * 0.0024), rel=0.01
        )


def test_two_taps_tell_every_setting(two_taps):
    assert two_taps.action == "retune"
    assert two_taps.learned_from == 1
    for setting in two_taps.settings:
        true = dip_of(setting.tap, setting.whip_m)
        assert setting.tap == int(setting.tap)
        assert setting.dip_hz.low <= true <= setting.dip_hz.high
        assert true == pytest.approx(setting.target_hz, rel=0.006)
        assert 1.5 <= setting.whip_m <= 3.6


def test_of_settings_that_reach_a_target_the_longest_whip_is_taken(two_taps):
    setting = two_taps.settings[0]
    assert setting.whip_m > 3.3  # one turn less would need a whip longer than there is
    assert dip_of(setting.tap - 1, 3.6) > setting.target_hz


def test_sensitivities_are_those_of_the_circuit(two_taps):
    setting = next(each for each in two_taps.settings if each.band == "40 m")
    per_m = (dip_of(setting.tap, setting.whip_m + 0.02) - dip_of(setting.tap, setting.whip_m - 0.02)) / 0.04
    per_turn = (dip_of(setting.tap + 0.5, setting.whip_m) - dip_of(setting.tap - 0.5, setting.whip_m)) / 1.0
    assert setting.hz_per_m.value == pytest.approx(per_m, rel=0.1)
    assert setting.hz_per_turn.value == pytest.approx(per_turn, rel=0.1)


def test_one_tap_alone_is_answered_with_wider_intervals(two_taps):
    alone = planned()
    far = -1
    widths = [(each.settings[far].dip_hz.high - each.settings[far].dip_hz.low) for each in (alone, two_taps)]
    assert widths[0] > widths[1]


def test_a_whip_that_cannot_move_keeps_the_swr_it_was_swept_with():
    """Off its dip too: how steep the reactance is comes from the width that was swept."""
    f0 = dip_of(24, 2.4)
    places = [f"{share * f0 / 1e3:.0f} kHz" for share in (0.992, 1.008)]
    wish = WhipWish(2.4, "mean", None, None, 1.0, None, Coil(), Ground())
    told = {"kit": Kit(), "measured_at": "feedpoint", "draws": 50}
    plan = plan_whip_from_sweeps([sweep_at(24, 2.4)], places_of(targets=places), wish, **told)
    for band in plan.bands:
        assert band.now.best_swr.value > 1.5
        assert band.after.best_swr.value == pytest.approx(band.now.best_swr.value, rel=0.03)


def test_one_whip_length_for_all_places():
    plan = planned(one_length=True, earlier=[(8.0, 2.4, sweep_at(8, 2.4, 2))], draws=50)
    assert len({setting.whip_m for setting in plan.settings}) == 1


def test_a_place_wider_than_the_whip_has_a_row_for_each_part():
    f0 = dip_of(40, 3.3)
    f_hz = np.linspace(0.95 * f0, 1.05 * f0, 201)
    sweep = swept(f_hz, whip_z_ohm(f_hz, 40, 3.3))
    places = [f"wide={0.96 * f0 / 1e3:.0f}-{1.04 * f0 / 1e3:.0f} kHz"]
    wish = WhipWish(3.3, "mean", 40.0, 50.0, 1.0, (1.5, 3.6), COIL, GROUND)
    plan = plan_whip_from_sweeps(
        [sweep], places_of(segments=places), wish, kit=Kit(), measured_at="feedpoint", draws=50
    )
    assert len(plan.settings) > 1
    ends = [(each.low_hz, each.high_hz) for each in plan.settings]
    assert all(a[1] == pytest.approx(b[0]) for a, b in itertools.pairwise(ends))
    assert len(plan.bands) == 1


def test_a_fixed_coil_moves_the_whip_alone():
    plan = planned(tap=None, turns=None, coil=Coil(inductance_h=17e-6), bands=["40 m"], draws=50)
    assert plan.settings[0].tap is None
    assert plan.settings[0].hz_per_turn.value is None
    true = dip_of(24, plan.settings[0].whip_m)
    assert true == pytest.approx(plan.settings[0].target_hz, rel=0.02)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"tap": 41.0}, "not on a coil of 40 turns"),
        ({"tap": 23.5}, "between the steps"),
        ({"turns": None}, "add --turns"),
        ({"length_m": 3.9}, "outside its range"),
    ],
)
def test_what_cannot_be_is_asked(more, words):
    with pytest.raises(BadInput, match=words):
        planned(**more)


@pytest.mark.parametrize(
    ("earlier", "words"),
    [
        ((48.0, 2.4), "not on a coil of 40 turns"),
        ((8.5, 2.4), "between the steps"),
    ],
)
def test_an_earlier_tap_that_is_none_is_asked(earlier, words):
    with pytest.raises(BadInput, match=words):
        planned(earlier=[(*earlier, sweep_at(8, 2.4, 2))], draws=50)


@pytest.mark.parametrize("said", [(12.0, 2.4), (24.0, 2.2)])
def test_an_earlier_setting_that_contradicts_is_a_stop(said):
    plan = planned(earlier=[(*said, sweep_at(8, 2.4, 2))], draws=50)
    assert plan.action == "cannot_say"
    assert [finding.code for finding in plan.findings if finding.level == "stop"] == ["sweeps-differ"]
    assert not plan.settings


def test_sweeps_of_two_settings_are_not_one_state():
    wish = WhipWish(2.4, "mean", 24.0, 40.0, 1.0, (1.5, 3.6), COIL, GROUND)
    sweeps = [sweep_at(24, 2.4, 1), sweep_at(8, 2.4, 2)]
    plan = plan_whip_from_sweeps(
        sweeps, places_of(bands=["40 m", "20 m"]), wish, kit=Kit(), measured_at="feedpoint", draws=50
    )
    assert plan.action == "cannot_say"
    assert "of two settings" in plan.reason


def test_a_whip_of_which_nothing_moves_is_left():
    plan = planned(tap=None, turns=None, whip_range_m=None, coil=Coil(inductance_h=17e-6), bands=["40 m"])
    assert (plan.action, plan.bands[0].effect) == ("leave", "same")
    assert "nothing of this whip is told to move" in plan.reason


def test_a_place_above_and_one_below_what_nothing_can_move_need_opposite_whips():
    between_hz = dip_of(24, 2.4)
    assert 7.3e6 < between_hz < 13.9e6
    plan = planned(
        tap=None, turns=None, whip_range_m=None, coil=Coil(inductance_h=17e-6), bands=["40 m", "20 m"]
    )
    lower, higher = (finding for finding in plan.findings if finding.code == "rebuild")
    assert "down to 40 m;" in lower.text
    assert "longer whip, more turns" in lower.next_step
    assert "up to 20 m;" in higher.text
    assert "shorter whip, fewer turns" in higher.next_step
    assert [row.band for row in plan.settings] == [
        "40 m",
        "20 m",
    ]  # wider than the whip, and still one setting


def test_a_setting_on_record_dips_as_it_did_whatever_the_fit_says():
    """The last record is off the formula by 1 %: the card gives what was swept, today's like it is as on record."""
    records = [(24.0, 2.4, 1.0), (8.0, 2.4, 1.0), (16.0, 3.0, 1.01)]
    used = [UsedSetting(dip_of(tap, m) * off, tap, m, "s", "2026-05-01") for tap, m, off in records]
    at_hz = used[-1].dip_hz
    places = places_of(targets=[f"{at_hz / 1e3:.3f} kHz"])
    wish = WhipWish(2.4, "mean", 24.0, 40.0, 1.0, (1.5, 3.6), COIL, GROUND)
    today = EarlierSetting((DipEnsemble(np.full(2, at_hz), *np.ones((3, 2))),), 16.0, 3.0)
    for sweep in (None, today):
        card = card_of_whip(used, wish, places, Around(Kit(), (), 2.0), spread=0.01, today=sweep, draws=50)
        assert card.settings[0].tap == 16
        assert card.settings[0].dip_hz.value == pytest.approx(at_hz, rel=1e-9)
        assert card.settings[0].dip_hz.low < at_hz < card.settings[0].dip_hz.high
    assert card.reason == "today it dips as on record"


def test_places_that_were_not_swept_have_their_sweep_to_take_at_the_setting(two_taps):
    settings = {row.band: row for row in two_taps.settings}
    unseen = [row for row in two_taps.bands if row.now.best_swr.value is None]
    assert [row.name for row in unseen] == ["30 m", "20 m"]
    for row, sweep in zip(unseen, two_taps.next_sweeps, strict=True):
        dip = settings[row.name].dip_hz
        assert sweep.start_hz < min(row.low_hz, dip.low)
        assert max(row.high_hz, dip.high) < sweep.stop_hz
        assert (sweep.stop_hz - sweep.start_hz) / sweep.points < 0.01 * row.low_hz


@pytest.mark.parametrize("imperial", [False, True])
def test_the_card_has_every_setting_its_dip_and_says_to_sweep(two_taps, imperial):
    lines = plan_card(two_taps, imperial=imperial).splitlines()
    assert all(len(line) <= 40 for line in lines)
    assert lines[-1] == "THEN SWEEP AT EACH SETTING."
    assert len(lines) == min(len(two_taps.settings) + 1, 8)
    for line, row in zip(lines, two_taps.settings, strict=False):
        assert f"TAP {row.tap:g}, WHIP " in line
        assert line.count("(") == line.count(")") == 0
        if not imperial:
            assert line.endswith(f" {row.dip_hz.low / 1e6:.2f}-{row.dip_hz.high / 1e6:.2f}MHz")
