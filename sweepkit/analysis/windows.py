"""Which points of a sweep a local fit rests on: those within a half-width of a centre, as slices, many side by side."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

MOST_POINTS = 400  # a denser window is thinned; more points no longer change the answer
RESIDUAL_FLOOR = 1e-4  # misfit of the reflection that no figure notices [-]


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
        return np.asarray(self.trust / seen_noise(self.noise) ** 2)

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


def find_windows(
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


def points_of(stack: Stack, which: IndexArray, windows: Windows) -> IndexArray:
    """Indices of each window, shape (rows, m), the last one repeated up to the longest."""
    count = windows.length
    place = np.minimum(np.arange(int(count.max())), count[:, np.newaxis] - 1)
    points = windows.first[:, np.newaxis] + windows.step[:, np.newaxis] * place
    for row in np.flatnonzero(windows.gaps):
        points[row] = np.flatnonzero(stack.trust[which[row]])[points[row]]
    return np.asarray(points)


def seen_noise(noise: FloatArray) -> FloatArray:
    """Noise with what no figure notices on top. [-]"""
    return np.hypot(noise, RESIDUAL_FLOOR)
