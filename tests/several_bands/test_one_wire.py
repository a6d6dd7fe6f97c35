"""End-feds for several bands on wire models of our own, with a box and coax that the product is not told of."""

from dataclasses import replace

import numpy as np
import pytest

from sweepkit.antennas.catalogue import kind_named
from sweepkit.antennas.kind import Known
from sweepkit.errors import BadInput
from sweepkit.kit import Kit
from sweepkit.report.bands_page import bands_page, sentence_of_effects
from sweepkit.several_bands.following import (
    Followed,
    NamedDip,
    follow_dips,
)
from sweepkit.several_bands.from_sweeps import plan_bands
from sweepkit.several_bands.places import places_of
from sweepkit.several_bands.shared_dip import SharedDip
from sweepkit.several_bands.wire_drawn import WireWish
from sweepkit.several_bands.wrong_length import refuse_wrong_length
from sweepkit.sweep import Sweep
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.wire import EarlierState
from tests.conftest import ROOT
from tests.models.bands_study import true_figures
from tests.models.several_bands import load

WIRES = load(ROOT / "tests" / "data" / "models" / "end_fed_wide.npz")
F_HZ = np.linspace(3e6, 30.5e6, 401)
BANDS = ["40 m", "20 m", "15 m", "10 m"]


def swept(wire, length_m, f_hz=F_HZ, seed=1):
    dice = np.random.default_rng(seed)
    noise = 0.001 * (dice.normal(size=f_hz.size) + 1j * dice.normal(size=f_hz.size))
    directivity = 0.01 * np.exp(2j * np.pi * (dice.random() + f_hz / 2e7))
    return Sweep.from_gamma(f_hz, wire.gamma(f_hz, length_m) + directivity + noise)


def planned(sweeps, length_m, *, bands=BANDS, by="slide", aim="mean", earlier=(), kind="end-fed", **more):
    wish = WireWish(kind_named(kind), length_m, by, aim, Known())
    places = places_of(bands=bands, weights=more.pop("weights", ()))
    return plan_bands(
        sweeps,
        places,
        wish,
        earlier=earlier,
        kit=Kit(),
        measured_at="feedpoint",
        draws=more.pop("draws", 100),
        seed=1,
    )


def losses(wire, length_m, bands=BANDS):
    return [true_figures(wire, length_m, place)[0] for place in places_of(bands=bands)]


@pytest.fixture(scope="module")
def long_wire():
    wire = WIRES[0]
    length_m = 1.05 * wire.spec["wire_m"]
    return wire, length_m, planned([swept(wire, length_m)], length_m)


def test_one_wide_sweep_finds_the_length_for_all_bands(long_wire):
    wire, length_m, plan = long_wire
    assert plan.action == "shorten"
    then = np.mean(losses(wire, length_m + plan.moves[0].full_m.value))
    best = min(np.mean(losses(wire, each)) for each in np.linspace(0.88, 1.08, 41) * length_m)
    assert then - best < 0.05  # the trade hears no 0.05 dB; untouched it is 1.8 dB
    assert np.mean(losses(wire, length_m)) - best > 1.0


def test_every_band_is_foretold_within_its_interval_or_nearly(long_wire):
    wire, length_m, plan = long_wire
    for row, place in zip(plan.bands, places_of(bands=BANDS), strict=True):
        _, _, dip_hz = true_figures(wire, length_m + plan.moves[0].full_m.value, place)
        figure = row.after.dip_hz
        width = figure.high - figure.low
        assert figure.low - width < dip_hz < figure.high + width
        assert width < 0.05 * dip_hz
        assert row.effect == "gains"
        assert row.moved_by == ("wire",)


def test_the_other_aim_is_told(long_wire):
    _, _, plan = long_wire
    assert plan.other_aim is not None
    assert [band.name for band in plan.other_aim.bands] == BANDS
    assert plan.loss_least_db.value <= plan.loss_after_db.value < plan.loss_now_db.value


