"""Verdicts: alike setups are called alike at the stated rate, and known shifts of the stated size are found."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from sweepkit.comparison import compare_setups
from sweepkit.comparison.differences import MOST_PAIRED, OTHERS, pair_verdict
from sweepkit.comparison.setups import JUDGED
from sweepkit.comparison.smallest import (
    LEVEL,
    POWER,
    Spread,
    freedom_of_guess,
    smallest_difference,
    spread_of_difference,
)
from sweepkit.comparison.spread import GUESS_DOUBT, Reerections
from tests.comparison.made import TRUE_SD, drawn, erections, rng, setup

TRIALS = 400


def verdict(comparison, pair=0):
    return pair_verdict(list(comparison.pairs.values())[pair])


@pytest.mark.parametrize("earlier", [0, 3, 8])
def test_alike_setups_are_called_different_in_one_of_twenty(earlier):
    """With the trade's spread where there are no earlier ones, with the antenna's own where there are."""
    dice = rng(earlier)
    wrong = 0
    for _ in range(TRIALS):
        pair = erections(dice, 2, "new")
        wrong += verdict(compare_setups(pair, background=erections(dice, earlier, "old"))) != "same"
    assert wrong <= binom.ppf(1 - 1e-4, TRIALS, LEVEL)
    assert wrong >= binom.ppf(1e-4, TRIALS, LEVEL) or earlier == 0, "a verdict that never errs is blind"


def test_sites_that_differ_as_sites_do_are_no_ghosts():
    dice = rng(5)
    wrong = 0
    for _ in range(TRIALS):
        site = {"dip_hz": 0.0124, "r_ohm": 0.237, "q": 0.237, "bandwidth_hz": 0.237, "dip_swr": 0.237}
        shift = {name: sd * dice.standard_normal() * np.sqrt(2) for name, sd in site.items()}
        a, b = setup("a", drawn(dice)), setup("b", drawn(dice, shift), facts={"site": "valley"})
        wrong += verdict(compare_setups([a, b])) != "same"
    assert wrong <= binom.ppf(1 - 1e-4, TRIALS, LEVEL)


@pytest.mark.parametrize("earlier", [0, 4])
def test_a_shift_of_the_stated_size_is_found_at_the_stated_power(earlier):
    """The size is stated for the true spread, known as well as that many setups tell it, or as the trade does."""
    dice = rng(10 + earlier)
    freedom = earlier - 1 if earlier else freedom_of_guess(GUESS_DOUBT)
    spread = spread_of_difference(Spread(TRUE_SD["dip_hz"], freedom), 1, 1)
    shift = {"dip_hz": smallest_difference(spread, level=LEVEL / len(JUDGED))}
    found = 0
    for _ in range(TRIALS):
        old = erections(dice, earlier, "old")
        pair = [setup("a", drawn(dice)), setup("b", drawn(dice, shift))]
        found += compare_setups(pair, background=old).differences[0].verdict == "different"
    assert found >= binom.ppf(1e-4, TRIALS, POWER)
    assert earlier == 0 or found <= binom.ppf(1 - 1e-4, TRIALS, POWER)


def test_own_spread_is_used_with_three_re_erections_and_not_with_two():
    dice = rng(3)
    pair = erections(dice, 2, "new")
    few = compare_setups(pair, background=erections(dice, 2, "old")).differences[0]
    enough = compare_setups(pair, background=erections(dice, 3, "old")).differences[0]
    assert "from practice" in few.why
    assert "own setups" in enough.why


@pytest.mark.identity
def test_what_is_judged_is_no_part_of_what_it_is_judged_by():
    dice = rng(8)
    setups = [
        *erections(dice, 4, "a"),
        *erections(dice, 3, "b", facts={"site": "valley"}),
        *erections(dice, 2, "c", facts={"length_m": 9.8}),
    ]
    values = list(dice.normal(0, 1, len(setups)))
    spread = Reerections(setups, values).spread(without=["a1", "b2", "c0"])
    left = {"a": [0, 2, 3], "b": [4, 5], "c": [8]}
    squares = sum(np.var(np.take(values, own)) * len(own) for own in left.values())
    freedom = sum(len(own) - 1 for own in left.values())
    assert spread.freedom == freedom
    assert spread.sd == pytest.approx(np.sqrt(squares / freedom), rel=1e-9)


@pytest.mark.identity
def test_each_of_many_is_held_against_the_mean_of_all_others():
    dice = rng(9)
    setups = erections(dice, MOST_PAIRED + 3)
    comparison = compare_setups(setups)
    assert len(comparison.pairs) == len(setups)
    logs = np.log([one.sweeps[0].planes["feedpoint"][0].dip_hz.value for one in setups])
    dips = np.exp(logs)
    for k, difference in enumerate(d for d in comparison.differences if d.quantity == "dip_hz"):
        assert (difference.a, difference.b) == (setups[k].id, OTHERS)
        others = np.exp(np.delete(logs, k).mean())
        assert difference.difference.value == pytest.approx(others - dips[k], rel=1e-9, abs=1e-3)


@pytest.mark.identity
def test_the_interval_of_a_difference_is_that_of_both_sides():
    """Zou and Donner 2008, eq. 3: with equal widths w it is the difference, sqrt(2) w to both sides."""
    a, b = setup("a", {"r_ohm": 50.0}, width=0.02), setup("b", {"r_ohm": 50.0}, width=0.02)
    found = next(d for d in compare_setups([a, b]).differences if d.quantity == "r_ohm").difference
    assert found.value == 0
    assert found.high == pytest.approx(np.sqrt(2), rel=1e-9)
    assert found.low == pytest.approx(-np.sqrt(2), rel=1e-9)


def test_sweeps_less_sure_than_setups_differ_say_so():
    wide = {"width": 0.2}
    comparison = compare_setups([setup("a", **wide), setup("b", **wide)])
    assert verdict(comparison) == "cannot_say"
    assert "finer sweep" in comparison.differences[0].why


def test_like_is_compared_with_like():
    """Two antennas at two sites: the second site is 1 % lower for both; one antenna was up there more often."""
    dice = rng(2)
    whip = {"antenna": "spit-whip", "kind": "loaded-whip"}
    lower = {"dip_hz": -0.01}
    setups = [
        *erections(dice, 4, "a"),
        *erections(dice, 4, "b", facts=whip, shift={"dip_hz": 0.3}, span=(6e6, 12e6)),
        *erections(dice, 1, "c", facts={"site": "valley"}, shift=lower),
        *erections(dice, 7, "d", facts=whip | {"site": "valley"}, shift={"dip_hz": 0.29}, span=(6e6, 12e6)),
    ]
    found = compare_setups(setups, by="site").differences[0]
    assert (found.a, found.b) == ("ridge", "valley")
    assert found.difference.value == pytest.approx(-0.01 * 7.1e6 * (1 + np.exp(0.3)) / 2, rel=0.4)
    unpaired = np.exp(0.3) * 7.1e6 - 7.1e6
    assert abs(found.difference.value) < 0.1 * unpaired


def test_a_site_is_judged_by_how_often_it_was_tried():
    dice = rng(6)
    shift = {"dip_hz": -0.012}
    once = [*erections(dice, 1, "a"), *erections(dice, 1, "b", shift=shift, facts={"site": "valley"})]
    often = [*erections(dice, 6, "a"), *erections(dice, 6, "b", shift=shift, facts={"site": "valley"})]
    assert verdict(compare_setups(once, by="site")) == "same"
    assert verdict(compare_setups(often, by="site")) == "different"


def test_every_judged_figure_is_there_for_every_pair():
    dice = rng(1)
    comparison = compare_setups(erections(dice, 3))
    assert [d.quantity for d in comparison.differences] == [q for q in JUDGED for _ in range(3)]
