"""Local fits of windows: the model through the points of each, and how much of them it leaves.

Fits are rows: a sweep, a centre and a half-width each, windows padded to the longest of a block, every step one array
formula over all rows. Of a row only numbers are kept; its points and weights are made again where they are asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.moebius import LEAST_POINTS, Moebius
from sweepkit.analysis.windows import Stack, Windows, find_windows, points_of, seen_noise
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

AnyArray = NDArray[Any]
Ensemble = Callable[[IndexArray], ComplexArray]  # point indices (m,) -> reflection (draws, m), measured first

# Share by which a centre moves times the square of the window: below it, nothing moves by 1e-8. [-]
UNNOTICED = 2e-7
UNKNOWNS = 3  # complex parameters of the model
BLOCK_VALUES = 32768  # rows × points that are fitted at once: what stays near the processor
TABLE_VALUES = 2**18  # rows × points that are only looked at, at once


class LocalFit(NamedTuple):
    """A window of the sweep and the model through its measured points."""

    centre_hz: float
    points: IndexArray
    u: FloatArray
    weights: FloatArray
    model: Moebius
    # rms misfit over the noise, with the fitted parameters discounted: 1 where the model describes the window
    residual: float
    # what no smaller window lowers of a larger one, shape (m,): the draws get it on top of their noise
    excess: FloatArray

    def on(self, ensemble: Ensemble) -> Moebius:
        """The same fit on every draw: coefficients of shape (draws,)."""
        excess = self.excess if self.excess.any() else None
        sums = getattr(
            ensemble, "sums", None
        )  # of a KeptEnsemble: a protocol takes a fifth of the fit to check
        if sums is not None:
            model = moebius.fit_by_sums(self.u, self.weights, partial(sums, self.points, excess=excess))
            if model is not None:
                return model
        gamma = ensemble(self.points)
        if excess is not None and gamma.shape[0] > 1:
            gamma[1:] += self.excess * complex_normal(gamma[1:].shape, seed=int(self.points[0]))
        return moebius.fit(self.u, gamma, self.weights)


class Fits(NamedTuple):
    """Fits side by side, every array of shape (rows,)."""

    which: IndexArray  # sweep of the stack
    centre_hz: FloatArray
    windows: Windows
    low_hz: FloatArray  # the first of all points
    high_hz: FloatArray  # and the last
    believed: IndexArray  # points that count
    q: ComplexArray  # what the weights rest on
    model: Moebius
    residual: FloatArray

    @property
    def width_hz(self) -> FloatArray:
        """From the first point of each window to the last. [Hz]"""
        return self.high_hz - self.low_hz

    @property
    def u_ends(self) -> FloatArray:
        """The coordinate there, shape (2, rows). [-]"""
        return moebius.coordinate(np.stack([self.low_hz, self.high_hz]), self.centre_hz)

    def rows(self, chosen: IndexArray | NDArray[np.bool_]) -> Fits:
        """Some of them."""
        return self._each(lambda part: part[chosen], self)

    def replaced(self, rows: IndexArray, by: Fits) -> Fits:
        """All of them, some by others."""

        def put(mine: AnyArray, other: AnyArray) -> AnyArray:
            answer = mine.copy()
            answer[rows] = other
            return answer

        return self._each(put, self, by)

    @classmethod
    def joined(cls, *parts: Fits) -> Fits:
        """All of several, in their order."""
        return cls._each(lambda *same: np.concatenate(same), *parts)

    @classmethod
    def _each(cls, make: Callable[..., AnyArray], *these: Fits) -> Fits:
        """What is made of each array of some."""
        made: list[Any] = [
            type(same[0])(*map(make, *same)) if isinstance(same[0], tuple) else make(*same)
            for same in zip(*these, strict=True)
        ]
        return cls(*made)

    def on(self, stack: Stack, ensembles: Sequence[Ensemble] | None) -> Moebius:
        """The same fits on every draw of their sweeps, shape (rows, draws); ``None``: on what was measured alone."""
        if ensembles is None or not self.which.size:
            return Moebius(*(part[:, np.newaxis] for part in self.model))
        drawn = [self.one(row, stack).on(ensembles[sweep]) for row, sweep in enumerate(self.which)]
        return Moebius(*(np.stack(part) for part in zip(*drawn, strict=True)))

    def one(self, row: int, stack: Stack) -> LocalFit:
        """One by itself, its misfit beyond the noise as noise of its own where chance alone does not make it."""
        which = self.which[row : row + 1]
        windows = self.windows.rows(slice(row, row + 1))
        points = points_of(stack, which, windows)[0]
        u = moebius.coordinate(stack.f_hz[points], self.centre_hz[row])
        trust = stack.precision[which, points]
        residual = float(self.residual[row])
        excess = np.zeros(points.size)
        if np.isfinite(residual) and not described(self.residual[row], points.size):
            excess = np.sqrt(residual**2 - 1) * seen_noise(stack.noise[which, points])
        return LocalFit(
            float(self.centre_hz[row]),
            points,
            u,
            moebius.settled_weights(u[np.newaxis], trust[np.newaxis], self.q[row : row + 1])[0],
            Moebius(*(part[row] for part in self.model)),
            residual,
            excess,
        )


def described(residual: FloatArray, count: IndexArray | int) -> NDArray[np.bool_]:
    """Whether a misfit is no more than its noise can make by chance."""
    chance = 1 + 2 / np.sqrt(2 * np.maximum(count - UNKNOWNS, 1))
    return np.asarray(residual <= chance)


def is_described(fits: Fits) -> NDArray[np.bool_]:
    """Whether the misfit of each window is no more than its noise can make by chance, shape (rows,)."""
    return described(fits.residual, fits.windows.length)


def fit_windows(
    stack: Stack,
    which: ArrayLike,
    centres_hz: ArrayLike,
    half_widths_hz: ArrayLike,
    *,
    least: IndexArray | int = LEAST_POINTS,
) -> Fits:
    """Rows of a stack fitted within a half-width of a centre each, to ``least`` points however narrow that is."""
    sweep, centre_hz = np.asarray(which, dtype=np.intp), np.asarray(centres_hz, dtype=np.float64)
    half_hz, few = np.asarray(half_widths_hz, dtype=np.float64), np.broadcast_to(least, sweep.shape)
    windows = find_windows(stack, sweep, centre_hz, half_hz, few)
    rows = sweep.size
    low_hz, high_hz, residual = np.empty((3, rows))
    q, *model = np.empty((4, rows), dtype=np.complex128)
    believed = np.empty(rows, dtype=np.intp)
    fits = Fits(sweep, centre_hz, windows, low_hz, high_hz, believed, q, Moebius(*model), residual)
    for block in _blocks(windows.length):
        _fit_block(stack, fits, block)
    return fits


def is_settled(
    stack: Stack, fits: Fits, centres_hz: FloatArray, half_widths_hz: FloatArray
) -> NDArray[np.bool_]:
    """Whether fits round other centres would rest on the same points and so be the same, shape (rows,).

    The model hardly notices where its coordinate is centred, the less the narrower its window.
    """
    few = np.broadcast_to(np.intp(LEAST_POINTS), fits.which.shape)
    windows = find_windows(stack, fits.which, centres_hz, half_widths_hz, few)
    same = np.all([mine == other for mine, other in zip(windows, fits.windows, strict=True)], axis=0)
    noticed = np.abs(centres_hz / fits.centre_hz - 1) * np.ptp(fits.u_ends, axis=0) ** 2
    return np.asarray(same & (noticed < UNNOTICED))


def _blocks(count: IndexArray) -> Iterator[IndexArray]:
    """Rows that are fitted together, of about the same length."""
    order = np.argsort(count, kind="stable")
    longest_first = order[::-1]
    start = 0
    while start < order.size:
        together = max(1, BLOCK_VALUES // int(count[longest_first[start]]))
        yield longest_first[start : start + together]
        start += together


def blocks_of_rows(rows: int, columns: int) -> Iterator[slice]:
    """Rows of so many columns that are looked at together: a few megabytes."""
    together = max(1, TABLE_VALUES // max(columns, 1))
    yield from (slice(start, start + together) for start in range(0, rows, together))


def _fit_block(stack: Stack, fits: Fits, block: IndexArray) -> None:
    """Fill in what the points of some rows say."""
    which, windows = fits.which[block], fits.windows.rows(block)
    points, count = points_of(stack, which, windows), windows.length
    flat = points + (which * stack.f_hz.size)[:, np.newaxis]
    f_hz, gamma, trust = stack.f_hz[points], stack.gamma.ravel()[flat], stack.precision.ravel()[flat]
    if count[-1] < points.shape[1]:
        trust = np.where(np.arange(points.shape[1]) < count[:, np.newaxis], trust, 0.0)
    centre_hz = fits.centre_hz[block, np.newaxis]
    u = moebius.coordinate(f_hz, centre_hz)
    model, q = moebius.fit_settled(u, gamma, trust)
    believed = count if stack.is_believed else np.count_nonzero(trust, axis=1)
    square = moebius.misfit_squared(model, u, gamma)
    if not stack.is_believed:
        square = np.where(trust > 0, square, 0.0)
    residual = np.sqrt(np.einsum("rm,rm->r", trust, square) / np.maximum(believed - UNKNOWNS, 1))
    for kept, found in zip(
        (fits.low_hz, fits.high_hz, fits.believed, fits.q, *fits.model, fits.residual),
        (
            f_hz[:, 0],
            np.take_along_axis(f_hz, count[:, np.newaxis] - 1, axis=1)[:, 0],
            believed,
            q,
            *model,
            np.where(np.isfinite(residual), residual, np.inf),
        ),
        strict=True,
    ):
        kept[block] = found


def complex_normal(shape: tuple[int, ...], *, seed: int) -> ComplexArray:
    """Complex normal numbers of rms 1."""
    parts = np.random.default_rng(seed).standard_normal((*shape, 2)) / np.sqrt(2)
    return np.asarray(parts.view(np.complex128)[..., 0])
