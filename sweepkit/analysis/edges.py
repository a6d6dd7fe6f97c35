"""Where the SWR passes a limit to both sides of a dip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import FIT_REACH, Dips
from sweepkit.analysis.fits import Ensemble, Fits, blocks_of_rows
from sweepkit.analysis.local import fits_near
from sweepkit.analysis.windows import Stack
from sweepkit.conversions import FloatArray, IndexArray

SETTLING = 3
# An edge so near the middle of its window, over the window's width, is in the middle [-]
SETTLED_SHARE = 0.03
SUSTAINED_SHARE = 0.1  # a crossing counts once the curve stays above for this share of the dip's own width


class Wanted(NamedTuple):
    """Edges to look for, outward from dips, where the reflection passes a magnitude; arrays of shape (rows,)."""

    dip: IndexArray
    limit_gamma: FloatArray
    is_high: NDArray[np.bool_]

    def rows(self, chosen: IndexArray) -> Wanted:
        """Some of them."""
        return Wanted(self.dip[chosen], self.limit_gamma[chosen], self.is_high[chosen])


class Edges(NamedTuple):
    """Ends of SWR bandwidths: the rows of what was wanted that have one, and the fits near them.

    The others are never below the limit, or run out of the sweep.
    """

    found: IndexArray
    fits: Fits
    never_below: NDArray[np.bool_]


def find_edges(stack: Stack, dips: Dips, wanted: Wanted) -> Edges:
    """Fit curves near the places where they pass limits, all of them side by side.

    ``wanted.dip`` is a row of ``dips``; given is each that there is a fit for, centred on the crossing.
    """
    f_hz, of = stack.f_hz, dips.rows(np.asarray(wanted.dip, dtype=np.intp))
    start_hz, never_below = _starts_hz(stack, of, wanted)
    found = np.flatnonzero((start_hz >= f_hz[0]) & (start_hz <= f_hz[-1]))
    halves_hz = FIT_REACH * of.reach_hz / 2
    fits = fits_near(stack, of.which[found], start_hz[found], halves_hz[found])
    active, left = np.arange(found.size), np.zeros(found.size, dtype=bool)
    for turn in range(SETTLING):
        now, rows = fits.rows(active), found[active]
        u = moebius.nearest(moebius.magnitude_crossings(now.model, wanted.limit_gamma[rows]), 0.0)
        crossing_hz = moebius.frequency(u, now.centre_hz)
        inside = (crossing_hz >= f_hz[0]) & (crossing_hz <= f_hz[-1])
        left[active] = ~inside
        on = inside & ~(np.abs(crossing_hz - now.centre_hz) < SETTLED_SHARE * now.width_hz)
        if turn == SETTLING - 1 or not on.any():
            break
        active, rows = active[on], rows[on]
        fits = fits.replaced(active, fits_near(stack, of.which[rows], crossing_hz[on], halves_hz[rows]))
    return Edges(found[~left], fits.rows(~left), never_below)


def _starts_hz(stack: Stack, dips: Dips, wanted: Wanted) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Where the first fit of each is centred, NaN where nowhere; whether the dip is never below its limit."""
    model = dips.fits.model
    bottom_u = moebius.smallest_magnitude(model)
    never_below = ~(np.abs(moebius.value(model, bottom_u)) < wanted.limit_gamma)
    start_hz = _crossings_of_fit_hz(dips, wanted, bottom_u)
    on_curve = np.flatnonzero(np.isnan(start_hz) & ~never_below)
    if on_curve.size:
        start_hz[on_curve] = _first_crossings_hz(stack, dips.rows(on_curve), wanted.rows(on_curve))
    return np.where(never_below, np.nan, start_hz), never_below


def edge_frequencies(
    edges: Edges, limit_gamma: ArrayLike, stack: Stack, ensembles: Sequence[Ensemble] | None
) -> FloatArray:
    """The crossings of each edge's limit of the reflection on every draw, shape (edges, draws) [Hz].

    NaN where a draw does not cross near the measured crossing.
    """
    fits, limit = edges.fits, np.broadcast_to(np.asarray(limit_gamma), edges.found.shape)
    nominal = moebius.nearest(moebius.magnitude_crossings(fits.model, limit), 0.0)[:, np.newaxis]
    model = fits.on(stack, ensembles)
    u = moebius.nearest(moebius.magnitude_crossings(model, limit[:, np.newaxis]), nominal)
    reach = 2 * np.abs(fits.u_ends).max(axis=0)[:, np.newaxis]
    return moebius.frequency(np.where(np.abs(u) <= reach, u, np.nan), fits.centre_hz[:, np.newaxis])


def _crossings_of_fit_hz(dips: Dips, wanted: Wanted, bottom_u: FloatArray) -> FloatArray:
    """The crossings where they lie inside the window of the dip's own fit, else NaN."""
    roots = moebius.magnitude_crossings(dips.fits.model, wanted.limit_gamma)
    bottom = bottom_u[:, np.newaxis]
    low_u, high_u = dips.fits.u_ends[..., np.newaxis]
    outward = np.where(wanted.is_high[:, np.newaxis], roots > bottom, roots < bottom)
    inside = np.where(outward & (roots >= low_u) & (roots <= high_u), roots, np.nan)
    return moebius.frequency(moebius.nearest(inside, bottom_u), dips.fits.centre_hz)


def _first_crossings_hz(stack: Stack, dips: Dips, wanted: Wanted) -> FloatArray:
    """First samples outward that start a sustained stay above the limit, or one to the end of the valley; else NaN."""
    points = np.maximum(dips.fits.windows.length - 1, 1)
    step_hz = np.where(dips.fits.width_hz > 0, dips.fits.width_hz / points, 1.0)
    sustained = np.maximum(1, np.round(SUSTAINED_SHARE * dips.reach_hz / step_hz))
    length = np.where(wanted.is_high, dips.last - dips.sample, dips.sample - dips.first)
    way = np.where(wanted.is_high, 1, -1)
    crossings_hz = np.full(length.size, np.nan)
    for some in blocks_of_rows(length.size, int(length.max()) + 1):
        place = np.arange(int(length[some].max()) + 1)
        reached = np.minimum(place, length[some, np.newaxis])  # the last one stands for all beyond
        outward = dips.sample[some, np.newaxis] + way[some, np.newaxis] * reached
        magnitude = stack.magnitude[dips.which[some, np.newaxis], outward]
        above = magnitude > wanted.limit_gamma[some, np.newaxis]
        ends = np.where(above, np.inf, place)
        ends = np.minimum.accumulate(ends[:, ::-1], axis=1)[:, ::-1]
        stays = above & (ends - place >= sustained[some, np.newaxis])
        first = np.take_along_axis(outward, np.argmax(stays, axis=1)[:, np.newaxis], axis=1)[:, 0]
        crossings_hz[some] = np.where(stays.any(axis=1), stack.f_hz[first], np.nan)
    return crossings_hz
