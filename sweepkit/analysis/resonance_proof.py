"""Could the points of a window be what an antenna does, swept too coarsely? A few resonances are tried."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.conversions import ComplexArray, FloatArray

PASSIVE = 1.02  # a resonance does not reflect more than this, directivity error of 40 dB twice over [-]
NARROWEST = (
    1e-4  # loaded half-width over frequency; Q of 5000, no antenna has it (common practice, no source)
)
REACH = 1.2  # poles within this many half-windows of the centre must be those of an antenna
BACKGROUND = 1.0  # poles at least as wide as half a window only bend it, either way
REWEIGHTINGS = 4
MOST_POLES = 5
BETWEEN = 128  # places at which passivity is asked


class Rational(NamedTuple):
    """``(p[0] + p[1] x + ...) / (1 + q[0] x + ...)`` in a coordinate that runs from -1 to 1 over the window."""

    p: ComplexArray
    q: ComplexArray

    def at(self, x: FloatArray) -> ComplexArray:
        """Reflection at a coordinate, shape of ``x``. [-]"""
        value: ComplexArray = np.polyval(self.p[::-1], x) / self._below(x)
        return value

    def _below(self, x: FloatArray) -> ComplexArray:
        below: ComplexArray = np.polyval(np.append(self.q[::-1], 1.0), x)
        return below


def is_resonance(f_hz: FloatArray, gamma: ComplexArray, *, suspects: int, misfit: float) -> bool:
    """Whether a few causal, passive resonances of believable width go through all points.

    A resonance on a background that is itself one resonance has two poles: what a coarse sweep of a narrow
    dip looks like. An error of single points wants a pole that is far too narrow, or none goes through.

    Parameters
    ----------
    f_hz : float array, shape (m,)
        Frequency of the window, rising, above 0. [Hz]
    gamma : complex array, shape (m,)
        Reflection without its common delay. [-]
    suspects : int
        How many of the points are suspect. Half as many resonances are tried beside a background, and one
        at least: more would go through errors of single points by chance.
    misfit : float
        Largest misfit of a point that is believed. [-]
    """
    centre_hz = float(f_hz[f_hz.size // 2])
    u = moebius.coordinate(f_hz, centre_hz)
    middle, half = (u[-1] + u[0]) / 2, (u[-1] - u[0]) / 2
    x = (u - middle) / half
    for poles in range(1, min(max(suspects // 2, 2), MOST_POLES) + 1):
        if f_hz.size < 2 * poles + 5:
            return False
        model = _fit(x, gamma, poles)
        if np.abs(model.at(x) - gamma).max() <= misfit:
            return _is_antenna(model, half, PASSIVE + misfit)
    return False


def _fit(x: FloatArray, gamma: ComplexArray, poles: int) -> Rational:
    """Linearised least squares, reweighted by the denominator (Sanathanan and Koerner 1963)."""
    powers = x[:, np.newaxis] ** np.arange(poles + 2)
    columns = np.concatenate([powers, -gamma[:, np.newaxis] * powers[:, 1 : poles + 1]], axis=1)
    model = Rational(np.zeros(poles + 2, complex), np.zeros(poles, complex))
    for _ in range(REWEIGHTINGS):
        weights = 1 / np.maximum(np.abs(model._below(x)), 1e-6)
        answer = np.linalg.lstsq(columns * weights[:, np.newaxis], gamma * weights, rcond=None)[0]
        found = np.asarray(answer, dtype=np.complex128)
        model = Rational(found[: poles + 2], found[poles + 2 :])
    return model


def _is_antenna(model: Rational, half: float, most: float) -> bool:
    """Poles near the window causal and not too narrow; no more than total reflection between points."""
    poles = np.roots(np.append(model.q[::-1], 1.0))
    near = poles[(np.abs(poles.real) <= REACH) & (np.abs(poles.imag) < BACKGROUND)]
    half_width = near.imag * half / 2  # the coordinate is twice the relative offset
    fine = np.linspace(-1.0, 1.0, BETWEEN)
    return bool((half_width >= NARROWEST).all() and np.abs(model.at(fine)).max() <= most)
