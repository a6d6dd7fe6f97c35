"""Fans, linked and trap dipoles on circuits of our own."""

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.kit import Kit
from sweepkit.several_bands.fan_model import (
    LIKE_LEGS,
    OVERTONE,
    OVERTONE_ACTS,
    mixed_slopes,
    with_like_legs,
)
from sweepkit.several_bands.from_sweeps import plan_parts_from_sweeps
from sweepkit.several_bands.parts_told import PartsWish
from sweepkit.several_bands.places import places_of
from sweepkit.several_bands.trap_model import trap_slopes
from tests.models.parts_study import MIDDLE as TRAP_MIDDLE
from tests.models.parts_study import SETS, Legs, cut_long, sweeps_of, true_dip_hz
from tests.several_bands.circuits import MIDDLE, dip_hz, fan_z_ohm, linked_z_ohm, swept

F_HZ = np.linspace(5e6, 31e6, 601)
LONG = {"40 m": 1.03 * 0.2475 * 299.792458 / 7.1, "20 m": 1.02 * 0.2475 * 299.792458 / 14.175}
TARGETS = [f"{name}={MIDDLE[name]:.0f} Hz" for name in LONG]


def planned(kind, sweeps, lengths, *, by="slide", targets=TARGETS, draws=100, earlier=()):
    places = places_of(targets=targets)
    wish = PartsWish(kind, lengths, by, "mean")
    return plan_parts_from_sweeps(
        sweeps, places, wish, earlier=earlier, kit=Kit(), measured_at="feedpoint", draws=draws, seed=1
    )


def fan_dips(legs):
    return {
        name: dip_hz(lambda f: fan_z_ohm(f, legs), 0.9 * MIDDLE[name], 1.1 * MIDDLE[name]) for name in legs
    }


def test_one_round_brings_both_dips_of_a_fan_near_their_targets():
    plan = planned("fan", [swept(F_HZ, fan_z_ohm(F_HZ, LONG))], LONG)
    assert plan.action == "shorten"
    assert [move.part for move in plan.moves] == ["40 m", "20 m"]  # longest first
    legs = {move.part: LONG[move.part] + move.full_m.value for move in plan.moves}
    for name, f_hz in fan_dips(legs).items():
        assert f_hz == pytest.approx(MIDDLE[name], rel=0.004)  # 0.1 to 0.3 % by coupling that nobody tells
    for row in plan.bands:
        figure = row.after.dip_hz
        assert figure.low <= fan_dips(legs)[row.name] <= figure.high


def test_a_fan_where_it_is_to_be_is_left():
    legs = {name: length / (1.03 if name == "40 m" else 1.02) for name, length in LONG.items()}
    plan = planned("fan", [swept(F_HZ, fan_z_ohm(F_HZ, legs))], legs)
    assert plan.action == "leave"
    assert all(move.m == 0.0 and move.full_m.value is not None for move in plan.moves)


def test_pairs_are_cut_by_less_than_all_and_each_has_its_sweep():
    plan = planned("fan", [swept(F_HZ, fan_z_ohm(F_HZ, LONG))], LONG, by="cut")
    for move in plan.moves:
        assert 0.71 * move.full_m.value <= move.m < 0
        assert move.sweep_next.start_hz < MIDDLE[move.part] < move.sweep_next.stop_hz
        assert [each.band for each in move.disturbs] == [name for name in LONG if name != move.part]


def test_coupling_is_never_positive():
    plan = planned("fan", [swept(F_HZ, fan_z_ohm(F_HZ, LONG))], LONG)
    assert {(each.part, each.band) for each in plan.sensitivities} == {(a, b) for a in LONG for b in LONG}
    assert all(each.hz_per_m.high <= 0 for each in plan.sensitivities)


