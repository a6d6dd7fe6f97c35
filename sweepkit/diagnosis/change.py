"""Did anything change? The difference of two sweeps against that of repeats.

Repeats differ along a few directions: the curve slides along frequency, its resistance scales, an offset adds,
the line loses a little more or is a little longer. The difference of two sweeps is split into these, each in
standard deviations of a repeat, and what is left over. Their sum of squares is the statistic.

Where A was swept again after B, the difference of the two A is the yardstick instead: B against their mean, so
that a slow drift cancels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.answer import Changed
from sweepkit.diagnosis.common_grid import Common
from sweepkit.diagnosis.spreads import Spread

STRETCHES = 40  # what is left over is averaged over so many stretches: noise goes, shape stays
MANY_POINTS = 150  # from here on three neighbours are hardly apart; common practice, no source
NEPER_PER_DB = np.log(10) / 20
# Statistic above which a change is said. For pairs the 99 % quantile of chi-squared with as many degrees of freedom
# as there are ways; for triples a ratio set by trial (seed 1). The rates are bounds on what other trials measured
# (python -m tests.diagnosis.false_alarms; docs/diagnose.md has the counts).
PAIR_LIMIT, PAIR_RATE = 16.8, 0.01
TRIPLE_LIMIT, TRIPLE_RATE = 25.0, 0.02
# The yardstick of a triple is never below this statistic: by chance the two A may agree too well.
LEAST_REPEAT = 0.1


@dataclass(frozen=True)
class Change:
    """What the test says."""

    changed: Changed  # whether the sweeps differ by more than repeats do
    false_alarm_rate: float  # share of pairs or triples without a change that it calls changed
    statistic: float  # what was found
    limit: float  # what it takes
    rms: float  # of the difference of the reflection
    returned: bool | None = None  # whether the second A is like the first; None without one


def compare_pair(common: Common, spread: Spread) -> Change:
    """Two sweeps against the usual spread of repeats."""
    difference = common.gamma[1] - common.gamma[0]
    statistic = _statistic(common, difference, spread, repeats=2.0)
    return Change(
        "yes" if statistic > PAIR_LIMIT else "no", PAIR_RATE, statistic, PAIR_LIMIT, _rms(difference)
    )


def compare_triple(common: Common, spread: Spread) -> Change:
    """A, B and A again: B against the mean of the two A, by the difference of the two.

    ``spread``: of one repeat; only its shape matters, unless the two A differ by more than repeats do.
    """
    first, middle, last = common.gamma
    difference = middle - (first + last) / 2
    across = _statistic(common, difference, spread, repeats=1.5)
    between = _statistic(common, last - first, spread, repeats=2.0)
    ratio = across / max(between, LEAST_REPEAT)
    returned = between <= PAIR_LIMIT
    yes = ratio > TRIPLE_LIMIT or not returned
    return Change("yes" if yes else "no", TRIPLE_RATE, ratio, TRIPLE_LIMIT, _rms(difference), returned)


def _rms(difference: ComplexArray) -> float:
    return float(np.sqrt(np.mean(np.abs(difference) ** 2)))


def _statistic(common: Common, difference: ComplexArray, spread: Spread, *, repeats: float) -> float:
    """Sum of squares of what repeats differ by, in standard deviations, and of what is left over.

    ``repeats`` is the variance of the difference over that of one repeat.
    """
    directions, sigmas = find_ways(common, spread)
    noise = np.maximum(common.noise, 1e-5)
    n = common.f_hz.size
    smooth = max(n // STRETCHES, 1)
    error = np.sqrt(noise**2 * repeats / 2 + repeats * spread.shape**2 * smooth)
    scaled = directions * sigmas[:, None] * np.sqrt(repeats) / error
    left_side, right_side = _real(scaled, common.has_phase), _real(difference / error, common.has_phase)
    within = left_side @ left_side.T + np.eye(sigmas.size)
    shares = np.linalg.solve(within, left_side @ right_side)
    rest = difference - shares @ (scaled * error)
    averaged = np.convolve(rest, np.full(smooth, 1 / smooth), mode="valid")
    power = np.mean(np.abs(averaged) ** 2) - np.mean(noise**2) * repeats / 2 / smooth
    return float(shares @ shares + max(power, 0.0) / (repeats * spread.shape**2))


def find_ways(common: Common, spread: Spread) -> tuple[ComplexArray, FloatArray]:
    """How the reflection answers to each way one repeat differs, (ways, n), and the standard deviation of each.

    Each in a unit of its own; a slide along frequency is the first.
    """
    f_hz, gamma = common.f_hz, common.gamma.mean(axis=0)  # half way: what bends cancels
    delay = np.exp(1j * (np.angle(common.turned) - np.angle(common.gamma[0])))
    slide = -np.gradient(_smoothed(gamma * delay), f_hz) * f_hz / delay
    root = np.sqrt(f_hz / f_hz.mean())
    one = np.ones(f_hz.size, dtype=np.complex128)
    loss = -2 * NEPER_PER_DB * root * gamma
    if not common.has_phase:
        absorbed = (1 - np.abs(gamma) ** 2) / 2
        ways = [slide, absorbed + 0j, one, loss]
        return np.array(ways), np.array([spread.f, spread.r, spread.offset, spread.loss_db])
    # A resistance acts at right angles to a reactance, which is what a slide changes, behind any line.
    resistance = 1j * np.exp(1j * np.angle(slide)) * (1 - np.abs(gamma) ** 2) / 2
    longer = -4j * np.pi * f_hz * gamma
    # What the antenna stores is a delay too and slides with it; how much of it was taken out nobody knows.
    delay_s = float(np.hypot(spread.delay_s, spread.f * common.delay_s))
    ways = [slide, resistance, one, 1j * one, loss, longer]
    sigmas = [spread.f, spread.r, spread.offset, spread.offset, spread.loss_db, delay_s]
    return np.array(ways), np.array(sigmas)


def _smoothed(gamma: ComplexArray) -> ComplexArray:
    """Mean of each point with its neighbours where points are many, so that noise does not pass for slope."""
    if gamma.size < MANY_POINTS:
        return gamma
    padded = np.concatenate([gamma[:1], gamma, gamma[-1:]])
    return np.asarray((padded[:-2] + padded[1:-1] + padded[2:]) / 3)


def _real(values: ComplexArray, has_phase: bool) -> FloatArray:
    """Real and imaginary part side by side along the last axis; the magnitude alone without phase."""
    return np.concatenate([values.real, values.imag], axis=-1) if has_phase else values.real
