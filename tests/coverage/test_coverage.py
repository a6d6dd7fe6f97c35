"""A short coverage study: the intervals hold as often as they claim, and are not vague.

The full study is ``python -m tests.coverage.study --n 2000``; its table stands in docs/uncertainty.md.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.coverage.antennas import series
from tests.coverage.study import FLAT_SWR, Case, find_truths, run_study

CHANCE = 1e-4  # of failing although every interval holds in 95 % of sweeps, per figure
# Median widths of the full study times 1.5: frozen, against winning by being vague.
WIDEST = {
    "dip frequency": 0.18,
    "SWR at the dip": 0.092,
    "R at the dip": 6.0,
    "SWR edge, low": 0.28,
    "SWR edge, high": 0.30,
    "SWR bandwidth": 6.6,
    "resonance": 0.21,
    "R at resonance": 6.3,
    "Q": 2.2,
}


@pytest.fixture(scope="module")
def scores():
    return run_study(130, seed=3, draws=400)


def test_every_dip_is_seen(scores):
    assert scores["(dips not seen)"].missing == 0


@pytest.mark.parametrize("figure", sorted(WIDEST))
def test_intervals_hold(scores, figure):
    from scipy.stats import binom

    inside = scores[figure].inside
    assert len(inside) > 100
    # Edges at three limits of one dip share its errors: counted as one sweep each.
    independent = len(inside) if "SWR edge" not in figure and "bandwidth" not in figure else len(inside) // 3
    least = binom.ppf(CHANCE, independent, 0.95) / independent
    assert np.mean(inside) >= least


@pytest.mark.frozen
@pytest.mark.parametrize("figure", sorted(WIDEST))
def test_intervals_are_not_vague(scores, figure):
    assert np.median(scores[figure].width) < WIDEST[figure]


@pytest.mark.identity
def test_the_truth_of_a_series_resonator_is_the_formula():
    # R = 40 ohm, Q = 10: the dip is the resonance, SWR 50/40; within SWR s the reactance stays within x(s).
    truth = find_truths(Case("series", series(40.0, 10.0, 14e6), 12e6, 16e6), (2.0,))[0]
    assert truth.f_hz == pytest.approx(14e6, rel=1e-8)
    assert truth.swr == pytest.approx(1.25, rel=1e-8)
    assert truth.resonance == pytest.approx((14e6, 40.0, 10.0), rel=1e-6)
    level = 1 / 3
    x_ohm = np.sqrt((level**2 * 90**2 - 10**2) / (1 - level**2))  # |(R-50+jX)/(R+50+jX)| = 1/3
    u = x_ohm / 400
    assert truth.edges_hz[2.0] == pytest.approx(
        [14e6 * (np.sqrt(1 + u * u / 4) - u / 2), 14e6 * (np.sqrt(1 + u * u / 4) + u / 2)], rel=1e-7
    )
    assert truth.swr > FLAT_SWR