def test_linked_sections_go_from_the_inside_out_and_carry_the_inner_ones():
    inner_m, outer_m = 1.02 * 0.2415 * 299.792458 / 14.175, 1.03 * 0.2415 * 299.792458 / 7.1
    f40, f20 = np.linspace(6.5e6, 7.5e6, 101), np.linspace(13e6, 15e6, 101)
    sweeps = [swept(f40, linked_z_ohm(f40, outer_m)), swept(f20, linked_z_ohm(f20, inner_m))]
    plan = planned("linked", sweeps, {"20 m": inner_m, "40 m": outer_m})
    assert [move.part for move in plan.moves] == ["20 m", "40 m"]  # innermost first
    inner, outer = (move.full_m.value for move in plan.moves)
    assert inner_m + inner == pytest.approx(inner_m / 1.02, rel=0.004)
    assert outer_m + inner + outer == pytest.approx(outer_m / 1.03, rel=0.004)
    assert next(row for row in plan.bands if row.name == "40 m").moved_by == ("40 m", "20 m")


def test_an_end_fed_named_as_a_fan_stops():
    parallel = 1 / (1 / 60 + 1j / 60 * 12 * (F_HZ / 7e6 - 7e6 / F_HZ))
    second = 1 / (1 / 60 + 1j / 60 * 12 * (F_HZ / 14.1e6 - 14.1e6 / F_HZ))
    z = parallel + second  # two parallel resonances in series
    plan = planned("fan", [swept(F_HZ, z)], LONG)
    assert (plan.action, plan.moves) == ("cannot_say", ())
    assert ("kind-unlikely", "stop") in [(finding.code, finding.level) for finding in plan.findings]


@pytest.mark.parametrize(
    ("lengths", "targets", "words"),
    [
        ({"40 m": 10.6}, TARGETS, "20 m has no length"),
        ({"40 m": 10.6}, TARGETS[:1], "and one is named"),
        ({"40 m": 21.2, "20 m": 5.3}, TARGETS, "a leg of 21.20 m for 40 m belongs to no dip of a fan"),
        ({"40 m": 35.0, "20 m": 5.3}, TARGETS, "is that feet"),
    ],
)
def test_what_cannot_be_is_asked(lengths, targets, words):
    with pytest.raises(BadInput, match=words):
        planned("fan", [swept(F_HZ, fan_z_ohm(F_HZ, LONG))], lengths, targets=targets)


# Legs as lossy open lines with coil and capacitor of Q 80 to 200 between (tests/models/parts_study.py), sections off by
# up to 5 %, traps off their band by 2 %: one round of the whole change.
@pytest.mark.parametrize("number", [0, 3])
def test_a_trap_dipole_dips_where_it_is_said_after_one_round(number):
    dice = np.random.default_rng([number, 5])
    legs = Legs.drawn(dice)
    ends_m = cut_long(legs, SETS[number % len(SETS)], "trap", dice)
    sweeps, places = sweeps_of(legs, ends_m, "trap", dice)
    wish = PartsWish("trap", dict(ends_m), "slide", "mean")
    plan = plan_parts_from_sweeps(sweeps, places, wish, kit=Kit(), measured_at="feedpoint", draws=100)
    was = max(abs(true_dip_hz(legs, ends_m, "trap", name) / TRAP_MIDDLE[name] - 1) for name in ends_m)
    assert [move.part for move in plan.moves] == sorted(
        ends_m, key=lambda name: ends_m[name]
    )  # innermost first
    then = dict(ends_m)
    for move in plan.moves:  # a section carries all that lies further out
        then = {n: m + move.full_m.value * (ends_m[n] >= ends_m[move.part] - 1e-9) for n, m in then.items()}
    now = max(abs(true_dip_hz(legs, then, "trap", name) / TRAP_MIDDLE[name] - 1) for name in ends_m)
    assert now < 0.006
    assert now < was / 3
    assert (
        sum(
            row.after.dip_hz.low <= true_dip_hz(legs, then, "trap", row.name) <= row.after.dip_hz.high
            for row in plan.bands
        )
        >= len(ends_m) - 1
    )


