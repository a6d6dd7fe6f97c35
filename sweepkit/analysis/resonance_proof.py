"""Could the points of a window be what an antenna does, swept too coarsely? A few resonances are tried."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.conversions import ComplexArray, FloatArray

PASSIVE = 1.02  # a resonance does not reflect more than this, directivity error of 40 dB twice over [-]
# Loaded half-width over frequency: Q of 5000, which no antenna has; common practice, no source
NARROWEST = 1e-4
REACH = 1.2  # poles within this many half-windows of the centre must be those of an antenna
BACKGROUND = 1.0  # poles at least as wide as half a window only bend it, either way
MOST_RESONANCES = 5
UNPAIRED = 1e-6  # distance from the real axis of a pole that stands alone, by rounding [-]
BETWEEN = 128  # places at which passivity is asked
REWEIGHTINGS = 4
SMALLEST_DENOMINATOR = 1e-6  # keeps a weight finite next to a pole


def is_resonance(
    f_hz: FloatArray, values: ComplexArray, *, suspects: int, misfit: FloatArray, has_phase: bool
) -> bool:
    """Whether a few causal, passive resonances of believable width go through all points of a window, shape (m,).

    A narrow dip in a coarse sweep is a resonance on a curved background. An error of single points wants a resonance
    that is far too narrow, or none goes through.

    ``values`` is the reflection without its common delay; without phase the square of its magnitude, where a
    resonance has a pair of poles, and nothing tells a causal one. Half as many resonances as suspects are tried, and
    two at least: more would go through errors of single points by chance. ``misfit`` is the largest of each point
    that is believed.
    """
    x, half = window_coordinate(f_hz)
    for resonances in range(1, min(max(suspects // 2, 2), MOST_RESONANCES) + 1):
        poles = resonances if has_phase else 2 * resonances
        if f_hz.size < 2 * poles + 5:
            return False
        model = fit_rational(x, values, above=poles + 1, below=poles)
        if (np.abs(model.at(x) - values) <= misfit).all():
            return _is_antenna(model, half, PASSIVE + float(misfit.max()), has_phase=has_phase)
    return False


def _is_antenna(model: Rational, half: float, most: float, *, has_phase: bool) -> bool:
    """Poles near the window causal and not too narrow; no more than total reflection between points."""
    poles = model.poles()
    near = poles[(np.abs(poles.real) <= REACH) & (np.abs(poles.imag) < BACKGROUND)]
    half_width = near.imag * half / 2  # the coordinate is twice the relative offset
    if not has_phase:  # a single pole without its mirror image is one too many, and cancelled by a zero
        paired = np.abs(near.imag) > UNPAIRED
        return bool((np.abs(half_width[paired]) >= NARROWEST).all())
    fine = np.linspace(-1.0, 1.0, BETWEEN)
    return bool((half_width >= NARROWEST).all() and np.abs(model.at(fine)).max() <= most)


class Rational(NamedTuple):
    """``(p[0] + p[1] x + ...) / (1 + q[0] x + ...)``."""

    p: ComplexArray
    q: ComplexArray

    def at(self, x: FloatArray) -> ComplexArray:
        """Value at a coordinate, shape of ``x``."""
        value: ComplexArray = np.polyval(self.p[::-1], x) / self.below(x)
        return value

    def below(self, x: FloatArray) -> ComplexArray:
        """Denominator at a coordinate, shape of ``x``."""
        below: ComplexArray = np.polyval(np.append(self.q[::-1], 1.0), x)
        return below

    def poles(self) -> ComplexArray:
        """Where the denominator is zero, in the coordinate."""
        return np.asarray(np.roots(np.append(self.q[::-1], 1.0)), dtype=np.complex128)


def window_coordinate(f_hz: FloatArray) -> tuple[FloatArray, float]:
    """The resonator coordinate scaled to run from -1 to 1 over a window, and the scale.

    That is half the width of the window in the resonator coordinate, about the relative width.
    """
    u = moebius.coordinate(f_hz, float(f_hz[f_hz.size // 2]))
    half = float(u[-1] - u[0]) / 2
    return (u - (u[-1] + u[0]) / 2) / half, half


def fit_rational(
    x: FloatArray, values: ComplexArray, *, above: int, below: int, trust: FloatArray | None = None
) -> Rational:
    """Linearised least squares, reweighted by the denominator (Sanathanan and Koerner 1963).

    ``x`` runs from -1 to 1, ``above`` and ``below`` are the degrees of numerator and denominator, ``trust`` is 0 to
    1.
    """
    powers = x[:, np.newaxis] ** np.arange(max(above, below) + 1)
    columns = np.concatenate(
        [powers[:, : above + 1], -values[:, np.newaxis] * powers[:, 1 : below + 1]], axis=1
    )
    believed = np.ones(x.shape) if trust is None else trust
    model = Rational(np.zeros(above + 1, dtype=complex), np.zeros(below, dtype=complex))
    for _ in range(REWEIGHTINGS):
        weights = believed / np.maximum(np.abs(model.below(x)), SMALLEST_DENOMINATOR)
        solved = np.linalg.lstsq(columns * weights[:, np.newaxis], values * weights, rcond=None)[0]
        found = np.asarray(solved, dtype=np.complex128)
        model = Rational(found[: above + 1], found[above + 1 :])
    return model
