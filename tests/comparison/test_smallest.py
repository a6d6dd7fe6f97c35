"""Limits, power and numbers of setups, against another library and against simulation."""

import math

import numpy as np
import pytest

from sweepkit.comparison.smallest import (
    Spread,
    freedom_of_guess,
    setups_needed,
    smallest_difference,
    spread_of_difference,
    usual_limit,
)


# Source: Student's t, two-sided 5 %, any table: 12.706 for 1, 2.776 for 4, 1.960 for infinity (from memory).
@pytest.mark.derived
@pytest.mark.parametrize(("freedom", "t"), [(1, 12.706), (4, 2.776), (math.inf, 1.960)])
def test_limit_is_students_t(freedom, t):
    assert usual_limit(Spread(1.0, freedom)) == pytest.approx(t, abs=0.0006)


# Source: JCGM 100:2008, G.4.2: a guess uncertain by 25 % has 8 degrees of freedom (from memory).
@pytest.mark.derived
def test_freedom_of_a_guess():
    assert freedom_of_guess(0.25) == 8


# Source: Cohen 1988, table 2.4.1: d = 0.5, power 0.80, 5 % two-sided: 64 in each group; d = 0.8: 26 (from memory).
@pytest.mark.derived
@pytest.mark.parametrize(("d", "n"), [(0.5, 64), (0.8, 26)])
def test_setups_needed_of_a_published_table(d, n):
    assert setups_needed(Spread(1.0, 2 * n - 2), d) == n


@pytest.mark.parametrize("n", [2, 3, 6, 20])
@pytest.mark.parametrize("power", [0.8, 0.9])
def test_smallest_difference_against_a_general_library(n, power):
    from scipy.stats import nct, t

    delta = smallest_difference(spread_of_difference(Spread(1.0, 2 * n - 2), n, n), power=power)
    shift, limit = delta / math.sqrt(2 / n), t.ppf(0.975, 2 * n - 2)
    there = nct.sf(limit, 2 * n - 2, shift) + nct.cdf(-limit, 2 * n - 2, shift)
    assert there == pytest.approx(power, abs=1e-6)


@pytest.mark.parametrize("n", [2, 3, 5, 10])
def test_false_alarms_of_one_new_setup_against_n_are_five_per_cent(n):
    dice = np.random.default_rng(20 + n)
    setups = dice.normal(size=(40_000, n + 1))
    sd = setups[:, :n].std(axis=1, ddof=1)
    limit = usual_limit(spread_of_difference(Spread(1.0, n - 1), 1, n))
    alarms = np.mean(np.abs(setups[:, n] - setups[:, :n].mean(axis=1)) > limit * sd)
    assert alarms == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / 40_000))


def test_shared_outings_cancel_and_others_do_not():
    setup, outing = Spread(0.004, 6), Spread(0.013, 3)
    shared = spread_of_difference(setup, 3, 3)
    apart = spread_of_difference(setup, 3, 3, outing=outing)
    assert shared.sd == pytest.approx(0.004 * math.sqrt(2 / 3))
    assert apart.sd == pytest.approx(math.hypot(shared.sd, 0.013 * math.sqrt(2)))
    assert 3 < apart.freedom < 4


def test_no_number_of_setups_is_an_answer():
    assert setups_needed(Spread(1.0, 3), 0.001) is None


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_a_spread_is_checked_when_made(bad):
    with pytest.raises(ValueError, match="sd is"):
        Spread(bad)