def test_a_wire_that_suits_all_is_left_with_the_change_told_all_the_same():
    wire = WIRES[0]
    best_m = min(
        np.linspace(0.94, 1.04, 41) * wire.spec["wire_m"], key=lambda each: np.mean(losses(wire, each))
    )
    plan = planned([swept(wire, best_m)], best_m)
    assert plan.action == "leave"
    assert plan.moves[0].m == 0.0
    assert abs(plan.moves[0].full_m.value) < 0.02 * best_m
    assert "whole change" not in str(bands_page(plan, (), pictures=False).tables)
    moved = replace(plan, action="shorten", moves=(replace(plan.moves[0], m=-0.1),))
    assert "whole change" in str(bands_page(moved, (), pictures=False).tables)


def test_a_cut_keeps_the_cap_and_folds_first(long_wire):
    wire, length_m, _ = long_wire
    plan = planned([swept(wire, length_m)], length_m, by="cut")
    move = plan.moves[0]
    assert move.by == "cut"
    assert 0.7 * move.full_m.value <= move.m < 0
    assert any("Fold the same length first" in caution for caution in plan.cautions)
    assert sentence_of_effects(plan).endswith(" after the whole change.")
    assert "after" not in sentence_of_effects(planned([swept(wire, length_m)], length_m, by="fold"))


def test_worst_is_never_worse_for_the_worst_place(long_wire):
    wire, length_m, mean = long_wire
    worst = planned([swept(wire, length_m)], length_m, aim="worst")
    assert worst.loss_after_db.value >= mean.loss_after_db.value
    assert max(losses(wire, length_m + worst.moves[0].full_m.value)) < max(losses(wire, length_m))


def test_a_place_near_no_half_wave_does_not_keep_the_others_from_the_worst_aim(long_wire):
    wire, length_m, _ = long_wire
    plan = planned([swept(wire, length_m)], length_m, aim="worst", bands=[*BANDS, "30 m"])
    alone = planned([swept(wire, length_m)], length_m, aim="worst")
    then_m, alone_m = (length_m + one.moves[0].full_m.value for one in (plan, alone))
    assert plan.action == alone.action == "shorten"
    assert max(losses(wire, then_m)) < max(losses(wire, alone_m)) + 0.1
    assert losses(wire, then_m, ["30 m"])[0] < losses(wire, length_m, ["30 m"])[0] + 0.1
    assert "30 m: no length surely betters it; the move is for the others." in plan.not_by_wire
    assert "but 30 m, which no length surely betters" in plan.reason


def test_a_sweep_per_band_does_as_well(long_wire):
    wire, length_m, wide = long_wire
    places = places_of(bands=BANDS)
    sweeps = [swept(wire, length_m, np.linspace(0.93 * p.low_hz, 1.05 * p.high_hz, 101)) for p in places]
    plan = planned(sweeps, length_m)
    assert plan.action == "shorten"
    then = np.mean(losses(wire, length_m + plan.moves[0].full_m.value))
    assert then - np.mean(losses(wire, length_m + wide.moves[0].full_m.value)) < 0.15


def test_a_place_that_was_not_swept_has_no_figures_but_a_sweep_to_take(long_wire):
    wire, length_m, _ = long_wire
    plan = planned([swept(wire, length_m, np.linspace(6e6, 16e6, 201))], length_m)
    rows = {row.name: row for row in plan.bands}
    assert rows["10 m"].now.best_swr.value is None
    assert "outside what was swept" in rows["10 m"].now.best_swr.reason
    assert rows["40 m"].after.best_swr.value < rows["40 m"].now.best_swr.value
    assert any(sweep.start_hz < 28e6 and sweep.stop_hz > 29.7e6 for sweep in plan.next_sweeps)
    assert "not-covered" in [finding.code for finding in plan.findings]


def test_a_band_that_no_half_wave_comes_near_counts_and_is_said_so(long_wire):
    wire, length_m, _ = long_wire
    plan = planned([swept(wire, length_m)], length_m, bands=[*BANDS, "30 m"])
    row = next(row for row in plan.bands if row.name == "30 m")
    assert row.moved_by == ()
    assert row.now.dip_hz.value is None
    assert any(text.startswith("30 m: not by the wire.") for text in plan.not_by_wire)


