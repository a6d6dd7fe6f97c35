"""A reflection curve between its points, without their noise: local fits over an interval, on every draw."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

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
    pieces = _pieces(curve, float(grid_hz[0]), float(grid_hz[-1])).fits
    starts = np.array([start for start, _ in pieces[1:]])
    owner = np.searchsorted(starts, grid_hz, side="right")
    models = [local.on(ensemble) for _, local in pieces]
    gamma = np.empty((models[0].q.shape[0], grid_hz.size), dtype=np.complex128)
    for k, (_, local) in enumerate(pieces):
        gamma[:, owner == k] = _on_grid(models[k], local, grid_hz[owner == k])
    if blended:
        edges_hz = np.array([grid_hz[0], *starts, grid_hz[-1]])
        for k, (left, right) in enumerate(pairwise(local for _, local in pieces)):
            both = _both_reach(grid_hz, edges_hz, k)
            share = _eased((grid_hz[both] - edges_hz[k + 1]) / _reach_hz(edges_hz, k))
            gamma[:, both] = (1 - share) * _on_grid(models[k], left, grid_hz[both]) + share * _on_grid(
                models[k + 1], right, grid_hz[both]
            )
    return gamma


def _on_grid(model: moebius.Moebius, local: LocalFit, grid_hz: FloatArray) -> ComplexArray:
    """A fit's draws at frequencies."""
    u = moebius.coordinate(grid_hz, local.centre_hz)
    return moebius.value(moebius.Moebius(*(c[:, np.newaxis] for c in model)), u)


def _reach_hz(edges_hz: FloatArray, k: int) -> float:
    """How far beyond the edge between pieces ``k`` and ``k + 1`` the windows of both reach. [Hz]"""
    return float((OVERLAP - 1) * np.diff(edges_hz)[k : k + 2].min() / 2)


def _both_reach(grid_hz: FloatArray, edges_hz: FloatArray, k: int) -> NDArray[np.bool_]:
    return np.asarray(np.abs(grid_hz - edges_hz[k + 1]) < _reach_hz(edges_hz, k))


def _eased(x: FloatArray) -> FloatArray:
    """From 0 at -1 to 1 at +1, level at both ends."""
    return np.asarray(0.5 + x * (3 - x**2) / 4)


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
