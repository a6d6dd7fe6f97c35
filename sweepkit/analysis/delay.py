"""The common delay of a reflection curve: how much of its turning a length of line alone would explain.

Taking it out before any fit or interpolation leaves magnitudes as they are and makes the curve smooth enough
to be described by few points.
"""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray

TRIALS = 512  # delays tried over the range that the spacing can tell apart
MOST_STEPS = 128  # a denser sweep is judged at a wider spacing, where turning outweighs noise
EVEN = 1e-6  # steps that differ by less of themselves are the same [-]
LEAST_GAIN = 0.3  # share of the bending that a delay must explain to be believed


def smoothest_delay_s(f_hz: FloatArray, gamma: ComplexArray) -> float:
    """Delay that, taken out, leaves the least bending in the curve.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency, rising. [Hz]
    gamma : complex array, shape (n,)
        Reflection. [-]

    Returns
    -------
    float
        Round-trip delay, 0 or more; 0 for fewer than five points. [s]
    """
    if f_hz.size < 5:
        return 0.0
    stride = max(1, (f_hz.size - 1) // MOST_STEPS)
    middle = np.arange(stride, f_hz.size - stride, stride)
    before, after = f_hz[middle - stride] - f_hz[middle], f_hz[middle + stride] - f_hz[middle]
    trials_s = np.linspace(0.0, 0.5 / float(np.quantile(after, 0.5)), TRIALS, endpoint=False)
    bending = _bending(trials_s, gamma[middle - stride], gamma[middle], gamma[middle + stride], before, after)
    if bending.min() > (1 - LEAST_GAIN) * bending[0]:
        return 0.0
    return _refined(trials_s, bending)


def _bending(
    trials_s: FloatArray,
    left: ComplexArray,
    middle: ComplexArray,
    right: ComplexArray,
    before_hz: FloatArray,
    after_hz: FloatArray,
) -> FloatArray:
    """Mean square distance of the middle points from straight lines, for each delay taken out, shape (trials,).

    Where the steps are all the same it follows from inner products, whatever the number of points.
    """
    left = left * (after_hz / (after_hz - before_hz))  # linear interpolation at the middle
    right = right * (-before_hz / (after_hz - before_hz))
    if np.ptp(before_hz) > EVEN * after_hz[0] or np.ptp(after_hz) > EVEN * after_hz[0]:
        bent = left * np.exp(2j * np.pi * np.outer(trials_s, before_hz))
        bent += right * np.exp(2j * np.pi * np.outer(trials_s, after_hz))
        bent -= middle
        return np.asarray((bent.real**2 + bent.imag**2).mean(axis=1))
    back = np.exp(2j * np.pi * trials_s * before_hz[0])
    forth = np.exp(2j * np.pi * trials_s * after_hz[0])
    square = sum(float(np.vdot(part, part).real) for part in (left, middle, right))
    cross = (
        np.vdot(right, left) * back * forth.conj()
        - np.vdot(middle, left) * back
        - np.vdot(middle, right) * forth
    )
    return np.asarray((square + 2 * cross.real) / middle.size)


def without_delay(f_hz: FloatArray, gamma: ComplexArray, delay_s: float | FloatArray) -> ComplexArray:
    """The curve with a round-trip delay taken out.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency. [Hz]
    gamma : complex array, shape (..., n)
        Reflection. [-]
    delay_s : float or float array, broadcast against (..., n)
        Round-trip delay. [s]
    """
    turned: ComplexArray = gamma * np.exp(2j * np.pi * f_hz * delay_s)
    return turned


def _refined(trials_s: FloatArray, bending: FloatArray) -> float:
    """Lowest point of a parabola through the best trial and its neighbours."""
    best = int(np.argmin(bending))
    if best in (0, trials_s.size - 1):
        return float(trials_s[best])
    a, b, c = bending[best - 1 : best + 2]
    shift = 0.5 * (a - c) / (a - 2 * b + c) if a - 2 * b + c > 0 else 0.0
    return float(trials_s[best] + shift * (trials_s[1] - trials_s[0]))