def test_sweeps_of_two_states_are_no_one_antenna(long_wire):
    wire, length_m, _ = long_wire
    plan = planned([swept(wire, length_m), swept(wire, 0.97 * length_m)], length_m)
    assert (plan.action, plan.moves) == ("cannot_say", ())
    assert ("sweeps-differ", "stop") in [(finding.code, finding.level) for finding in plan.findings]


def test_a_dipole_named_as_an_end_fed_stops():
    f_hz = np.linspace(3e6, 30e6, 401)

    def pair(f0_hz):  # series resonance of 50 ohm; two of them in parallel stand for a fan
        return 50 + 50j * 12 * (f_hz / f0_hz - f0_hz / f_hz)

    z = 1 / (1 / pair(7.0e6) + 1 / pair(14.1e6))
    plan = planned([Sweep.from_gamma(f_hz, (z - 50) / (z + 50))], 20.5, bands=["40 m", "20 m"])
    assert plan.action == "cannot_say"
    assert not plan.moves
    assert ("kind-unlikely", "stop") in [(finding.code, finding.level) for finding in plan.findings]


@pytest.mark.parametrize(
    ("factor", "words"),
    [(0.3048, "is that metres, not feet"), (2.0, "is that twice the wire"), (1 / 0.3048, "is that feet")],
)
def test_a_length_that_belongs_to_no_dip_is_asked(long_wire, factor, words):
    wire, length_m, _ = long_wire
    with pytest.raises(BadInput, match=words):
        planned([swept(wire, length_m)], factor * length_m, draws=20)


@pytest.mark.parametrize("number", range(len(WIRES)))
def test_no_true_length_is_asked_about(number):
    wire = WIRES[number]
    for share in (0.92, 1.08):
        length_m = share * wire.spec["wire_m"]
        f_hz = F_HZ[(F_HZ * share > 2.8e6) & (F_HZ * share < 33e6)]
        assert planned([swept(wire, length_m, f_hz)], length_m, draws=20).action != "cannot_say"


# Derived: kL + Zw w C = n pi - e, so that the winding's capacitance acts like up to 2 m of wire.
@pytest.mark.parametrize("length_m", [4.7, 6.6, 9.4, 19.9, 39.5])
@pytest.mark.parametrize("winding_f", [0.0, 3e-12, 6e-12, 12e-12])
def test_no_true_length_is_asked_about_whatever_its_box(length_m, winding_f):
    orders = np.arange(1, 9)
    dips_hz = (orders - 0.052) / 2 / (length_m / 299_792_458 + 560 * winding_f)
    dips_hz = dips_hz[dips_hz < 30e6].tolist()
    refuse_wrong_length(kind_named("end-fed"), length_m, dips_hz, [(3e6, 30.5e6)])


def test_earlier_sweeps_sharpen_every_band(long_wire):
    wire, length_m, _ = long_wire
    shorter_m = 0.96 * length_m
    state = EarlierState("first", length_m, False, "slide")
    alone = planned([swept(wire, shorter_m)], shorter_m)
    learned = planned([swept(wire, shorter_m)], shorter_m, earlier=[(state, swept(wire, length_m, seed=2))])
    assert learned.learned_from == 1

    def width(plan, k):
        figure = plan.sensitivities[k].hz_per_m
        return (figure.high - figure.low) / abs(figure.value)

    assert all(width(learned, k) < width(alone, k) for k in range(4))


def test_weights_pull(long_wire):
    wire, length_m, even = long_wire
    pulled = planned([swept(wire, length_m)], length_m, weights=["10 m=50"])
    assert losses(wire, length_m + pulled.moves[0].full_m.value)[3] <= (
        losses(wire, length_m + even.moves[0].full_m.value)[3] + 1e-3
    )