# d ln f of each dip per metre of each section, against the circuit changed by 2 cm.
def test_what_a_metre_of_a_trap_dipole_is_worth():
    for number in (1, 3):
        dice = np.random.default_rng([number, 5])
        legs = Legs.drawn(dice)
        ends_m = cut_long(legs, SETS[number % len(SETS)], "trap", dice)
        inner = sorted(ends_m, key=lambda name: ends_m[name])
        dips = np.array([true_dip_hz(legs, ends_m, "trap", name) for name in inner])
        told_hz = np.array([TRAP_MIDDLE[name] for name in inner])
        slopes = trap_slopes(
            np.array([ends_m[n] for n in inner]), dips, told_hz, 300, np.random.default_rng(1)
        )
        for q, part in enumerate(inner):
            more = {n: m + 0.02 * (m >= ends_m[part] - 1e-9) for n, m in ends_m.items()}
            for p, name in enumerate(inner):
                true = np.log(true_dip_hz(legs, more, "trap", name) / dips[p]) / 0.02
                low, high = np.quantile(slopes[:, p, q], (0.01, 0.99))
                assert low - 0.003 <= true <= high + 0.003, (number, part, name)


def test_no_traps_that_show_such_dips_have_no_slopes():
    slopes = trap_slopes(
        np.array([5.0, 8.0]), np.array([20e6, 7e6]), np.array([14e6, 7e6]), 50, np.random.default_rng(1)
    )
    assert slopes is None


@pytest.mark.parametrize("number", [0, 2])
def test_links_leave_the_rest_of_the_wire_behind_a_gap(number):
    dice = np.random.default_rng([number, 5])
    legs = Legs.drawn(dice)
    ends_m = cut_long(legs, SETS[number], "linked", dice)
    sweeps, places = sweeps_of(legs, ends_m, "linked", dice)
    wish = PartsWish("linked", dict(ends_m), "slide", "mean")
    plan = plan_parts_from_sweeps(sweeps, places, wish, kit=Kit(), measured_at="feedpoint", draws=100)
    then = dict(ends_m)
    for move in plan.moves:
        then = {n: m + move.full_m.value * (ends_m[n] >= ends_m[move.part] - 1e-9) for n, m in then.items()}
    for row in plan.bands:
        true_hz = true_dip_hz(legs, then, "linked", row.name)
        assert row.after.dip_hz.low <= true_hz <= row.after.dip_hz.high
        assert true_hz == pytest.approx(TRAP_MIDDLE[row.name], rel=0.003)


# Two resonances o and p that act on one another have their dips where (x - o)(x - p) = g^2: the share is dx / do.
@pytest.mark.identity
@pytest.mark.parametrize("apart", [0.02, 0.045, 0.08])
def test_a_third_overtone_takes_the_share_that_its_equation_says(apart):
    g, step = OVERTONE_ACTS, 1e-6
    p = -apart  # the overtone lies at 0, the pair's dip below it

    def root(o):
        return ((o + p) - np.sqrt((o - p) ** 2 + 4 * g**2)) / 2

    share = (root(step) - root(-step)) / (2 * step)
    dip = root(0.0)
    hz = np.array([7.0e6, OVERTONE * 7.0e6 * np.exp(dip)])
    mixed = mixed_slopes(hz, hz, 4000, [[], []], np.random.default_rng(1))
    assert np.median(mixed[:, 1, 0]) == pytest.approx(share, rel=0.1)
    assert mixed[:, 0, 1].max() < 1e-3


