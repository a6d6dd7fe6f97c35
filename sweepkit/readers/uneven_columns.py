"""Columns of many files whose numbers do not all print alike: in which surely nothing is odd, and the step of each.

What is found in one column by ``odd_rows`` and ``printing``, as array formulas over columns of one length. They say yes
only where the answer for the column by itself is sure; a new rule there belongs here, too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.printed_step import Step
from sweepkit.readers.number_block import EXACT_DIGITS
from sweepkit.readers.odd_rows import HARMLESS_DECIMALS, LEAP, RARE, REACH, of_neighbours
from sweepkit.readers.printing import STEP_ROWS, Printed, digits_before_mark

_BESIDE = np.array([-2, -1, 1, 2])
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Columns:
    """Numbers as they print, shape (columns, rows); decimals and leads as in ``Printed``."""

    values: FloatArray
    decimals: NDArray[Any]
    leads: NDArray[Any]

    def __getitem__(self, which: Any) -> Columns:
        return Columns(self.values[which], self.decimals[which], self.leads[which])

    @cached_property
    def significant(self) -> NDArray[np.intp]:
        """Digits from the first that is not 0 on; all digits of numbers with an exponent."""
        before = np.where(self.leads >= 0, self.leads, digits_before_mark(self.values))
        return np.asarray(before + np.maximum(self.decimals, 0))

    @property
    def exponents(self) -> Flags:
        """Which have a number with an exponent."""
        return np.asarray(self.leads.max(axis=1) >= 0)

    @property
    def alike(self) -> Flags:
        """Which print all their numbers as the first."""
        return np.asarray(
            (self.decimals == self.decimals[:, :1]).all(axis=1)
            & (self.leads == self.leads[:, :1]).all(axis=1)
        )


def nothing_is_odd(columns: Columns) -> Flags:
    """In which ``odd_row`` finds nothing, where a line end follows the last number."""
    sound = columns.alike
    others = np.flatnonzero(~sound)
    if others.size:
        some = columns[others]
        sound[others] = _none_leaps(some.values) & _none_is_cut(some) & _none_lacks(some)
    return sound


def _none_leaps(values: FloatArray) -> Flags:
    """No number of quite another size than the two on each side, but between them."""
    size = np.abs(values)
    least, most = of_neighbours(np.minimum, size, np.inf), of_neighbours(np.maximum, size, 0.0)
    leaping = ((size > LEAP * most) | (size * LEAP < least)) & (size > 0) & (most > 0)
    columns, rows = np.nonzero(leaping)
    low, high = _near(values, columns, rows)
    at = values[columns, rows]
    sound = np.ones(len(values), dtype=bool)
    sound[columns[(at < low) | (at > high)]] = False
    return sound


def _near(
    values: FloatArray, columns: NDArray[np.intp], rows: NDArray[np.intp]
) -> tuple[FloatArray, FloatArray]:
    """Range of the two numbers on each side of each."""
    places = rows[:, np.newaxis] + _BESIDE
    there = (places >= 0) & (places < values.shape[1])
    near = values[columns[:, np.newaxis], np.where(there, places, 0)]
    return np.where(there, near, np.inf).min(axis=1), np.where(there, near, -np.inf).max(axis=1)


def _none_is_cut(columns: Columns) -> Flags:
    """No number that may have lost digits: each has enough, or the shortest is where its neighbours are."""
    mostly_bare = 2 * np.count_nonzero(columns.leads < 0, axis=1) > columns.leads.shape[1]
    few_unlike = _commonest(columns.decimals)[0] >= columns.leads.shape[1] - 1
    enough = columns.decimals.min(axis=1) >= HARMLESS_DECIMALS
    there = _is_near(columns.values, np.maximum(columns.decimals, 0).argmin(axis=1))
    there &= _is_near(columns.values, columns.significant.argmin(axis=1))
    return np.asarray(np.where(columns.exponents, mostly_bare | ~few_unlike, enough | there))


def _is_near(values: FloatArray, rows: NDArray[np.intp]) -> Flags:
    """Whether one number of each column lies within reach of its neighbours."""
    columns = np.arange(len(values))
    low, high = _near(values, columns, rows)
    reach = REACH * (high - low) * np.where((rows == 0) | (rows == values.shape[1] - 1), 2, 1)
    at = values[columns, rows]
    return np.asarray((low - reach <= at) & (at <= high + reach))


def _none_lacks(columns: Columns) -> Flags:
    """No lone number with fewer or more digits than the others: they have more than are exact, or many differ."""
    (shared, decimals), (also, digits) = map(_commonest, (columns.decimals, columns.significant))
    by_decimals = columns.decimals != decimals[:, np.newaxis]
    by_digits = columns.significant != digits[:, np.newaxis]
    by_decimals |= (also > shared)[:, np.newaxis]
    by_digits |= (also < shared)[:, np.newaxis]
    odd = np.count_nonzero(by_decimals & by_digits & (columns.values != 0), axis=1)
    return np.asarray(
        (columns.significant.max(axis=1) > EXACT_DIGITS) | (odd > max(1, RARE * columns.values.shape[1]))
    )


def _commonest(labels: NDArray[Any], among: Flags | None = None) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """How often each column has its commonest label, and which that is, the least of several."""
    least = int(labels.min())
    width = int(labels.max()) - least + 1
    places = labels - np.intp(least) + width * np.arange(len(labels))[:, np.newaxis]
    counts = np.bincount(places.ravel() if among is None else places[among], minlength=len(labels) * width)
    counts = counts.reshape(len(labels), width)
    return counts.max(axis=1), counts.argmax(axis=1) + least


def steps(columns: Columns) -> list[Step]:
    """Smallest step of each, as ``Printed.step``."""
    if not len(columns.values):
        return []
    some = columns[:, :: max(1, columns.values.shape[1] // STEP_ROWS)]
    nonzero, shown = some.values != 0, np.maximum(some.decimals, 0)
    by_digits = _commonest(some.significant, nonzero)[0] > _commonest(shown, nonzero)[0]
    relative = nonzero.any(axis=1) & (some.exponents | (by_digits & (np.ptp(shown, axis=1) > 0)))
    digits = np.where(nonzero, some.significant, np.iinfo(np.intp).min).max(axis=1).tolist()
    decimals = np.where(some.exponents, 0, shown.max(axis=1)).tolist()
    most = np.where(columns.exponents, 0, columns.decimals.max(axis=1)).tolist()
    found = []
    for k, is_relative in enumerate(relative.tolist()):
        if most[k] > EXACT_DIGITS:
            found.append(Step(10.0 ** -most[k], decimals=most[k]))  # finer than a double tells apart
        elif is_relative:
            found.append(Step(0.0, 10.0 ** (1 - digits[k]), decimals=decimals[k]))
        else:
            found.append(Printed(columns.values[k], columns.decimals[k], columns.leads[k]).step)
    return found
