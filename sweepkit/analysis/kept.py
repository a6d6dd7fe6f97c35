"""An ensemble that is computed once at each point: figures look at the same points again and again."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.cells import Cells
from sweepkit.analysis.fits import Ensemble
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

MOST_VALUES = 2**23  # of an ensemble that is kept: 64 MB; a larger one is computed wherever it is asked for
MOST_AT_ONCE = 2**16  # draws × points that are computed at once: what stands beside the table stays small


class KeptEnsemble:
    """Points are computed when they are first looked at, and kept: real part, imaginary part, squared magnitude.

    ``measured``, shape (points,), is the ensemble's first member. Where it may be asked for ``cells`` too, sums over
    windows of many points are taken over those.
    """

    def __init__(self, ensemble: Ensemble, measured: ComplexArray, *, cells: Cells | None = None) -> None:
        self.cells = cells or Cells(measured.size)
        self._ensemble = ensemble
        self._measured = _parts(measured)
        self._draws = 0  # not known yet
        self.forget()

    def forget(self) -> None:
        """Keep nothing; what is asked for is computed anew."""
        self._layers: dict[int, _Layer] = {}

    def __call__(self, index: IndexArray) -> ComplexArray:
        """Reflection of every draw at some points, or cells that are alike, shape (draws, m); a copy. [-]"""
        some = self._at(index)
        if some is None:
            return self._ensemble(index)
        gamma = np.empty((index.size, some.shape[2]), dtype=np.complex128)
        gamma.real, gamma.imag = some[:, 0], some[:, 1]
        return gamma.T

    def sums(
        self, index: IndexArray, factors: FloatArray, excess: FloatArray | None = None
    ) -> FloatArray | None:
        """Sums over points of their real part, imaginary part and squared magnitude times factors.

        Parameters
        ----------
        index : int array, shape (m,)
            Points.
        factors : float array, shape (k, m)
            Factors, smooth along the points.
        excess : float array, shape (m,), optional
            Rms of a complex noise that every draw gets on top. [-]

        Returns
        -------
        float array, shape (k, 3, draws), or None
            [-]; nothing where the ensemble is too large to be kept.
        """
        held = self.cells.gathered(index, factors)
        some = self._at(held.cells)
        if some is None:
            return None
        if excess is None:
            sums = held.factors @ some.reshape(len(some), -1)
        else:
            size = excess[held.middle] / np.sqrt(held.whole)
            sums = _noisy_sums(held.factors, some, size, seed=int(index[0]))
        sums = sums.reshape(len(factors), 3, -1)
        sums += (factors @ self._measured[index] - sums[:, :, 0])[:, :, np.newaxis]
        return np.asarray(sums)

    def turned(self, turn_rad: FloatArray) -> TurnedEnsemble:
        """The same with every point turned by an angle, shape (points,), from what is kept here. [rad]"""
        return TurnedEnsemble(self, np.asarray(np.exp(1j * turn_rad)))

    def _at(self, index: IndexArray) -> FloatArray | None:
        """Rows of the table, shape (m, 3, draws); nothing where it would be too large."""
        if not index.size:
            return None
        first, count = self.cells.layer(int(index[0]))
        if first not in self._layers:
            self._draws = self._draws or self._ensemble(index[:1]).shape[0]
            if count * 3 * self._draws > MOST_VALUES:
                return None
            self._layers[first] = _Layer(np.zeros(count, dtype=bool), np.empty((count, 3, self._draws)))
        has, table = self._layers[first]
        missing = index[~has[index - first]]
        self._make_room(first, missing.size)
        together = max(1, MOST_AT_ONCE // table.shape[2])
        for start in range(0, missing.size, together):
            some = missing[start : start + together]
            _put_parts(self._ensemble(some).T, table, _as_slice(some - first))
            has[some - first] = True
        return np.asarray(table[_as_slice(index - first)])

    def _make_room(self, first: int, rows: int) -> None:
        """Forget other layers, the oldest first, where so many rows more would be too many."""
        rows += sum(int(np.count_nonzero(layer.has)) for layer in self._layers.values())
        for other in [each for each in self._layers if each != first]:
            if rows * 3 * self._draws <= MOST_VALUES:
                return
            rows -= int(np.count_nonzero(self._layers.pop(other).has))


class _Layer(NamedTuple):
    """Cells that are alike: which were computed, shape (n,), and their parts, shape (n, 3, draws)."""

    has: NDArray[np.bool_]
    table: FloatArray


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

    def sums(
        self, index: IndexArray, factors: FloatArray, excess: FloatArray | None = None
    ) -> FloatArray | None:
        """As of :class:`KeptEnsemble`: to turn points is to mix the sums of their parts."""
        turn = self._turn[index]
        every = np.concatenate([factors * turn.real, factors * turn.imag, factors])
        sums = self._kept.sums(index, every, excess)
        if sums is None:
            return None
        along, across, plain = np.split(sums, 3)
        plain[:, 0], plain[:, 1] = along[:, 0] - across[:, 1], across[:, 0] + along[:, 1]
        return plain


def _parts(gamma: ComplexArray) -> FloatArray:
    """Real part, imaginary part and squared magnitude, shape (n, 3)."""
    return np.stack([gamma.real, gamma.imag, gamma.real**2 + gamma.imag**2], axis=1)


def _put_parts(gamma: ComplexArray, table: FloatArray, here: IndexArray | slice) -> None:
    """The same of every draw, shape (m, draws), into rows of a table, shape (n, 3, draws)."""
    table[here, 0], table[here, 1] = gamma.real, gamma.imag
    square = np.square(gamma.imag)
    square += np.square(gamma.real)
    table[here, 2] = square


def _noisy_sums(factors: FloatArray, table: FloatArray, size: FloatArray, *, seed: int) -> FloatArray:
    """Factors, shape (k, m), times rows of a table, of which every draw but the first has noise of a size each."""
    rows, _, draws = table.shape
    sums, dice = np.zeros((len(factors), 3 * draws)), np.random.default_rng(seed)
    together = max(1, MOST_AT_ONCE // draws)
    for here in (slice(start, start + together) for start in range(0, rows, together)):
        gamma = table[here, 0] + 1j * table[here, 1]
        parts = dice.standard_normal((len(gamma), draws - 1, 2))
        parts *= size[here, np.newaxis, np.newaxis] / np.sqrt(2)
        gamma[:, 1:] += parts.view(np.complex128)[..., 0]
        noisier = np.empty((len(gamma), 3, draws))
        _put_parts(gamma, noisier, slice(None))
        sums += factors[:, here] @ noisier.reshape(len(gamma), -1)
    return sums


def _as_slice(index: IndexArray) -> IndexArray | slice:
    """Evenly spaced points as a slice, which copies nothing."""
    if index.size < 2:
        return index
    step = int(index[1] - index[0])
    if step > 0 and index[-1] - index[0] == step * (index.size - 1) and (np.diff(index) == step).all():
        return slice(int(index[0]), int(index[-1]) + 1, step)
    return index
