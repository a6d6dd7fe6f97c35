"""Points of a sweep taken together in cells of two, four, eight ...: what a local fit needs of its draws.

A window of many points weighs them smoothly, so that its sums hardly notice whether what a draw differs from the
measured curve is added up point by point or cell by cell, each at its middle with the mean of its noise. Cells are
numbered after the points: those of two points, then those of four, and so on; then all of them again for windows that
rest on every second point only, on every third, and so on, where the mean of the noise is that of fewer.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

Number = TypeVar("Number", np.float64, np.complex128)

# In a window at least: sums of steps instead of slopes are then off by 1/400 of what draws differ by
LEAST_CELLS = 20
# Of the reflection from one half of a cell to the other: where it turns, its mean is then off by some per cent at most
MOST_CHANGE = 0.15
LEAST_IN_CELLS = 2  # points of a window in each, a mean; the fewest that save anything


class Gathered(NamedTuple):
    """Cells in the place of the points of a window."""

    cells: IndexArray  # their numbers, shape (cells,)
    factors: FloatArray  # shape (k, cells)
    middle: IndexArray  # a point of each, by its place in the window, shape (cells,)
    whole: float  # how many points a whole one has, a mean


@dataclass(frozen=True)
class Cells:
    """Cells of so many points, up to those of ``2**top``; level 0 are the points themselves."""

    points: int
    top: int = 0

    @classmethod
    def over(cls, points: int) -> Cells:
        """As large as any window of a sweep can want them."""
        return cls(points, max((points // LEAST_CELLS).bit_length() - 1, 0))

    @classmethod
    def along(cls, gamma: ComplexArray) -> Cells:
        """Over a curve, no larger than that it hardly changes inside one: what turns there would be averaged away."""
        most, top, halves = cls.over(gamma.size).top, 0, gamma
        while top < most and float(np.abs(np.diff(halves)).max()) <= MOST_CHANGE:
            top += 1
            halves = (halves[: halves.size & ~1 : 2] + halves[1::2]) / 2
        return cls(gamma.size, top)

    @cached_property
    def starts(self) -> IndexArray:
        """Number of the first cell of each level, and how many there are in all, shape (top + 2,)."""
        return np.cumsum([0, *(self.count(level) for level in range(self.top + 1))])

    @property
    def size(self) -> int:
        """How many there are in all, the points included."""
        return int(self.starts[-1])

    def count(self, level: int) -> int:
        """How many a level has; the last one may hold fewer points."""
        return -(-self.points >> level)

    def means(self, values: NDArray[Number]) -> NDArray[Number]:
        """Of values at the points, shape (..., points), those and the mean in every cell, shape (..., size)."""
        parts = [values]
        for level in range(1, self.top + 1):
            starts = np.arange(self.count(level)) << level
            counts = np.minimum(self.points - starts, 1 << level)
            parts.append(np.asarray(np.add.reduceat(values, starts, axis=-1) / counts, dtype=values.dtype))
        return np.concatenate(parts, axis=-1) if self.top else values

    def noise(self, size: FloatArray) -> FloatArray:
        """Rms of the mean of noise in every cell, shape (size,), of that at the points."""
        inside = np.repeat(1 << np.arange(self.top + 1), np.diff(self.starts))
        return np.asarray(np.sqrt(self.means(size**2) / inside))

    def layer(self, cell: int) -> tuple[int, int]:
        """Number of the first cell that is like a cell, of as many points for windows of the same step, and how many
        there are.
        """
        step, place = divmod(cell, self.size)
        level = int(np.searchsorted(self.starts, place, side="right")) - 1
        return step * self.size + int(self.starts[level]), self.count(level)

    def gathered(self, index: IndexArray, factors: FloatArray) -> Gathered:
        """Cells that stand for points, shape (m,), rising, with factors, shape (k, m), smooth along them.

        Points stay by themselves where they are few, or unevenly spaced. A cell of which only a part is wanted gives
        some of its factor to its neighbour, so that the noise of a sum is that of its points.
        """
        step = int(index[1] - index[0]) if index.size > 1 else 1
        level = min(self.top, (index.size * step // LEAST_CELLS).bit_length() - 1)
        if level <= 0 or index.size < LEAST_IN_CELLS * LEAST_CELLS or not _is_even(index, step):
            return Gathered(index, factors, np.arange(index.size), 1)
        first, last = int(index[0]) >> level, int(index[-1]) >> level
        starts = -((int(index[0]) - (np.arange(first, last + 1) << level)) // step)
        starts[0] = 0
        held = np.diff(starts, append=index.size)
        whole = (1 << level) / step
        summed = np.add.reduceat(factors, starts, axis=1)
        for end, inner in ((0, 1), (-1, -2)):
            given = summed[:, end] * _given(int(held[end]), whole)
            summed[:, inner] += given
            summed[:, end] -= given
        cells = (step - 1) * self.size + self.starts[level] + np.arange(first, last + 1)
        return Gathered(cells, summed, starts + held // 2, whole)


def _is_even(index: IndexArray, step: int) -> bool:
    return bool(index[-1] - index[0] == step * (index.size - 1) and (np.diff(index) == step).all())


def _given(held: int, whole: float) -> float:
    """Share of its factor that a cell of which ``held`` points of a ``whole`` are wanted gives to a whole one beside.

    Of factors h - t and w + t the squares sum up to w(h + w), as those of h + w points would.
    """
    left = max(whole - held, 0.0)
    return (float(np.sqrt(left * (whole + held))) - left) / 2 / held
