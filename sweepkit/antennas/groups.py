"""Which of several groups an antenna belongs to, as far as its dip tells: weights for the draws."""

from __future__ import annotations

import numpy as np

from sweepkit.antennas.kind import Seen
from sweepkit.antennas.trend import ALLOWANCE, FEATURES, Trend
from sweepkit.conversions import FloatArray

FLOOR = 1e-4  # what an antenna unlike every group still counts


def log_likelihood(trend: Trend, seen: Seen) -> FloatArray:
    """Logarithm of the density of a dip, its median over the draws, in a group; unknown features do not count."""
    values = np.array([_middle_of_logarithm(getattr(seen, name)) for name in FEATURES])
    known = np.isfinite(values)
    gap = (values - np.array(trend.middle))[known]
    covariance = np.array(trend.covariance) + np.diag([ALLOWANCE[name] ** 2 for name in FEATURES])
    covariance = covariance[np.ix_(known, known)]
    _, log_size = np.linalg.slogdet(covariance)
    distance = gap @ np.linalg.solve(covariance, gap)
    return np.asarray(-0.5 * (distance + log_size))


def _middle_of_logarithm(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(np.log(known))) if known.size else float("nan")


def shares(priors: dict[str, float], trends: dict[str, Trend], seen: Seen) -> dict[str, float]:
    """Share of the draws that each group gets, from its prior weight and the dip; those of weight 0 stay out."""
    names = [name for name, prior in priors.items() if prior > 0]
    if len(names) == 1:
        return {names[0]: 1.0}
    logs = np.array([float(log_likelihood(trends[name], seen)) for name in names])
    weights = np.array([priors[name] for name in names]) * (np.exp(logs - logs.max()) + FLOOR)
    return dict(zip(names, (weights / weights.sum()).tolist(), strict=True))


def deal(parts: dict[str, float], n: int) -> dict[str, FloatArray]:
    """Deal ``n`` draws to the groups by their shares, which sum to 1, spread evenly: group to mask, shape (n,)."""
    ends = np.cumsum(list(parts.values()))
    # The golden ratio's multiples fill the unit interval evenly, so that every run of draws has its mix.
    place = np.modf(np.arange(n) * 0.6180339887498949)[0]
    group = np.minimum(np.searchsorted(ends, place, side="right"), len(ends) - 1)
    return {name: group == number for number, name in enumerate(parts)}
