"""A stand-in phase for a sweep of magnitudes, so that dips and SWR edges are fitted as with phase.

Round a dip the squared magnitude of a Möbius function is a ratio of two quadratics; taken apart again it
gives a Möbius function of the same magnitude. Which of its mirror images is the true one stays unknown, so
nothing but magnitudes and frequencies may be read off the result.
"""

from __future__ import annotations

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.moebius import LEAST_POINTS, REWEIGHTINGS, Moebius
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

FIT_SHARE = 0.7  # the fit takes the valley up to this share of its depth [-]


def borrow_phase(f_hz: FloatArray, magnitude: FloatArray, places: list[tuple[int, int, int]]) -> ComplexArray:
    """The measured magnitudes with a phase that runs on smoothly through every dip, shape (n,)."""
    phase = np.zeros(f_hz.shape)
    for sample, first, last in places:
        centre_hz = float(f_hz[sample])
        valley = np.arange(first, last + 1)
        window = _window(magnitude, sample, first, last)
        model = _from_power(_fit_power(moebius.coordinate(f_hz[window], centre_hz), magnitude[window] ** 2))
        turned = np.unwrap(np.angle(moebius.value(model, moebius.coordinate(f_hz[valley], centre_hz))))
        phase[valley] = turned - turned[0] + phase[first]
        phase[last + 1 :] = phase[last]
    borrowed: ComplexArray = magnitude * np.exp(1j * phase)
    return borrowed


def _window(magnitude: FloatArray, sample: int, first: int, last: int) -> IndexArray:
    """Points of the valley below a level, at least seven."""
    level = magnitude[sample] + FIT_SHARE * (min(magnitude[first], magnitude[last]) - magnitude[sample])
    below = np.flatnonzero(magnitude[first : last + 1] <= level) + first
    reach = max(int(below[-1] - below[0]) // 2, LEAST_POINTS // 2)
    return np.arange(max(0, sample - reach), min(magnitude.size, sample + reach + 1))


def _fit_power(u: FloatArray, power: FloatArray) -> tuple[float, float, float, float, float]:
    """Least squares of ``power (1 + b1 u + b2 u^2) = a0 + a1 u + a2 u^2``."""
    scale = float(np.max(np.abs(u)))
    v = u / scale
    columns = np.stack([np.ones_like(v), v, v * v, -power * v, -power * v * v], axis=1)
    weights = np.ones_like(v)
    for _ in range(REWEIGHTINGS):
        a0, a1, a2, b1, b2 = np.linalg.lstsq(columns * weights[:, None], power * weights, rcond=None)[0]
        weights = 1 / np.maximum(1 + b1 * v + b2 * v * v, 0.1)
    return float(a0), a1 / scale, a2 / scale**2, b1 / scale, b2 / scale**2


def _from_power(coefficients: tuple[float, float, float, float, float]) -> Moebius:
    """A Möbius function with this squared magnitude; a misfit that no such function has is clipped.

    Of the mirror images the one of a resistance below the reference: a constant error moves its dip more, and
    the interval must hold for both.
    """
    a0, a1, a2, b1, b2 = coefficients
    p0 = max(a0, 1e-12) ** 0.5
    p1_real = a1 / (2 * p0)
    p1_imag = max(a2 - p1_real**2, 0.0) ** 0.5
    q = complex(b1 / 2, max(b2 - b1**2 / 4, 0.0) ** 0.5)
    return Moebius(np.asarray(-p0 + 0j), np.asarray(complex(-p1_real, p1_imag)), np.asarray(q))
