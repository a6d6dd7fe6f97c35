"""Local fits: which points of a sweep each rests on, and the model through them.

Fits are rows: a sweep, a centre and a half-width each, windows padded to the longest of a block, every step one array
formula over all rows. A window is narrowed only where that lowers the misfit, measured in the noise, by more than
chance. Of a row only numbers are kept; its points and weights are made again where they are asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any, NamedTuple, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.moebius import LEAST_POINTS, Moebius
from sweepkit.conversions import ComplexArray, FloatArray

IndexArray = NDArray[np.intp]
AnyArray = NDArray[Any]
Ensemble = Callable[[IndexArray], ComplexArray]  # point indices (m,) -> reflection (draws, m), measured first

TIGHTEST_POINTS = 5  # the last resort where seven points already bend more than the model can
MOST_POINTS = 400  # a denser window is thinned; more points no longer change the answer
SHRINK = 0.7  # from one window to the next smaller one
RESIDUAL_FLOOR = 1e-4  # misfit of the reflection that no figure notices [-]
UNNOTICED = (
    2e-7  # share by which a centre moves times the square of the window: below it, nothing moves by 1e-8 [-]
)
UNKNOWNS = 3  # complex parameters of the model
LOWER_BY_CHANCE = -3.1  # standard deviations: a misfit is lower by chance in 1 of 1000 ...
SURELY_MISFIT = 5.0  # ... but no noise is mistaken by such a factor, and above it 1 in 6 is enough
LOWER_ALREADY = -1.0
BLOCK_VALUES = 16384  # rows × points that are fitted at once: what stays near the processor
TABLE_VALUES = 2**18  # rows × points that are only looked at, at once


@runtime_checkable
class Summed(Protocol):
    """An ensemble that gives what a fit needs of its points without giving the points."""

    def sums(self, index: IndexArray, factors: FloatArray) -> FloatArray | None:
        """As :meth:`sweepkit.analysis.kept.KeptEnsemble.sums`."""
        ...


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
        has_excess = bool(self.excess.any())
        if not has_excess and isinstance(ensemble, Summed):
            model = moebius.fit_by_sums(self.u, self.weights, partial(ensemble.sums, self.points))
            if model is not None:
                return model
        gamma = ensemble(self.points)
        if has_excess and gamma.shape[0] > 1:
            gamma[1:] += self.excess * complex_normal(gamma[1:].shape, seed=int(self.points[0]))
        return moebius.fit(self.u, gamma, self.weights)


@dataclass(frozen=True, eq=False)
class Stack:
    """Curves on one grid [Hz], shape (n,): reflection, trust (0 to 1) and rms noise of each, (sweeps, n)."""

    f_hz: FloatArray
    gamma: ComplexArray
    trust: FloatArray
    noise: FloatArray

    @cached_property
    def precision(self) -> FloatArray:
        """Trust over the square of the noise that is seen, (sweeps, n)."""
        return np.asarray(self.trust / _seen_noise(self.noise) ** 2)

    @cached_property
    def is_believed(self) -> bool:
        """Whether every point of every sweep is."""
        return bool(self.trust.all())

    @cached_property
    def magnitude(self) -> FloatArray:
        """Magnitude of the reflection, (sweeps, n). [-]"""
        return np.abs(self.gamma)


class Measured(NamedTuple):
    """What is fitted: a sweep's grid [Hz], reflection, trust in each point (0 to 1) and rms noise, each (n,)."""

    f_hz: FloatArray
    gamma: ComplexArray
    trust: FloatArray
    noise: FloatArray

    @property
    def alone(self) -> Stack:
        """A stack of this one."""
        return Stack(self.f_hz, self.gamma[np.newaxis], self.trust[np.newaxis], self.noise[np.newaxis])


