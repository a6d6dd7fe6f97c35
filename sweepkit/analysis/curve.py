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


def smooth_curve(curve: Measured, grid_hz: FloatArray, *, ensemble: Ensemble) -> ComplexArray:
    """Reflection on a grid of frequencies inside the sweep.

    Parameters
    ----------
    curve : Measured
        The measured curve.
    grid_hz : float array, shape (k,)
        Frequencies, rising, inside the sweep. [Hz]
    ensemble : Ensemble
        Reflection of every draw.

    Returns
    -------
    complex array, shape (draws, k)
        Reflection of every draw. [-]
    """
    pieces = _pieces(curve, float(grid_hz[0]), float(grid_hz[-1])).fits
    starts = np.array([start for start, _ in pieces[1:]])
    owner = np.searchsorted(starts, grid_hz, side="right")
    parts = []
    for k, (_, local) in enumerate(pieces):
        u = moebius.coordinate(grid_hz[owner == k], local.centre_hz)
        model = local.on(ensemble)
        parts.append(moebius.value(moebius.Moebius(*(c[:, np.newaxis] for c in model)), u))
    return np.concatenate(parts, axis=1)


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
