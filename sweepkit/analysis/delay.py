"""The common delay of a reflection curve: how much of its turning a length of line alone would explain.

Taking it out before any fit or interpolation leaves magnitudes as they are and makes the curve smooth enough
to be described by few points.
"""

from __future__ import annotations

import numpy as np

from sweepkit.analysis.quantile import quantile
from sweepkit.conversions import ComplexArray, FloatArray

TRIALS = 512  # delays tried over the range that the spacing can tell apart
MOST_STEPS = 128  # a denser sweep is judged at a wider spacing, where turning outweighs noise
EVEN = 1e-6  # steps that differ by less of themselves are the same [-]
LEAST_GAIN = 0.3  # share of the bending that a delay must explain to be believed


def smoothest_delay_s(f_hz: FloatArray, gamma: ComplexArray) -> float:
    """Round-trip delay, 0 or more, without which the curve bends least; 0 for fewer than five points."""
    return float(smoothest_delays_s(f_hz, gamma[np.newaxis])[0])


def smoothest_delays_s(f_hz: FloatArray, gamma: ComplexArray) -> FloatArray:
    """The same for each of several curves, shape (sweeps, n) in and (sweeps,) out. [s]"""
    if f_hz.size < 5:
        return np.zeros(gamma.shape[0])
    stride = max(1, (f_hz.size - 1) // MOST_STEPS)
    middle = np.arange(stride, f_hz.size - stride, stride)
    before, after = f_hz[middle - stride] - f_hz[middle], f_hz[middle + stride] - f_hz[middle]
    trials_s = np.linspace(0.0, 0.5 / quantile(after, 0.5), TRIALS, endpoint=False)
    left, here, right = (gamma[:, middle + shift] for shift in (-stride, 0, stride))
    bending = _bending(trials_s, left, here, right, before, after)
    seen = bending.min(axis=1) <= (1 - LEAST_GAIN) * bending[:, 0]
    return np.where(seen, _refined(trials_s, bending), 0.0)


def _bending(
    trials_s: FloatArray,
    left: ComplexArray,
    middle: ComplexArray,
    right: ComplexArray,
    before_hz: FloatArray,
    after_hz: FloatArray,
) -> FloatArray:
    """Mean square distance of the middle points from straight lines, (sweeps, trials), for each delay taken out.

    Where the steps are all the same it follows from inner products, whatever the number of points.
    """
    left = left * (after_hz / (after_hz - before_hz))  # linear interpolation at the middle
    right = right * (-before_hz / (after_hz - before_hz))
    if np.ptp(before_hz) > EVEN * after_hz[0] or np.ptp(after_hz) > EVEN * after_hz[0]:
        back, forth = (np.exp(2j * np.pi * np.outer(trials_s, step_hz)) for step_hz in (before_hz, after_hz))
        bent = (one[0] * back + one[2] * forth - one[1] for one in zip(left, middle, right, strict=True))
        return np.stack([(each.real**2 + each.imag**2).mean(axis=1) for each in bent])
    back, forth = (np.exp(2j * np.pi * trials_s * steps_hz[0]) for steps_hz in (before_hz, after_hz))
    square = sum((part.real**2 + part.imag**2).sum(axis=1) for part in (left, middle, right))
    right_left, middle_left, middle_right = (
        np.einsum("sm,sm->s", one.conj(), other)[:, np.newaxis]
        for one, other in ((right, left), (middle, left), (middle, right))
    )
    cross = right_left * (back * forth.conj()) - middle_left * back - middle_right * forth
    return np.asarray((square[:, np.newaxis] + 2 * cross.real) / middle.shape[1])


def without_delay(f_hz: FloatArray, gamma: ComplexArray, delay_s: float | FloatArray) -> ComplexArray:
    """The curve, shape (..., n), with a round-trip delay (broadcast) taken out."""
    turned: ComplexArray = gamma * np.exp(2j * np.pi * f_hz * delay_s)
    return turned


def _refined(trials_s: FloatArray, bending: FloatArray) -> FloatArray:
    """Lowest point of a parabola through the best trial of each row and its neighbours."""
    best = np.argmin(bending, axis=1)
    inner = np.clip(best, 1, trials_s.size - 2)
    rows = np.arange(best.size)
    a, b, c = (bending[rows, inner + k] for k in (-1, 0, 1))
    bend = a - 2 * b + c
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where((bend > 0) & (inner == best), 0.5 * (a - c) / bend, 0.0)
    return np.asarray(trials_s[best] + shift * (trials_s[1] - trials_s[0]))
