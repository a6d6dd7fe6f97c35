"""How a column of numbers prints: its decimals, its digits, and the step it can show."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.printed_step import Step
from sweepkit.readers.number_block import EXACT_DIGITS, NO_EXPONENT, NO_MARK, Block
from sweepkit.readers.numbers import POINTS, Style, group_mark

GROUPED = -1  # with a mark between thousands
PIECE_ROWS = 1 << 14  # of a long column at a time: what is worked out beside it stays small; our own choice
ENOUGH_NUMBERS = 8  # fewer tell nothing of how a column prints; our own choice
STEP_ROWS = 64  # rows looked at for the printed step; our own choice
LEAST_POWER = -323  # of ten, that a double holds (IEEE 754-2019)
_TENS = np.array([float(f"1e{power}") for power in range(LEAST_POWER, 309)])
_LAST_NUMBER = re.compile(r"[+-]?\s?(\d*)(?:([.,])(\d*))?(?:[eEdD]([+-]?\d+))?[^0-9.,]*$")


@dataclass(frozen=True)
class Printed:
    """A column of numbers as they print, shape (n,)."""

    values: FloatArray  # in the printed unit
    decimals: NDArray[Any]  # digits behind the mark, NO_MARK without one
    leads: NDArray[Any]  # digits before the mark of numbers with an exponent, else NO_EXPONENT
    wholes: NDArray[Any] | None = None  # digits before the mark, or GROUPED; where it was looked at

    @classmethod
    def of_block(cls, block: Block, first: int, width: int, rows: int) -> Printed:
        """Column ``first`` of a block whose rows all have ``width`` numbers and do not all print alike."""
        every = slice(first, rows * width, width)
        return cls(block.values[every], block.decimals[every], block.leads[every])

    @classmethod
    def of_texts(cls, texts: Iterable[str], values: NDArray[Any], style: Style = POINTS) -> Printed:
        """Numbers in any writing; of a complex number the last part counts."""
        other, grouped = "." if style.decimal == "," else ",", group_mark(style)
        forms = []
        for text in texts:
            bare = text.removesuffix(":1").replace(other, "")
            match = _LAST_NUMBER.search(bare)
            before, mark, behind, exponent = match.groups() if match else ("", None, "", None)
            lead = NO_EXPONENT if exponent is None else len(before)
            whole = GROUPED if grouped.search(text) else len(before)
            forms.append((len(behind) if mark else NO_MARK, lead, bare.count(style.decimal), whole))
        decimals, leads, marks, wholes = np.array(forms, dtype=np.int16).reshape(-1, 4).T
        all_marks = marks == marks.max(initial=0)  # a complex number has two
        real = np.asarray(values.imag if np.iscomplexobj(values) else values)
        return cls(real, np.where(all_marks, decimals, NO_MARK), leads, wholes)

    @classmethod
    def joined(cls, parts: list[Printed]) -> Printed:
        """Parts of one column, in order."""
        columns = zip(*((one.values, one.decimals, one.leads, one.wholes) for one in parts), strict=True)
        return cls(*(np.concatenate(column) for column in columns if column[0] is not None))

    def oddly_grouped(self) -> int | None:
        """The first row that shows that marks between thousands stand in some numbers only, or none."""
        wholes, shown = self.wholes, np.maximum(self.decimals, 0)
        if wholes is None or not (grouped := wholes == GROUPED).any():
            return None
        rows = [max(_first(grouped), _first(wholes > 3))]
        for decimals in set(shown[grouped].tolist()):
            row = max(_first(grouped & (shown == decimals)), _first(~grouped))
            rows.append(row if row < _first(~grouped & (shown == decimals)) else wholes.size)
        return min(rows) if min(rows) < wholes.size else None

    @property
    def step(self) -> Step:
        """Smallest step: relative where the count of digits is what the numbers share, else absolute."""
        most = int(self.decimals.max())
        if most > EXACT_DIGITS and not self.exponents:
            return Step(10.0**-most, decimals=most)  # finer than a double tells apart
        some = self.some
        shown, exponents = max(int(some.decimals.max()), 0), some.exponents
        if not exponents and shown == max(int(some.decimals.min()), 0):
            return _fixed_step(some.values.tolist(), shown)
        digits = some.significant[some.values != 0]
        if digits.size and (exponents or some.by_digits() > 0):
            return Step(0.0, 10.0 ** (1 - int(digits.max())), decimals=0 if exponents else shown)
        return _fixed_step(some.values.tolist(), shown)

    @cached_property
    def some(self) -> Printed:
        """Numbers from all along the column, enough to tell its step."""
        return self.taken(slice(None, None, max(1, self.values.size // STEP_ROWS)))

    def taken(self, which: slice | NDArray[Any]) -> Printed:
        """Some of the numbers."""
        return Printed(self.values[which], self.decimals[which], self.leads[which])

    @property
    def exponents(self) -> bool:
        """Whether a number has an exponent."""
        return bool(self.leads.max() >= 0)

    @cached_property
    def significant(self) -> NDArray[np.int16]:
        """Digits from the first that is not 0 on; all digits of numbers with an exponent."""
        digits: NDArray[np.int16] = np.maximum(self.decimals, 0).astype(np.int16)
        for start in range(0, digits.size, PIECE_ROWS):
            rows = slice(start, start + PIECE_ROWS)
            leads = self.leads[rows]
            digits[rows] += np.where(leads >= 0, leads, digits_before_mark(self.values[rows])).astype(
                np.int16
            )
        return digits

    @cached_property
    def often(self) -> NDArray[np.int64]:
        """How often: zeros and others, by decimals from no mark on, by digits from the fewest on."""
        least, digits = int(self.significant.min()), self.significant
        shape = (max(int(self.decimals.max()), 0) - NO_MARK + 1, int(digits.max()) - least + 1)
        found = np.zeros((2, shape[0] * shape[1]), dtype=np.int64)
        for start in range(0, digits.size, PIECE_ROWS):
            rows = slice(start, start + PIECE_ROWS)
            place = (self.decimals[rows].astype(np.int32) - NO_MARK) * shape[1] + (digits[rows] - least)
            zeros = place[self.values[rows] == 0]
            found += [np.bincount(which, minlength=found.shape[1]) for which in (zeros, place)]
        found[1] -= found[0]
        return found.reshape(2, *shape)

    @property
    def shown(self) -> NDArray[np.int64]:
        """The same by decimals alone, where no mark is as good as nothing behind it."""
        often = self.often.sum(axis=2)
        often[:, 1] += often[:, 0]
        return np.asarray(often[:, 1:])

    @property
    def usual(self) -> int:
        """The commonest decimals."""
        return int(self.often.sum(axis=(0, 2)).argmax()) + NO_MARK

    @property
    def usual_lead(self) -> int:
        """The commonest lead."""
        return int(np.bincount(self.leads.astype(np.int64) - NO_EXPONENT).argmax()) + NO_EXPONENT

    @property
    def usual_digits(self) -> int:
        """The commonest count of digits."""
        return int(self.often.sum(axis=(0, 1)).argmax()) + int(self.significant.min())

    def by_digits(self) -> int:
        """1 where numbers but 0 share a count of digits, -1 where one of decimals, 0 where both or none."""
        shared = int(self.often[1].sum(axis=0).max())
        return int(np.sign(shared - self.shown[1].max())) if shared else -1


def digits_before_mark(values: FloatArray) -> NDArray[np.intp]:
    """How many; below 0.1 it is 0 less the zeros behind the mark, of 0 itself 1."""
    size = np.abs(values)
    size = np.where((size > 0) & (size < np.inf), size, 1.0)
    low, high = np.searchsorted(_TENS, [size.min(), size.max()], side="right")
    return np.asarray(low + LEAST_POWER + np.searchsorted(_TENS[low:high], size, side="right"))


def column_step(block: Block, first: int, width: int, rows: int) -> Step:
    """Smallest step of column ``first`` of a block whose rows all have ``width`` numbers."""
    if not block.is_even:
        return Printed.of_block(block, first, width, rows).step
    decimals, lead = max(int(block.decimals[first]), 0), int(block.leads[first])
    if lead >= 0:
        return Step(0.0, 10.0 ** (1 - lead - decimals))
    return _fixed_step(
        block.values[first : rows * width : width * max(1, rows // STEP_ROWS)].tolist(), decimals
    )


def _fixed_step(values: list[float], shown: int) -> Step:
    used = shown
    while used > 0 and len(values) >= ENOUGH_NUMBERS and all(ends_in_zero(value, used) for value in values):
        used -= 1  # all end in 0: the instrument shows no more
    return Step(10.0**-used, decimals=shown)


def ends_in_zero(values: Any, decimals: Any) -> Any:
    """Whether the last decimal of each is 0."""
    scaled = values * 10.0 ** (decimals - 1.0)
    return abs(scaled - np.rint(scaled)) < 1e-4


def _first(wanted: NDArray[np.bool_]) -> int:
    """The first row where there is one, else the count of rows."""
    return int(wanted.argmax()) if wanted.any() else wanted.size
