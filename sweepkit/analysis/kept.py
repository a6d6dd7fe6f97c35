"""An ensemble that is computed once at each point: figures look at the same points again and again."""

from __future__ import annotations

import numpy as np

from sweepkit.analysis.fits import Ensemble
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

MOST_VALUES = 2**23  # of an ensemble that is kept: 64 MB; a larger one is computed wherever it is asked for
MOST_AT_ONCE = 2**16  # draws × points that are computed at once: what stands beside the table stays small


class KeptEnsemble:
    """Points are computed when they are first looked at, and kept: real part, imaginary part, squared magnitude."""

    def __init__(self, ensemble: Ensemble, points: int) -> None:
        self._ensemble = ensemble
        self._points = points
        self._is_too_large = False
        self._draws = 0
        self.forget()

    def forget(self) -> None:
        """Keep nothing; what is asked for is computed anew."""
        self._table: FloatArray | None = None
        self._has = np.zeros(self._points, dtype=bool)

    def __call__(self, index: IndexArray) -> ComplexArray:
        """Reflection of every draw at some points, shape (draws, m); a copy. [-]"""
        table = self._with(index)
        if table is None:
            return self._ensemble(index)
        gamma = np.empty((index.size, table.shape[2]), dtype=np.complex128)
        gamma.real, gamma.imag = table[index, 0], table[index, 1]
        return gamma.T

    def sums(self, index: IndexArray, factors: FloatArray) -> FloatArray | None:
        """Sums over points of their real part, imaginary part and squared magnitude times factors.

        Parameters
        ----------
        index : int array, shape (m,)
            Points.
        factors : float array, shape (k, m)
            Factors.

        Returns
        -------
        float array, shape (k, 3, draws), or None
            [-]; nothing where the ensemble is too large to be kept.
        """
        table = self._with(index)
        if table is None:
            return None
        some = table[_as_slice(index)]
        return np.asarray((factors @ some.reshape(index.size, -1)).reshape(len(factors), 3, -1))

    def turned(self, turn_rad: FloatArray) -> TurnedEnsemble:
        """The same with every point turned by an angle, shape (points,), from what is kept here. [rad]"""
        return TurnedEnsemble(self, np.asarray(np.exp(1j * turn_rad)))

    def _with(self, index: IndexArray) -> FloatArray | None:
        """The table with these points in it."""
        if self._is_too_large or not index.size:
            return None
        missing = index[~self._has[index]]
        if missing.size:
            self._fill(missing)
        return self._table

    def _fill(self, points: IndexArray) -> None:
        self._draws = self._draws or self._ensemble(points[:1]).shape[0]
        if self._points * 3 * self._draws > MOST_VALUES:
            self._is_too_large = True
            return
        if self._table is None:
            self._table = np.empty((self._points, 3, self._draws))
        together = max(1, MOST_AT_ONCE // self._draws)
        for start in range(0, points.size, together):
            some = points[start : start + together]
            gamma, here = self._ensemble(some).T, _as_slice(some)
            self._table[here, 0], self._table[here, 1] = gamma.real, gamma.imag
            square = np.square(gamma.imag)
            square += np.square(gamma.real)
            self._table[here, 2] = square
        self._has[points] = True


class TurnedEnsemble:
    """A kept ensemble with every point turned; it keeps nothing of its own."""

    def __init__(self, kept: KeptEnsemble, turn: ComplexArray) -> None:
        self._kept = kept
        self._turn = turn

    def __call__(self, index: IndexArray) -> ComplexArray:
        """As of :class:`KeptEnsemble`."""
        gamma = self._kept(index)
        gamma *= self._turn[index]
        return gamma

    def sums(self, index: IndexArray, factors: FloatArray) -> FloatArray | None:
        """As of :class:`KeptEnsemble`: to turn points is to mix the sums of their parts."""
        turn = self._turn[index]
        sums = self._kept.sums(index, np.concatenate([factors * turn.real, factors * turn.imag, factors]))
        if sums is None:
            return None
        along, across, plain = np.split(sums, 3)
        plain[:, 0], plain[:, 1] = along[:, 0] - across[:, 1], across[:, 0] + along[:, 1]
        return plain


def _as_slice(index: IndexArray) -> IndexArray | slice:
    """Evenly spaced points as a slice, which copies nothing."""
    if index.size < 2:
        return index
    step = int(index[1] - index[0])
    if step > 0 and index[-1] - index[0] == step * (index.size - 1) and (np.diff(index) == step).all():
        return slice(int(index[0]), int(index[-1]) + 1, step)
    return index
