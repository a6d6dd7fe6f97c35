"""How wide the window of a local fit is: narrowed only where that lowers the misfit by more than chance."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.analysis.fits import UNKNOWNS, Fits, LocalFit, described, fit_windows
from sweepkit.analysis.moebius import LEAST_POINTS
from sweepkit.analysis.windows import Measured, Stack
from sweepkit.conversions import FloatArray, IndexArray

TIGHTEST_POINTS = 5  # the last resort where seven points already bend more than the model can
SHRINK = 0.7  # from one window to the next smaller one
LOWER_BY_CHANCE = -3.1  # standard deviations: a misfit is lower by chance in 1 of 1000 ...
SURELY_MISFIT = 5.0  # ... but no noise is mistaken by such a factor, and above it 1 in 6 is enough
LOWER_ALREADY = -1.0


def fit_near(curve: Measured, centre_hz: float, half_width_hz: float) -> LocalFit:
    """Fit round a centre, with the window narrowed while that lowers the misfit by more than chance.

    The widest window in the series that the model describes, or that none smaller is better than; a misfit that is
    left is in ``excess``.
    """
    return fit_all_near(curve, [centre_hz], [half_width_hz])[0]


def fit_all_near(
    curve: Measured, centres_hz: Sequence[float], half_widths_hz: Sequence[float]
) -> list[LocalFit]:
    """The same round several centres, side by side."""
    stack = curve.alone
    fits = fits_near(stack, np.zeros(len(centres_hz), dtype=np.intp), centres_hz, half_widths_hz)
    return [fits.one(row, stack) for row in range(len(centres_hz))]


def fits_near(stack: Stack, which: ArrayLike, centres_hz: ArrayLike, half_widths_hz: ArrayLike) -> Fits:
    """The same for rows of a stack, each of the curve ``which``, shape (rows,)."""
    widest = fit_windows(stack, which, centres_hz, half_widths_hz)
    rows = np.flatnonzero(~described(widest.residual, widest.believed))
    if not rows.size:
        return widest
    halves_hz = np.asarray(half_widths_hz, dtype=np.float64)[rows]
    smaller, owner, place = _smaller(stack, widest.rows(rows), halves_hz)
    residual = np.full((rows.size, int(place.max()) + 1), np.inf)
    believed = np.full(residual.shape, UNKNOWNS, dtype=np.intp)
    residual[:, 0], believed[:, 0] = widest.residual[rows], widest.believed[rows]
    residual[owner, place], believed[owner, place] = smaller.residual, smaller.believed
    worth = _widest_worth(residual, believed)
    chosen = np.flatnonzero(place == worth[owner])
    return widest.replaced(rows[owner[chosen]], smaller.rows(chosen))


def _smaller(stack: Stack, widest: Fits, halves_hz: FloatArray) -> tuple[Fits, IndexArray, IndexArray]:
    """Windows below the widest of each row down to seven points, and one of five; the row and place of each."""
    low, high = widest.centre_hz - halves_hz, widest.centre_hz + halves_hz
    size = np.searchsorted(stack.f_hz, high, side="right") - np.searchsorted(stack.f_hz, low)
    steps = np.ceil(np.log(np.maximum(size, 1) / LEAST_POINTS) / -np.log(SHRINK))
    last = np.maximum(steps, 0).astype(np.intp) + 1
    owner = np.repeat(np.arange(last.size), last)
    place = np.arange(owner.size) - np.repeat(np.cumsum(last) - last, last) + 1
    is_last = place == last[owner]
    smaller = fit_windows(
        stack,
        widest.which[owner],
        widest.centre_hz[owner],
        np.where(is_last, 0.0, halves_hz[owner] * SHRINK**place),
        least=np.where(is_last, TIGHTEST_POINTS, LEAST_POINTS),
    )
    return smaller, owner, place


def _widest_worth(residual: FloatArray, count: IndexArray) -> IndexArray:
    """Of each row the first window that is described, or that no smaller one betters by more than chance."""
    strict, easy = (_bettered(residual, count, chance) for chance in (LOWER_BY_CHANCE, LOWER_ALREADY))
    bettered = np.where(residual > SURELY_MISFIT, easy, strict)
    return np.asarray(np.argmax(described(residual, count) | ~bettered, axis=1))


def _bettered(residual: FloatArray, count: IndexArray, chance: float) -> NDArray[np.bool_]:
    """Whether the misfit of a smaller window of the row is lower by more than chance."""
    reaches = residual / lowest_by_chance(
        count - UNKNOWNS, chance
    )  # a larger misfit is bettered by this window
    best_of_smaller = np.full(residual.shape, np.inf)
    best_of_smaller[:, :-1] = np.minimum.accumulate(reaches[:, :0:-1], axis=1)[:, ::-1]
    return np.asarray(best_of_smaller < residual)


def lowest_by_chance(freedom: IndexArray | int, chance: float = LOWER_BY_CHANCE) -> FloatArray:
    """How small an rms over its own expectation may come out by chance (Wilson and Hilferty 1931).

    ``freedom`` counts complex degrees, two real ones each; ``chance`` is in standard deviations.
    """
    spread = 2 / (9 * 2 * np.maximum(freedom, 1))
    share = np.maximum(1 - spread + chance * np.sqrt(spread), 0.0)
    return np.asarray(share**1.5)
