"""Is a group of suspects an error of single points: off a smooth curve round them, and no antenna's doing."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.resonance_proof import Rational, fit_rational, is_resonance, window_coordinate
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

SURROUNDINGS = 5  # believed points to each side of a group, at least
SURROUNDINGS_WITHOUT_PHASE = 7  # a resonance then has twice as many unknowns
STRAY_SHARE = 0.15  # of the points round a group may be off without being suspect: its weak ends
WEAK_ENDS = 2  # and lie within so many points and the length of the group of it
LEAST_ABOVE = 0.2  # without phase, points that all lie lower may be a dip; so many must lie higher
MOST_ROUND_IT = 1.2  # a curve round a group that reflects more between its points is none [-]
LEAP_SHARE = 0.5  # of its largest error a burst changes by so much from one point to the next


class Curve(NamedTuple):
    """A sweep to be judged, shape (n,)."""

    f_hz: FloatArray  # rising, above 0
    # reflection without its common delay; the square of its magnitude where there is no phase
    values: ComplexArray
    has_phase: bool  # which of the two
    misfit: FloatArray  # distance from a curve beyond which each point is off


def find_burst(curve: Curve, first: int, last: int, clean: IndexArray) -> tuple[IndexArray, float] | None:
    """The points in and next to a group of suspects, first to last, that are off, and the largest error.

    ``clean``: points that are not suspect, nor next to a suspect. ``None`` where an antenna may be the reason, or
    nothing can be said.
    """
    length = last - first + 1
    least = SURROUNDINGS if curve.has_phase else SURROUNDINGS_WITHOUT_PHASE
    for reach in sorted({least, length // 2, length}, reverse=True):
        if reach < least:
            return None
        around = _around(clean, first, last, reach)
        if around.size < 2 * SURROUNDINGS:
            return None
        near = (around >= first - length - WEAK_ENDS) & (around <= last + length + WEAK_ENDS)
        start, stop = min(int(around[0]), first - 1), max(int(around[-1]), last + 1) + 1
        window = np.arange(max(0, start), min(curve.f_hz.size, stop))
        error = _error(curve, window, around, near)
        rough = np.abs(error[around - window[0]]) > curve.misfit[around]
        if rough.mean() <= STRAY_SHARE and not rough[~near].any():
            return None if is_antenna(curve, window, length) else _points_off(curve, window, error)
    return None


def _around(clean: IndexArray, first: int, last: int, reach: int) -> IndexArray:
    """The nearest believed points to both sides; more of one side where the other runs out."""
    before, after = clean[clean < first], clean[clean > last]
    missing_before, missing_after = max(reach - before.size, 0), max(reach - after.size, 0)
    return np.concatenate(
        [before[max(0, before.size - reach - missing_after) :], after[: reach + missing_before]]
    )


def _error(curve: Curve, window: IndexArray, around: IndexArray, near: NDArray[np.bool_]) -> ComplexArray:
    """What the points of a window differ from one resonance through those round the group.

    A few of these near the group may stray and are left out.
    """
    x, _ = window_coordinate(curve.f_hz[window])
    inside = around - window[0]
    x_around, values = x[inside], curve.values[around]
    weights = np.ones(around.shape)
    most = int(STRAY_SHARE * around.size)
    while True:
        model = _one_resonance(x_around, values, weights, has_phase=curve.has_phase)
        off = np.abs(model.at(x_around) - values) / curve.misfit[around] * weights * near
        worst = int(np.argmax(off))
        if off[worst] <= 1 or np.count_nonzero(weights == 0) >= most:
            error: ComplexArray = curve.values[window] - model.at(x)
            return error
        weights[worst] = 0.0


def _one_resonance(x: FloatArray, values: ComplexArray, trust: FloatArray, *, has_phase: bool) -> Rational:
    degree = 1 if has_phase else 2
    return fit_rational(x, values, above=degree, below=degree, trust=trust)


def is_antenna(curve: Curve, window: IndexArray, suspects: int) -> bool:
    """Whether resonances that an antenna may have go through all points of a window, so many of them suspect."""
    return is_resonance(
        curve.f_hz[window],
        curve.values[window],
        suspects=suspects,
        misfit=curve.misfit[window],
        has_phase=curve.has_phase,
    )


def _points_off(curve: Curve, window: IndexArray, error: ComplexArray) -> tuple[IndexArray, float] | None:
    """Points that are off, where they begin or end by a leap and not as a curve leaves its model."""
    size = np.abs(error)
    largest, off = float(size.max()), size > curve.misfit[window]
    if not off.any() or np.abs(np.diff(error)).max() < LEAP_SHARE * largest:
        return None
    if np.abs(curve.values[window] - error).max() > MOST_ROUND_IT:
        return None
    points = window[off]
    if not curve.has_phase and _mostly_below(curve.values.real, points):
        return None
    return points, largest


def _mostly_below(values: FloatArray, points: IndexArray) -> bool:
    """Whether nearly all points lie below a straight line across them, as those of a dip do."""
    before, after = max(int(points[0]) - 1, 0), min(int(points[-1]) + 1, values.size - 1)
    line = np.interp(points, [before, after], [values[before], values[after]])
    return bool((values[points] > line).mean() < LEAST_ABOVE)
