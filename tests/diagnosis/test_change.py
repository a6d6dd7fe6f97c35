"""Did anything change: never where nothing did, always where it plainly did."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import chdtri

from sweepkit.diagnosis.change import PAIR_LIMIT, compare_pair, compare_triple
from sweepkit.diagnosis.common_grid import find_common
from sweepkit.diagnosis.spreads import usual_spread
from sweepkit.sweep import Sweep
from tests.coverage.antennas import series
from tests.diagnosis.false_alarms import HOWS, outcomes, view_of
from tests.diagnosis.modelled import swept

SPREAD = usual_spread("joined-anew", is_whip=False)
F_HZ = np.linspace(6.6e6, 7.6e6, 201)


def common_of(*sweeps):
    found = find_common([view_of(sweep) for sweep in sweeps])
    assert found is not None
    return found


def resonator(f0_hz=7.1e6, r_ohm=40.0, q=15.0, f_hz=F_HZ, seed=0, **known):
    return swept(series(r_ohm, q, f0_hz), f_hz, np.random.default_rng(seed), **known)


@pytest.mark.identity
def test_a_sweep_does_not_differ_from_itself():
    sweep = resonator()
    assert compare_pair(common_of(sweep, sweep), SPREAD).statistic == 0


@pytest.mark.identity
def test_the_limit_of_a_pair_is_the_99_percent_quantile_of_six_ways():
    assert pytest.approx(chdtri(6, 0.01), abs=0.05) == PAIR_LIMIT


@pytest.mark.parametrize("how", HOWS)
@pytest.mark.parametrize("count", [2, 3])
def test_unchanged_sweeps_are_called_changed_no_more_often_than_said(how, count):
    from scipy.stats import binom

    found = outcomes(how, count, 80, seed=5)
    yes = sum(change.changed == "yes" for change in found)
    assert yes <= binom.ppf(1 - 1e-4, len(found), found[0].false_alarm_rate)


@pytest.mark.parametrize(
    "other",
    [{"f0_hz": 7.23e6}, {"r_ohm": 48.0}, {"q": 20.0}],
    ids=["dip 1.8 % up", "R a fifth up", "Q a third up"],
)
def test_what_is_well_beyond_repeats_is_called_changed(other):
    assert compare_pair(common_of(resonator(), resonator(seed=1, **other)), SPREAD).changed == "yes"


def test_what_is_within_repeats_is_not():
    other = resonator(f0_hz=7.1e6 * 1.0007, r_ohm=40.6, seed=1)
    assert compare_pair(common_of(resonator(), other), SPREAD).changed == "no"


def test_another_directivity_error_is_within_reconnecting_but_a_large_one_is_not():
    small, large = (resonator(seed=1, error=size + 0j) for size in (0.01, 0.06))
    assert compare_pair(common_of(resonator(), small), SPREAD).changed == "no"
    assert compare_pair(common_of(resonator(), large), SPREAD).changed == "yes"


def test_a_change_smaller_than_reconnecting_is_seen_by_a_b_a():
    first, moved, again = resonator(seed=1), resonator(7.1e6 * 1.0012, r_ohm=41.2, seed=2), resonator(seed=3)
    assert compare_pair(common_of(first, moved), SPREAD).changed == "no"
    triple = compare_triple(common_of(first, moved, again), SPREAD)
    assert (triple.changed, triple.returned) == ("yes", True)


def test_a_slow_drift_cancels_in_a_b_a():
    drifting = [resonator(7.1e6 * (1 + 0.0006 * step), seed=step) for step in range(3)]
    assert compare_triple(common_of(*drifting), SPREAD).changed == "no"


def test_an_a_that_does_not_come_back_is_said():
    sweeps = resonator(seed=1), resonator(7.3e6, seed=2), resonator(7.3e6, seed=3)
    triple = compare_triple(common_of(*sweeps), SPREAD)
    assert (triple.changed, triple.returned) == ("yes", False)


def test_put_up_again_allows_more():
    other = resonator(f0_hz=7.1e6 * 1.009, seed=1)
    common = common_of(resonator(), other)
    assert compare_pair(common, SPREAD).changed == "yes"
    assert compare_pair(common, usual_spread("put-up-again", is_whip=False)).changed == "no"


def test_another_grid_is_no_change():
    other = resonator(f_hz=np.linspace(6.5e6, 7.5e6, 157), seed=1)
    common = common_of(resonator(), other)
    assert common.f_hz[-1] <= 7.5e6
    assert compare_pair(common, SPREAD).changed == "no"


def test_magnitudes_alone_show_a_change():
    bare = [Sweep.from_magnitude(F_HZ, resonator(f0).gamma_abs) for f0 in (7.1e6, 7.1e6, 7.2e6)]
    assert compare_pair(common_of(bare[0], bare[1]), SPREAD).changed == "no"
    assert compare_pair(common_of(bare[0], bare[2]), SPREAD).changed == "yes"


def test_sweeps_without_common_frequencies_have_no_common_part():
    other = resonator(14.2e6, f_hz=np.linspace(13e6, 15e6, 201))
    assert find_common([view_of(resonator()), view_of(other)]) is None


def test_the_order_of_a_pair_does_not_matter():
    one, other = resonator(), resonator(7.13e6, seed=1)
    there, back = (compare_pair(common_of(*pair), SPREAD).statistic for pair in ((one, other), (other, one)))
    assert back == pytest.approx(there, rel=0.05)


@pytest.mark.parametrize(("ratio", "changed"), [(0.9, "no"), (1.1, "yes")])
def test_a_triple_is_called_changed_from_its_limit_on(ratio, changed):
    """The statistic goes with the square of a small shift, so one can be set just below and just above the limit."""
    first, again = resonator(noise=1e-6), resonator(7.1e6 * 1.0005, noise=1e-6, seed=1)

    def triple(shift):
        return compare_triple(
            common_of(first, resonator(7.1e6 * (1.00025 + shift), noise=1e-6, seed=2), again), SPREAD
        )

    tried = triple(0.001)
    wanted = 0.001 * np.sqrt(ratio * 25 / tried.statistic)  # 25: docs/diagnose.md
    found = triple(wanted)
    assert found.statistic == pytest.approx(ratio * 25, rel=0.05)
    assert found.changed == changed