def test_without_draws_there_are_values_and_no_intervals(long_wire):
    wire, length_m, _ = long_wire
    plan = planned([swept(wire, length_m)], length_m, draws=0)
    assert plan.moves[0].full_m.low is None
    assert plan.bands[0].after.best_swr.low is None
    assert plan.moves[0].full_m.value is not None


def lone_dip(f_hz):
    return DipEnsemble(np.full(1, f_hz), np.full(1, 1.9), np.full(1, np.nan), np.full(1, np.nan))


def test_a_dip_of_the_coax_is_not_slid_into_a_band_as_the_wires_would_be():
    """10 m lies 15 % above it: shortened by a tenth, the wire would bring it there; half of that way is as likely."""
    n, change = 4000, np.full(4000, np.log(0.9))
    dice = np.random.default_rng(3)
    of_coax = NamedDip(lone_dip(24.6e6), 4, -0.9 * dice.beta(1.0, 1.5, n))
    followed = Followed((of_coax,), dice.normal(-0.95, 0.06, n))
    low, middle = np.quantile(followed.shift_at(28.5e6, change) / change, [0.025, 0.5])
    assert low > -0.95
    assert -0.75 < middle < -0.4
    still = Followed((NamedDip(lone_dip(24.6e6), 4, np.zeros(n)),), followed.elsewhere)
    wire = (
        followed.elsewhere * change
    )  # identity: on its way from the dip that stays to the wire 0.2 further up
    part = np.log(28.5 / 24.6) / (0.2 + wire)
    expected = wire * part**2 / (part**2 + (1 - part) ** 2)
    np.testing.assert_allclose(still.shift_at(28.5e6, change), expected)
    alone = Followed((), followed.elsewhere)
    np.testing.assert_allclose(alone.shift_at(28.5e6, change), followed.elsewhere * change)


def test_a_curve_goes_with_its_dip_and_in_between_with_both():
    """Identity: at a dip's new place as far as that, half way between two new places by the mean."""
    change = np.log(np.array([[0.92, 0.97, 1.05]]))
    low, high = NamedDip(lone_dip(14e6), 2, np.array([-0.9])), NamedDip(lone_dip(20e6), 3, np.array([-0.5]))
    followed = Followed((high, low), np.array([-0.95]))
    for dip in (low, high):
        f_hz = dip.dip.measured_hz * np.exp(dip.shift(change))[0]
        for k, each in enumerate(f_hz):
            assert followed.shift_at(each, change)[0, k] == pytest.approx(dip.shift(change)[0, k])
    k = 1
    middle_hz = np.sqrt(14e6 * 20e6 * np.exp(low.shift(change) + high.shift(change)))[0, k]
    assert followed.shift_at(middle_hz, change)[0, k] == pytest.approx(-0.7 * change[0, k])
    assert followed.near(14.5e6) is low
    assert followed.near(14.5e6, np.log(np.array([0.75]))) is None


def test_half_of_a_wire_is_asked_about():
    dips_hz = [6.653e6, 13.64e6, 20.53e6, 27.19e6]
    with pytest.raises(BadInput, match="is that half of it"):
        refuse_wrong_length(kind_named("end-fed"), 10.2, dips_hz, [(3e6, 30.5e6)])
    refuse_wrong_length(kind_named("end-fed"), 20.4, dips_hz, [(3e6, 30.5e6)])
    # one dip below the first half wave is one of the coax
    refuse_wrong_length(kind_named("end-fed"), 10.2, [7.3e6, 13.64e6, 27.19e6], [(3e6, 30.5e6)])


def test_a_wire_without_a_half_wave_near_any_place_is_left():
    wire = WIRES[0]
    length_m = wire.spec["wire_m"]
    plan = planned([swept(wire, length_m)], length_m, bands=["80 m", "30 m"], draws=50)
    assert plan.action == "leave"
    assert plan.moves[0].m == 0
    assert [each.moved_by for each in plan.bands] == [(), ()]
    said = next(finding for finding in plan.findings if finding.code == "rebuild")
    assert "no half wave of this wire comes near" in said.text
    assert "begin anew with about" in said.next_step