class Windows(NamedTuple):
    """Slices of the points of sweeps, or where ``gaps`` of those that are believed, every array (rows,)."""

    first: IndexArray
    end: IndexArray
    step: IndexArray
    gaps: NDArray[np.bool_]

    @property
    def length(self) -> IndexArray:
        """Points of each."""
        return np.asarray(-((self.first - self.end) // self.step))

    def rows(self, chosen: IndexArray | NDArray[np.bool_] | slice) -> Windows:
        """Some of them."""
        return Windows(self.first[chosen], self.end[chosen], self.step[chosen], self.gaps[chosen])


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
        points = _points(stack, which, windows)[0]
        u = moebius.coordinate(stack.f_hz[points], self.centre_hz[row])
        trust = stack.precision[which, points]
        residual = float(self.residual[row])
        excess = np.zeros(points.size)
        if np.isfinite(residual) and not _described(self.residual[row], points.size):
            excess = np.sqrt(residual**2 - 1) * _seen_noise(stack.noise[which, points])
        return LocalFit(
            float(self.centre_hz[row]),
            points,
            u,
            moebius.settled_weights(u[np.newaxis], trust[np.newaxis], self.q[row : row + 1])[0],
            Moebius(*(part[row] for part in self.model)),
            residual,
            excess,
        )


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
    rows = np.flatnonzero(~_described(widest.residual, widest.believed))
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
    return np.asarray(np.argmax(_described(residual, count) | ~bettered, axis=1))


def _bettered(residual: FloatArray, count: IndexArray, chance: float) -> NDArray[np.bool_]:
    """Whether the misfit of a smaller window of the row is lower by more than chance."""
    reaches = residual / lowest_by_chance(
        count - UNKNOWNS, chance
    )  # a larger misfit is bettered by this window
    best_of_smaller = np.full(residual.shape, np.inf)
    best_of_smaller[:, :-1] = np.minimum.accumulate(reaches[:, :0:-1], axis=1)[:, ::-1]
    return np.asarray(best_of_smaller < residual)


def _described(residual: FloatArray, count: IndexArray | int) -> NDArray[np.bool_]:
    """Whether a misfit is no more than its noise can make by chance."""
    chance = 1 + 2 / np.sqrt(2 * np.maximum(count - UNKNOWNS, 1))
    return np.asarray(residual <= chance)


def is_described(fits: Fits) -> NDArray[np.bool_]:
    """Whether the misfit of each window is no more than its noise can make by chance, shape (rows,)."""
    return _described(fits.residual, fits.windows.length)


def lowest_by_chance(freedom: IndexArray | int, chance: float = LOWER_BY_CHANCE) -> FloatArray:
    """How small an rms over its own expectation may come out by chance (Wilson and Hilferty 1931).

    ``freedom`` counts complex degrees, two real ones each; ``chance`` is in standard deviations.
    """
    spread = 2 / (9 * 2 * np.maximum(freedom, 1))
    share = np.maximum(1 - spread + chance * np.sqrt(spread), 0.0)
    return np.asarray(share**1.5)


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
    windows = _windows(stack, sweep, centre_hz, half_hz, few)
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
    windows = _windows(stack, fits.which, centres_hz, half_widths_hz, few)
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
    points, count = _points(stack, which, windows), windows.length
    flat = points + (which * stack.f_hz.size)[:, np.newaxis]
    f_hz, gamma, trust = stack.f_hz[points], stack.gamma.ravel()[flat], stack.precision.ravel()[flat]
    if count[-1] < points.shape[1]:
        trust = np.where(np.arange(points.shape[1]) < count[:, np.newaxis], trust, 0.0)
    centre_hz = fits.centre_hz[block, np.newaxis]
    u = moebius.coordinate(f_hz, centre_hz)
    model, q = moebius.fit_settled(u, gamma, trust)
    believed = count if stack.is_believed else np.count_nonzero(trust, axis=1)
    square = np.abs(moebius.value(Moebius(*(p[:, np.newaxis] for p in model)), u) - gamma) ** 2
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


def _points(stack: Stack, which: IndexArray, windows: Windows) -> IndexArray:
    """Indices of each window, shape (rows, m), the last one repeated up to the longest."""
    count = windows.length
    place = np.minimum(np.arange(int(count.max())), count[:, np.newaxis] - 1)
    points = windows.first[:, np.newaxis] + windows.step[:, np.newaxis] * place
    for row in np.flatnonzero(windows.gaps):
        points[row] = np.flatnonzero(stack.trust[which[row]])[points[row]]
    return np.asarray(points)


def _seen_noise(noise: FloatArray) -> FloatArray:
    """Noise with what no figure notices on top. [-]"""
    return np.hypot(noise, RESIDUAL_FLOOR)


def complex_normal(shape: tuple[int, ...], *, seed: int) -> ComplexArray:
    """Complex normal numbers of rms 1."""
    parts = np.random.default_rng(seed).standard_normal((*shape, 2)) / np.sqrt(2)
    return np.asarray(parts.view(np.complex128)[..., 0])


def _windows(
    stack: Stack, which: IndexArray, centre_hz: FloatArray, half_hz: FloatArray, least: IndexArray
) -> Windows:
    """The points within each window; where a burst fills one, the nearest that are believed."""
    windows = _slices(stack.f_hz, centre_hz, half_hz, least)
    if stack.is_believed:
        return windows
    for row in range(which.size):
        trust = stack.trust[which[row]]
        inside = trust[windows.first[row] : windows.end[row] : windows.step[row]]
        if np.count_nonzero(inside) < min(int(least[row]), stack.f_hz.size):
            one = slice(row, row + 1)
            found = _slices(stack.f_hz[trust > 0], centre_hz[one], half_hz[one], least[one])
            for mine, other in zip(windows, found._replace(gaps=np.ones(1, dtype=bool)), strict=True):
                mine[row] = other[0]
    return windows


def _slices(f_hz: FloatArray, centre_hz: FloatArray, half_hz: FloatArray, least: IndexArray) -> Windows:
    """Windows; the nearest few points when one holds too few; thinned when it holds too many."""
    first, end = np.searchsorted(f_hz, np.stack([centre_hz - half_hz, centre_hz + half_hz]))
    few = end - first < least
    if few.any():
        after = np.clip(np.searchsorted(f_hz, centre_hz), 1, f_hz.size - 1)
        middle = after - (centre_hz - f_hz[after - 1] <= f_hz[after] - centre_hz)
        nearest = np.maximum(np.minimum(middle - least // 2, f_hz.size - least), 0)
        first = np.where(few, nearest, first)
        end = np.where(few, np.minimum(nearest + least, f_hz.size), end)
    return Windows(first, end, -((first - end) // MOST_POINTS), np.zeros(first.shape, dtype=bool))
