"""The aim over several places, over lengths: least weighted mean of the losses, or no place worse than it must be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray, mismatch_loss_db_from_gamma_abs
from sweepkit.several_bands.answer import Aim
from sweepkit.several_bands.curve import BestInside
from sweepkit.several_bands.seen import REACH

ALIKE_DB = 0.004  # of the aim: lengths that differ by less are equally good
NO_WORSE = (
    0.003  # of the reflection of a place that is set aside, in the middle of the draws: no analyzer sees it
)
LEAST_GAIN_DB = 0.05  # less is not worth touching the antenna for
LENGTHS = 221  # tried within reach: a thousandth of the length apart


@dataclass(frozen=True, eq=False)
class Best:
    """The best of the changes tried, that of each draw [m], and what the best gains on each draw [dB], shape (draws,).

    ``set_aside``: the place that no change surely betters, where the gain is that of the worst of the others.
    """

    number: int
    each_m: FloatArray
    gain_db: FloatArray
    set_aside: int | None = None


def is_surely_gained(gain_db: FloatArray) -> bool:
    """Whether a gain on draws, the measured one first, is worth a change and told from nothing."""
    return bool(gain_db[0] >= LEAST_GAIN_DB) and least_gain_db(gain_db) > 0


def least_gain_db(gain_db: FloatArray) -> float:
    """The low end of the interval of a gain. [dB]"""
    known = gain_db[np.isfinite(gain_db)]
    return float(np.quantile(known[1:], 0.025)) if known.size > 1 else float(gain_db[0])


@dataclass(frozen=True, eq=False)
class Losses:
    """Mismatch loss of places over changes of length."""

    change_m: FloatArray  # tried ones, rising, none among them, shape (m,); negative shortens
    loss_db: FloatArray  # of each place, shape (places, draws, m); NaN where the sweep does not show it
    weights: FloatArray  # how much each place matters

    @property
    def unchanged(self) -> int:
        """Which change is none."""
        return int(np.argmin(np.abs(self.change_m)))

    def of(self, aim: Aim) -> FloatArray:
        """Loss by the aim on every draw, shape (draws, m); infinite where a place is not shown. [dB]"""
        if aim == "mean":
            value = np.tensordot(self.weights / self.weights.sum(), self.loss_db, axes=1)
        else:
            value = self.loss_db.max(axis=0)
        return np.where(np.isfinite(value), value, np.inf)

    def best(self, aim: Aim) -> Best:
        """The change with the least loss by the aim.

        No place is to be worse than it must be: where no change surely betters the worst place, it is set aside, and of
        the changes that do not make it worse the one is taken that is best for the worst of the others.
        """
        value = self.of(aim)
        best = self._best(value, np.isfinite(value[0]))
        if aim == "mean" or len(self.loss_db) < 2 or is_surely_gained(best.gain_db):
            return best
        usual_db = np.median(np.where(np.isfinite(self.loss_db), self.loss_db, np.inf), axis=1)
        worst = int(np.argmax(usual_db[:, self.unchanged]))
        others = replace(self, loss_db=np.delete(self.loss_db, worst, axis=0))
        size = np.sqrt(1 - 10 ** (-usual_db[worst] / 10))
        not_worse = size <= size[self.unchanged] + NO_WORSE
        second = others._best(others.of(aim), np.isfinite(value[0]) & not_worse)
        return replace(second, set_aside=worst) if is_surely_gained(second.gain_db) else best

    def _best(self, value: FloatArray, allowed: NDArray[np.bool_]) -> Best:
        """By the middle of the draws of a loss, shape (draws, m), among the changes allowed."""
        usual = np.where(allowed, np.median(value, axis=0), np.inf)
        number = _middle_of_least(usual)
        each_m = self.change_m[[_middle_of_least(np.where(allowed, one, np.inf)) for one in value]]
        return Best(number, each_m, value[:, self.unchanged] - value[:, number])


def _middle_of_least(loss_db: FloatArray) -> int:
    """The middle of the stretch that is as good as the best: a dip anywhere inside a band serves it alike."""
    best = int(np.argmin(loss_db))
    worse = np.flatnonzero(~(loss_db <= loss_db[best] + ALIKE_DB))
    first = int(worse[worse < best].max(initial=-1)) + 1
    last = int(worse[worse > best].min(initial=loss_db.size)) - 1
    return best if not np.isfinite(loss_db[best]) else (first + last) // 2


def changes_m(length_m: float) -> FloatArray:
    """Changes of length within reach; none of them is exactly 0."""
    low, high = (length_m * (share - 1) for share in REACH)
    return np.sort(np.append(np.linspace(low, high, LENGTHS - 1), 0.0))


def losses_over(inside: Sequence[BestInside], shifts: Sequence[FloatArray]) -> FloatArray:
    """Loss in dB of each place over changes, shape (places, draws, m).

    ``shifts``, shape (draws, m), are how far each place's curve goes in ln f with each change.
    """
    return np.array(
        [
            mismatch_loss_db_from_gamma_abs(one.gamma_abs(shift))
            for one, shift in zip(inside, shifts, strict=True)
        ]
    )