def test_a_half_wave_that_wire_and_coax_share():
    """Identity: two resonances that act on one another, for small and for large changes of the wire's alone."""
    coax, act = 0.06, 0.07

    def dips(wire):
        middle, half = (wire + coax) / 2, np.hypot((wire - coax) / 2, act)
        return np.array([middle - half, middle + half])

    beside = SharedDip(dips(0.0) ** 2 / act**2, dips(0.0) / act**2)
    np.testing.assert_allclose(beside.share, (dips(1e-6) - dips(-1e-6)) / 2e-6, rtol=1e-6)
    for change in (-0.12, -0.03, 0.0, 0.05, 0.11):
        np.testing.assert_allclose(beside.goes(np.full(2, change)), dips(change) - dips(0.0), atol=1e-12)
    changes = np.array([[-0.1, 0.02], [0.03, 0.1]])
    np.testing.assert_allclose(beside.goes(changes)[:, 1], [beside.goes(changes[:, 1])[k] for k in (0, 1)])


def test_a_dip_away_from_its_half_wave_follows_the_wire_less():
    """On wire models: to half of its slope a tenth away, to nearly all of it next to it, never past it."""
    dice = np.random.default_rng(5)
    shares = [
        SharedDip.drawn(np.full((1, 4000), away), dice).share[0] for away in (0.0, 0.03, 0.07, 0.1, 0.2)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.97
    assert 0.3 < shares[3] < 0.6
    both = SharedDip.drawn(np.array([np.full(4000, 0.14), np.full(4000, -0.15)]), dice).share[0]
    assert both > SharedDip.drawn(np.full((1, 4000), 0.14), dice).share[0] + 0.1


@pytest.mark.parametrize("number", [4, 5])
def test_slopes_of_dips_beside_a_resonance_of_the_coax(number):
    """Frozen wire models: every dip of two wires against coax follows within the interval of its slope."""
    wire = WIRES[number]
    length_m = 1.02 * wire.spec["wire_m"]
    f_hz = np.geomspace(3e6, 30.5e6, 4001)

    def dips_of(length_m):
        size = np.abs(wire.gamma(f_hz, length_m))
        found = np.flatnonzero((size[1:-1] < size[:-2]) & (size[1:-1] < size[2:]) & (size[1:-1] < 0.5)) + 1
        return f_hz[found], size[found]

    now_hz, size = dips_of(length_m)
    then_hz, _ = dips_of(0.985 * length_m)
    dips = [
        DipEnsemble(
            np.full(400, f), np.full(400, (1 + g) / (1 - g)), np.full(400, np.nan), np.full(400, np.nan)
        )
        for f, g in zip(now_hz, size, strict=True)
    ]
    followed = follow_dips(
        kind_named("end-fed"),
        length_m,
        dips,
        Known(),
        choke_m=wire.spec["shield_m"],
        members=400,
        dice=np.random.default_rng(3),
    )
    assert len(followed.dips) >= 4
    assert any(dip.moved_by != ("wire",) for dip in followed.dips)
    for dip in followed.dips:
        moved = np.log(then_hz / dip.dip.measured_hz)
        true = moved[np.argmin(np.abs(moved))] / np.log(0.985)
        if abs(true) > 2:  # a shallow dip of the coax may be gone
            continue
        low, high = np.quantile(dip.slope, (0.025, 0.975))
        assert low <= true <= high


def test_an_earlier_sweep_that_shows_no_change_is_left_out(long_wire):
    wire, length_m, plan = long_wire
    sweep = swept(wire, length_m)
    state = EarlierState("before", 1.02 * length_m, False, "slide")
    again = planned([sweep], length_m, earlier=[(state, sweep)])
    said = [finding for finding in again.findings if finding.code == "earlier-contradicts"]
    assert len(said) == 1
    assert said[0].text.startswith("before: ")
    assert again.learned_from == 0
    assert again.moves[0].full_m.value == pytest.approx(plan.moves[0].full_m.value, rel=0.1)
