"""A ratio of polynomials through the points of a window: what one or several resonances look like."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.conversions import ComplexArray, FloatArray

REWEIGHTINGS = 4
SMALLEST_DENOMINATOR = 1e-6  # keeps a weight finite next to a pole


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
