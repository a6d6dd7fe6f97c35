"""A reflection curve between its points, without their noise: local fits over an interval, on every draw."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.local import (
    SHRINK,
    UNKNOWNS,
    Ensemble,
    LocalFit,
    Measured,
    fit_window,
    is_described,
    lowest_by_chance,
    with_excess,
)
from sweepkit.analysis.moebius import LEAST_POINTS
from sweepkit.conversions import ComplexArray, FloatArray

OVERLAP = 1.3  # window over interval, so that no value is taken at the end of its window
WIDEST_WINDOW = 0.02  # half-width over frequency tried first: more points, less noise [-]


def smooth_curve(
    curve: Measured, grid_hz: FloatArray, *, ensemble: Ensemble, blended: bool = False
) -> ComplexArray:
    """Reflection on a grid of frequencies inside the sweep.

    Parameters
    ----------
    curve : Measured
        The measured curve.
    grid_hz : float array, shape (k,)
        Frequencies, rising, inside the sweep. [Hz]
    ensemble : Ensemble
        Reflection of every draw.
    blended : bool
        One fit goes over into the next where the points of both reach, so that a drawn curve has no steps.

    Returns
    -------
    complex array, shape (draws, k)
        Reflection of every draw. [-]
    """
    return fit_curve(curve, float(grid_hz[0]), float(grid_hz[-1]), ensemble=ensemble)(
        grid_hz, blended=blended
    )


class FittedCurve(NamedTuple):
    """Local fits side by side on every draw, to be read off as often as is wanted."""

    edges_hz: FloatArray
    fits: list[LocalFit]
    models: list[moebius.Moebius]

    def __call__(self, grid_hz: FloatArray, *, blended: bool = False) -> ComplexArray:
        """Reflection of every draw at rising frequencies between the ends, as of :func:`smooth_curve`."""
        owner = np.searchsorted(self.edges_hz[1:-1], grid_hz, side="right")
        gamma = np.empty((self.models[0].q.shape[0], grid_hz.size), dtype=np.complex128)
        for k in range(len(self.fits)):
            gamma[:, owner == k] = self._of_one(k, grid_hz[owner == k])
        if blended:
            for k in range(len(self.fits) - 1):
                self._blend(k, grid_hz, gamma)
        return gamma

    def _blend(self, k: int, grid_hz: FloatArray, gamma: ComplexArray) -> None:
        """Lead one fit into the next, in place, as far as the windows of both reach beyond the edge between them."""
        reach_hz = (OVERLAP - 1) * np.diff(self.edges_hz)[k : k + 2].min() / 2
        off = (grid_hz - self.edges_hz[k + 1]) / reach_hz
        both = np.abs(off) < 1
        share = 0.5 + off[both] * (3 - off[both] ** 2) / 4  # from 0 to 1, level at both ends
        left, right = (self._of_one(j, grid_hz[both]) for j in (k, k + 1))
        gamma[:, both] = (1 - share) * left + share * right

    def _of_one(self, k: int, grid_hz: FloatArray) -> ComplexArray:
        u = moebius.coordinate(grid_hz, self.fits[k].centre_hz)
        return moebius.value(moebius.Moebius(*(c[:, np.newaxis] for c in self.models[k])), u)


def fit_curve(curve: Measured, low_hz: float, high_hz: float, *, ensemble: Ensemble) -> FittedCurve:
    """The fits of :func:`smooth_curve` between two frequencies inside the sweep.

    Parameters
    ----------
    curve, ensemble
        As for :func:`smooth_curve`.
    low_hz, high_hz : float
        Ends. [Hz]
    """
    pieces = _pieces(curve, low_hz, high_hz).fits
    fits = [local for _, local in pieces]
    edges_hz = np.array([low_hz, *(start for start, _ in pieces[1:]), high_hz])
    return FittedCurve(edges_hz, fits, [local.on(ensemble) for local in fits])


class _Pieces(NamedTuple):
    """Where each piece starts, and its fit; their misfit over the noise, squared and summed, and its freedom."""

    fits: list[tuple[float, LocalFit]]
    square: float
    freedom: int


def _pieces(curve: Measured, low_hz: float, high_hz: float, *, widest_hz: float | None = None) -> _Pieces:
    """The interval halved where the model does not describe it and the halves are better by more than chance."""
    centre_hz, least_hz = (low_hz + high_hz) / 2, OVERLAP * (high_hz - low_hz) / 2
    half_width_hz = max(least_hz, WIDEST_WINDOW * centre_hz if widest_hz is None else widest_hz)
    while True:
        local = fit_window(curve, centre_hz, half_width_hz)
        if is_described(local) or half_width_hz <= least_hz:
            break
        half_width_hz = max(least_hz, SHRINK * half_width_hz)
    freedom = max(local.points.size - UNKNOWNS, 1)
    whole = _Pieces([(low_hz, with_excess(local, curve))], local.residual**2 * freedom, freedom)
    inside = np.count_nonzero((curve.f_hz >= low_hz) & (curve.f_hz <= high_hz))
    if is_described(local) or inside <= LEAST_POINTS:
        return whole
    low = _pieces(curve, low_hz, centre_hz, widest_hz=0.0)
    high = _pieces(curve, centre_hz, high_hz, widest_hz=0.0)
    square, freedom = low.square + high.square, low.freedom + high.freedom
    if np.sqrt(square / freedom) >= local.residual * lowest_by_chance(freedom):
        return whole
    return _Pieces([*low.fits, *high.fits], square, freedom)
