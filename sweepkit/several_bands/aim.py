"""The aim over several places, over lengths: least weighted mean of the losses, or no place worse than it must be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import FloatArray, mismatch_loss_db_from_gamma_abs
from sweepkit.several_bands.answer import Aim
from sweepkit.several_bands.curve import BestInside
from sweepkit.several_bands.seen import REACH

ALIKE_DB = 0.004  # of the aim: lengths that differ by less are equally good
LENGTHS = 221  # tried within reach: a thousandth of the length apart


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

    def best(self, aim: Aim) -> tuple[int, FloatArray]:
        """The change with the least loss by the middle of the draws, and that of each draw, shape (draws,)."""
        value = self.of(aim)
        usual = np.where(np.isfinite(value[0]), np.median(value, axis=0), np.inf)
        each = self.change_m[[_middle_of_least(one) for one in value]]
        return _middle_of_least(usual), each


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