@pytest.mark.identity
@pytest.mark.parametrize("apart", [0.05, 0.07])
def test_an_overtone_that_passes_a_dip_pushes_it_up_before_and_down_after(apart):
    g, past, own = OVERTONE_ACTS, 2 * apart, 0.01  # the overtone starts at 0, the pair moves a little

    def roots(o, p):
        return ((o + p) + np.array([-1, 1]) * np.sqrt((o - p) ** 2 + 4 * g**2)) / 2

    before, after = roots(0.0, apart)[1], roots(past, apart + own)[0]
    share = (after - before - own) / (past - own)
    assert share < 0
    hz = np.array([7.0e6, OVERTONE * 7.0e6 * np.exp(before)])
    wanted = np.array([7.0e6 * np.exp(past), OVERTONE * 7.0e6 * np.exp(after)])
    mixed = mixed_slopes(hz, wanted, 4000, [[], []], np.random.default_rng(1))
    assert np.median(mixed[:, 1, 0]) == pytest.approx(share, rel=0.1)


def test_an_overtone_that_passes_close_by_takes_no_more_than_its_own_way():
    hz = np.array([7.0e6, OVERTONE * 7.0e6 * np.exp(0.02)])
    wanted = np.array([7.2e6, OVERTONE * 7.2e6 * np.exp(-0.02)])
    mixed = mixed_slopes(hz, wanted, 4000, [[], []], np.random.default_rng(1))
    assert np.abs(mixed[:, 1, 0]).max() <= 1.0


def three_pairs(n=3000):
    """Dips 8, 2 and 3 % too low, the share that an overtone takes of the last one known to a third."""
    share = np.random.default_rng(2).uniform(0.2, 0.7, n)
    share[0] = np.median(share)
    matrix = np.zeros((n, 3, 3))
    matrix[:, 0, 0] = matrix[:, 1, 1] = -1.0
    matrix[:, 2, 0], matrix[:, 2, 2] = -share, share - 1
    wanted_hz = np.array([7.1e6, 14.175e6, 21.225e6])
    return matrix, np.log(wanted_hz * [0.92, 0.98, 0.97]) + np.zeros((n, 1)), wanted_hz


@pytest.mark.parametrize("off", [-0.02, 0.02])
def test_beside_an_overtone_the_leg_of_the_next_pair_tells_what_the_dip_does_not(off):
    """The middle of what the dips say is legs alike but for ``off``: both tell, and together they tell more."""
    matrix, ln_f, wanted_hz = three_pairs()
    length_m = np.array([10.6, 5.2, 3.5])

    def apart(matrix):
        step = np.linalg.solve(matrix, (np.log(wanted_hz) - ln_f)[..., np.newaxis])[..., 0]
        legs = np.log(length_m * wanted_hz) + step
        return (legs[:, 2] - legs[:, 1])[1:]

    length_m[2] *= np.exp(LIKE_LEGS + off - np.median(apart(matrix)))
    told = with_like_legs(matrix, ln_f, length_m, wanted_hz, np.random.default_rng(3))
    assert np.std(apart(told)) < 0.75 * np.std(apart(matrix))
    assert 0.1 < (np.median(apart(told)) - LIKE_LEGS) / off < 0.9
    assert np.array_equal(told[:, :2], matrix[:, :2])


def test_without_an_overtone_beside_it_a_dip_tells_its_pair_alone():
    matrix, ln_f, wanted_hz = three_pairs()
    matrix[:, 2] = [-0.02, -0.03, -0.95]
    told = with_like_legs(matrix, ln_f, np.array([10.6, 5.2, 3.5]), wanted_hz, np.random.default_rng(3))
    assert told is matrix


def test_an_earlier_sweep_of_a_fan_that_shows_no_change_is_left_out():
    sweep = swept(F_HZ, fan_z_ohm(F_HZ, LONG))
    plan = planned("fan", [sweep], LONG, earlier=[("40 m", 1.02 * LONG["40 m"], sweep)])
    assert [finding.code for finding in plan.findings] == ["earlier-contradicts"]
    assert plan.learned_from == 0
    without = planned("fan", [sweep], LONG)
    for one, two in zip(plan.moves, without.moves, strict=True):
        assert one.full_m.value == pytest.approx(two.full_m.value, rel=0.02)
