"""A reflection curve between its points, without their noise: local fits over an interval, on every draw."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.fits import UNKNOWNS, Ensemble, Fits, fit_windows, is_described
from sweepkit.analysis.local import SHRINK, lowest_by_chance
from sweepkit.analysis.moebius import LEAST_POINTS
from sweepkit.analysis.windows import Measured, Stack
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

OVERLAP = 1.3  # window over interval, so that no value is taken at the end of its window
BLOCK_VALUES = 2**16  # draws × frequencies that are computed at once
WIDEST_WINDOW = 0.02  # half-width over frequency tried first: more points, less noise [-]


def smooth_curve(
    curve: Measured, grid_hz: FloatArray, *, ensemble: Ensemble, blended: bool = False
) -> ComplexArray:
    """Reflection of every draw on a rising grid of frequencies inside the sweep, shape (draws, k).

    ``blended``: one fit goes over into the next where the points of both reach, so that a drawn curve has no steps.
    """
    return fit_curve(curve, float(grid_hz[0]), float(grid_hz[-1]), ensemble=ensemble)(
        grid_hz, blended=blended
    )


class FittedCurve(NamedTuple):
    """Local fits side by side on every draw, to be read off as often as is wanted."""

    edges_hz: FloatArray
    centres_hz: FloatArray
    models: list[moebius.Moebius]

    def __call__(self, grid_hz: FloatArray, *, blended: bool = False) -> ComplexArray:
        """Reflection of every draw at rising frequencies between the ends, as of :func:`smooth_curve`."""
        owner = np.searchsorted(self.edges_hz[1:-1], grid_hz, side="right")
        gamma = np.empty((self.models[0].q.shape[0], grid_hz.size), dtype=np.complex128)
        for k in range(len(self.models)):
            gamma[:, owner == k] = self._of_one(k, grid_hz[owner == k])
        if blended:
            for k in range(len(self.models) - 1):
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
        u = moebius.coordinate(grid_hz, self.centres_hz[k])
        return moebius.value(moebius.Moebius(*(c[:, np.newaxis] for c in self.models[k])), u)


def fit_curve(curve: Measured, low_hz: float, high_hz: float, *, ensemble: Ensemble) -> FittedCurve:
    """The fits of :func:`smooth_curve` between two frequencies inside the sweep."""
    stack = curve.alone
    pieces = _pieces(stack, np.array([0]), np.array([low_hz]), np.array([high_hz]))
    fits, starts_hz = pieces.fits.rows(pieces.rows[0]), pieces.start_hz[pieces.rows[0]]
    drawn = fits.on(stack, [ensemble])
    models = [moebius.Moebius(*(part[k] for part in drawn)) for k in range(starts_hz.size)]
    return FittedCurve(np.append(starts_hz, high_hz), fits.centre_hz, models)


class CurveValues:
    """Reflection of every draw on a grid, as an array of shape (draws, k) or (k,) that is computed where asked for.

    ``model`` are the pieces, coefficients of shape (pieces, draws) or (pieces,), ``owner`` which of them holds at each
    point, ``u`` where there, and ``turn`` what the value there is turned by, or nothing.
    """

    def __init__(
        self, model: moebius.Moebius, owner: IndexArray, u: FloatArray, turn: ComplexArray | None
    ) -> None:
        self.shape = (*model.q.shape[1:], u.size)
        self._model, self._owner, self._u, self._turn = model, owner, u, turn

    def first(self) -> CurveValues:
        """Of the measured curve alone, likewise."""
        model = moebius.Moebius(*(part[:, 0] for part in self._model))
        return CurveValues(model, self._owner, self._u, self._turn)

    def __getitem__(self, key: Any) -> ComplexArray:
        rows, columns = key if isinstance(key, tuple) else (key, slice(None))
        if len(self.shape) == 1:
            rows, columns = None, key
        at = np.arange(self._u.size)[columns]
        parts = [part[self._owner[at]] for part in self._model]
        if rows is not None:
            parts = [part[..., rows] for part in parts]
        along = (...,) + (np.newaxis,) * (
            parts[0].ndim - at.ndim
        )  # draws last, until they are turned to the front
        value = moebius.value(moebius.Moebius(*parts), self._u[at][along])
        if self._turn is not None:
            value *= self._turn[at][along]
        return np.ascontiguousarray(value.T)


class SmoothCurves(NamedTuple):
    """Curves on grids of their own, one after the other: pieces, (pieces, draws), which holds at a point, and where."""

    model: moebius.Moebius
    owner: IndexArray
    u: FloatArray

    def values(self, here: slice, turn: ComplexArray | None) -> CurveValues:
        """Those of some points, turned by so much."""
        return CurveValues(self.model, self.owner[here], self.u[here], None if turn is None else turn[here])

    def magnitudes(self) -> FloatArray:
        """Of every draw at all points, shape (draws, k): roots of ratios of real quadratics. [-]"""
        powers = moebius.squared_magnitudes(self.model)
        draws = self.model.q.shape[1]
        if draws == 1:
            return _root_of_ratio([[part[self.owner, 0] for part in each] for each in powers], self.u)[
                np.newaxis
            ]
        size = np.empty((draws, self.u.size))
        ends = [0, *(np.flatnonzero(np.diff(self.owner)) + 1).tolist(), self.owner.size]
        together = max(1, BLOCK_VALUES // draws)
        for first, end in pairwise(ends):
            own = [[part[self.owner[first], :, np.newaxis] for part in each] for each in powers]
            for start in range(first, end, together):
                here = slice(start, min(start + together, end))
                size[:, here] = _root_of_ratio(own, self.u[here])
        return size


def _root_of_ratio(powers: Sequence[Sequence[FloatArray]], u: FloatArray) -> FloatArray:
    """Square root of the ratio of two quadratics, lowest power first, in place: many draws."""
    above, below = (c2 * u for _, _, c2 in powers)
    for values, (c0, c1, _) in zip((above, below), powers, strict=True):
        values += c1
        values *= u
        values += c0
    with np.errstate(divide="ignore", invalid="ignore"):  # a pole gives inf, NaN stays NaN
        above /= below
    np.maximum(above, 0.0, out=above)  # by rounding alone
    return np.asarray(np.sqrt(above, out=above))


def smooth_curves(
    stack: Stack,
    which: Sequence[int],
    grids_hz: Sequence[FloatArray],
    *,
    ensembles: Sequence[Ensemble] | None,
) -> SmoothCurves:
    """The same as :func:`smooth_curve` for curves of a stack, each on a grid of its own, one after the other.

    ``which`` is the curve of each grid; without ensembles the measured one alone.
    """
    ends_hz = np.array([(grid_hz[0], grid_hz[-1]) for grid_hz in grids_hz])
    pieces = _pieces(stack, np.array(which, dtype=np.intp), *ends_hz.T)
    model = pieces.fits.on(stack, ensembles)
    piece_of = [
        rows[0] if rows.size == 1 else rows[np.searchsorted(pieces.start_hz[rows[1:]], grid_hz, side="right")]
        for rows, grid_hz in zip(pieces.rows, grids_hz, strict=True)
    ]
    owner = np.concatenate(
        [np.broadcast_to(of, grid_hz.size) for of, grid_hz in zip(piece_of, grids_hz, strict=True)]
    )
    u = moebius.coordinate(np.concatenate(grids_hz), pieces.fits.centre_hz[owner])
    return SmoothCurves(model, owner, u)


class _Pieces(NamedTuple):
    """Fits side by side, where each starts, and which are those of each interval, in rising order.

    ``square`` is their misfit over the noise, squared and summed over an interval, and ``freedom`` its freedom.
    """

    fits: Fits
    start_hz: FloatArray
    rows: list[IndexArray]
    square: FloatArray
    freedom: IndexArray


def _pieces(
    stack: Stack, which: IndexArray, low_hz: FloatArray, high_hz: FloatArray, *, widest: float = WIDEST_WINDOW
) -> _Pieces:
    """Intervals halved where the model does not describe them and the halves are better by more than chance."""
    fits = _whole(stack, which, low_hz, high_hz, widest)
    freedom = np.maximum(fits.windows.length - UNKNOWNS, 1)
    whole = _Pieces(
        fits, low_hz, [np.array([k]) for k in range(which.size)], fits.residual**2 * freedom, freedom
    )
    inside = np.diff(
        [np.searchsorted(stack.f_hz, low_hz), np.searchsorted(stack.f_hz, high_hz, side="right")], axis=0
    )
    cut = np.flatnonzero(~is_described(fits) & (inside[0] > LEAST_POINTS))
    if not cut.size:
        return whole
    middle_hz = (low_hz[cut] + high_hz[cut]) / 2
    low = _pieces(stack, which[cut], low_hz[cut], middle_hz, widest=0.0)
    high = _pieces(stack, which[cut], middle_hz, high_hz[cut], widest=0.0)
    square, freedom = low.square + high.square, low.freedom + high.freedom
    better = np.sqrt(square / freedom) < fits.residual[cut] * lowest_by_chance(freedom)
    return _with_halves(whole, cut[better], np.flatnonzero(better), low, high)


def _with_halves(whole: _Pieces, cut: IndexArray, halved: IndexArray, low: _Pieces, high: _Pieces) -> _Pieces:
    """Some intervals by their halves."""
    rows, square, freedom = list(whole.rows), whole.square.copy(), whole.freedom.copy()
    after_low = whole.fits.which.size
    after_high = after_low + low.fits.which.size
    for k, half in zip(cut.tolist(), halved.tolist(), strict=True):
        rows[k] = np.concatenate([low.rows[half] + after_low, high.rows[half] + after_high])
        square[k] = low.square[half] + high.square[half]
        freedom[k] = low.freedom[half] + high.freedom[half]
    fits = Fits.joined(whole.fits, low.fits, high.fits)
    return _Pieces(fits, np.concatenate([whole.start_hz, low.start_hz, high.start_hz]), rows, square, freedom)


def _whole(stack: Stack, which: IndexArray, low_hz: FloatArray, high_hz: FloatArray, widest: float) -> Fits:
    """One fit for each interval, from a wide window down to little more than itself while that is not described."""
    centre_hz, least_hz = (low_hz + high_hz) / 2, OVERLAP * (high_hz - low_hz) / 2
    half_hz = np.maximum(least_hz, widest * centre_hz)
    fits = fit_windows(stack, which, centre_hz, half_hz)
    while (rows := np.flatnonzero(~is_described(fits) & (half_hz > least_hz))).size:
        half_hz[rows] = np.maximum(least_hz[rows], SHRINK * half_hz[rows])
        fits = fits.replaced(rows, fit_windows(stack, which[rows], centre_hz[rows], half_hz[rows]))
    return fits
