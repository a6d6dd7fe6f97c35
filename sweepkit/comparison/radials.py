"""What each added radial changed, and whether another one would still be seen.

Evidence, never an efficiency: falling R and a narrower dip as radials are added speak for less loss in the ground,
but a sweep cannot say how much power goes where.

Changes shrink with the number N of radials. The logarithm of a figure is taken as a + b g(N), with g between the two
limits of the physics: ln N, of wires so close that each further one takes its share, and 1/N, of wires that do not
feel one another. Powers of N between them are given weights by how well they fit; what they differ by is part of the
interval. Modelled whips (4 to 3, 2 and 8 radials: +1.9, +5.1, -3.3 %) lie between the two, near 1/sqrt(N).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.comparison.smallest import Spread, spread_of_difference, usual_limit
from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure

POWERS = (0.0, 0.25, 0.5, 0.75, 1.0)  # g(N) = -N**-p / p, ln N for 0
MESH = (np.arange(1, 200) - 0.5) / 199  # probabilities at which each power's answer enters the mixture


@dataclass(frozen=True)
class RadialStep:
    """Change between two numbers of radials.

    ``per_radial``: relative change for each added radial, 0.01 for 1 %. [-]
    """

    fewer: int
    more: int
    per_radial: Figure


@dataclass(frozen=True)
class RadialTrend:
    """How a figure answers to radials.

    ``steps``: between neighbouring numbers of radials.
    ``next_change``: expected relative change for one more radial than the most that were swept, or why there is
    none. [-]
    ``limit``: relative difference that two single setups of the usual spread exceed with a chance of 5 %. [-]
    ``visible``: whether that change would stand out above the limit.
    """

    steps: tuple[RadialStep, ...]
    next_change: Figure
    limit: float
    visible: Literal["yes", "no", "cannot_say"]


def describe_radials(
    radials: Sequence[int], values: FloatArray, *, spread: Spread, told_sd: FloatArray | None = None
) -> RadialTrend:
    """See what radials, 1 or more in each setup, did to the dip, R or Q; shapes (n,), NaN where there is none.

    ``spread`` is the usual one of the figure's logarithm from setup to setup; of reconnecting only, when nothing else
    changed. ``told_sd`` is that of each measurement, of the logarithm, where the spread does not hold it already.
    """
    count, plain = np.asarray(radials, dtype=np.float64), np.asarray(values, dtype=np.float64)
    told = np.zeros(plain.size) if told_sd is None else np.asarray(told_sd, dtype=np.float64)
    if count.size != plain.size or told.size != plain.size:
        raise ValueError(f"radials has {count.size} entries, values has {plain.size}; they must be as many")
    if np.any(count < 1) or np.any(plain <= 0):
        raise ValueError("numbers of radials must be 1 or more, and values above 0")
    good = np.isfinite(plain) & np.isfinite(told)
    count, logs, told = count[good], np.log(plain[good]), told[good]
    limit = usual_limit(spread_of_difference(spread, 1, 1))
    numbers = np.unique(count)
    if numbers.size < 2:
        none = Figure.none("all setups have the same number of radials; sweep with another number too")
        return RadialTrend((), none, math.expm1(limit), "cannot_say")
    means = np.array([logs[count == n].mean() for n in numbers])
    of_spread = np.array([spread.sd**2 / np.sum(count == n) for n in numbers])
    of_told = np.array([np.sum(told[count == n] ** 2) / np.sum(count == n) ** 2 for n in numbers])
    steps = tuple(
        _step(numbers[k : k + 2], means[k : k + 2], of_spread[k : k + 2], of_told[k : k + 2], spread.freedom)
        for k in range(numbers.size - 1)
    )
    low, value, high = _next_change(numbers, means, of_spread + of_told, spread.freedom)
    visible: Literal["yes", "no", "cannot_say"] = "cannot_say"
    if low > limit or high < -limit:
        visible = "yes"
    elif -limit < low and high < limit:
        visible = "no"
    shown = Figure(math.expm1(value), math.expm1(low), math.expm1(high))
    return RadialTrend(steps, shown, math.expm1(limit), visible)


def _step(
    numbers: FloatArray, means: FloatArray, of_spread: FloatArray, of_told: FloatArray, freedom: float
) -> RadialStep:
    """Change between two numbers of radials; a known measurement error adds to the freedom."""
    known, usual = float(of_told.sum()), float(of_spread.sum())
    total = known + usual
    own = freedom * (total / usual) ** 2 if usual > 0 else math.inf
    half = usual_limit(Spread(math.sqrt(total), own))
    added, change = float(numbers[1] - numbers[0]), float(means[1] - means[0])
    low, value, high = (math.expm1(x / added) for x in (change - half, change, change + half))
    return RadialStep(int(numbers[0]), int(numbers[1]), Figure(value, low, high))


def _next_change(
    numbers: FloatArray, means: FloatArray, variances: FloatArray, freedom: float
) -> tuple[float, float, float]:
    """Change of the logarithm for one more radial: low, middle and high of a mixture over the powers."""
    from scipy.special import ndtri, stdtrit

    weight = 1 / np.maximum(variances, 1e-20)
    unit = ndtri(MESH) if math.isinf(freedom) else stdtrit(freedom, MESH)
    answers, misfits = [], []
    for power in POWERS:
        g = _shape(np.append(numbers, numbers[-1] + 1), power)
        x = g[:-1] - np.average(g[:-1], weights=weight)
        slope = float(np.sum(weight * x * means) / np.sum(weight * x**2))
        left = means - np.average(means, weights=weight) - slope * x
        ahead = float(g[-1] - g[-2])
        answers.append(ahead * (slope + unit / math.sqrt(float(np.sum(weight * x**2)))))
        misfits.append(float(np.sum(weight * left**2)))
    worse = np.array(misfits) - min(misfits)
    share = np.exp(-worse / 2) if math.isinf(freedom) else (1 + worse / freedom) ** (-(freedom + 1) / 2)
    pooled, shares = np.concatenate(answers), np.repeat(share / share.sum() / MESH.size, MESH.size)
    order = np.argsort(pooled)
    low, middle, high = np.interp((0.025, 0.5, 0.975), np.cumsum(shares[order]), pooled[order])
    return float(low), float(middle), float(high)


def _shape(numbers: FloatArray, power: float) -> FloatArray:
    return np.asarray(np.log(numbers) if power == 0 else -(numbers**-power) / power)
