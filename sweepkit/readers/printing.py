"""How a column of numbers prints: its decimals, its digits, the step it can show, and the row that is unlike it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.printed_step import PrintedStep, Step
from sweepkit.readers.number_block import EXACT_DIGITS, NO_MARK, Block
from sweepkit.readers.options import Options

FEWEST_NUMBERS = 4  # of which one may be unlike three others; our own choice
ENOUGH_NUMBERS = 8  # fewer tell nothing of how a column prints; our own choice
STEP_ROWS = 64  # rows looked at for the printed step; our own choice
SURELY_FIXED = (
    0.02  # chance below which numbers that drop their last zeros would all keep them; our own choice
)
LEAP = 5.0  # times the spread of the neighbours, or their size: no part of the curve; our own choice
_LAST_NUMBER = re.compile(r"[+-]?\s?(\d*)(?:([.,])(\d*))?(?:[eEdD]([+-]?\d+))?[^0-9.,]*$")


@dataclass(frozen=True)
class Printed:
    """A column of numbers as they print.

    Parameters
    ----------
    values : float array, shape (n,)
        In the printed unit.
    decimals : int array, shape (n,)
        Digits behind the mark, ``NO_MARK`` without one.
    digits : int array, shape (n,)
        Digits of the mantissa.
    exponents : bool
        Whether most numbers have an exponent.
    """

    values: FloatArray
    decimals: NDArray[Any]
    digits: NDArray[Any]
    exponents: bool = False

    @classmethod
    def of_block(cls, block: Block, first: int, width: int) -> Printed:
        """Column ``first`` of a block whose lines all have ``width`` numbers."""
        decimals = block.decimals[first::width]
        digits = block.left[first::width] + np.maximum(decimals, 0)
        return cls(block.values[first::width], decimals, digits, block.exponents)

    @classmethod
    def of_texts(cls, texts: Iterable[str], values: NDArray[Any], decimal: str = ".") -> Printed:
        """Numbers in any writing; of a complex number the last part counts."""
        decimals, digits, exponents = [], [], 0
        marks: list[int] = []
        for text in texts:
            text = text.removesuffix(":1").replace("." if decimal == "," else ",", "")
            match = _LAST_NUMBER.search(text)
            before, mark, behind, exponent = match.groups() if match else ("", None, "", None)
            marks.append(text.count(decimal))
            decimals.append(len(behind) if mark and marks[-1] == marks[0] else NO_MARK)
            digits.append(len(before) + len(behind or ""))
            exponents += exponent is not None
        real = values.imag if np.iscomplexobj(values) else values
        shown = (np.array(decimals, dtype=np.int16), np.array(digits, dtype=np.int16))
        return cls(np.asarray(real), *shown, 2 * exponents > len(digits))

    @classmethod
    def joined(cls, parts: list[Printed]) -> Printed:
        """Parts of one column, in order."""
        return cls(
            np.concatenate([one.values for one in parts]),
            np.concatenate([one.decimals for one in parts]),
            np.concatenate([one.digits for one in parts]),
            any(one.exponents for one in parts),
        )

    @property
    def step(self) -> Step:
        """Smallest step: relative where the count of digits is what the numbers share, else absolute."""
        apart = max(1, self.values.size // STEP_ROWS)
        values, decimals = self.values[::apart], np.maximum(self.decimals[::apart], 0)
        shown = int(decimals.max(initial=0))
        if not self.exponents and (decimals == shown).all():
            return self._fixed_step(values, shown)
        digits = _significant(values, decimals, self.digits[::apart], exponents=self.exponents)[values != 0]
        if digits.size and (self.exponents or _share(digits) > _share(decimals)):
            return Step(0.0, 10.0 ** (1 - int(digits.max())), decimals=0 if self.exponents else shown)
        return self._fixed_step(values, shown)

    @staticmethod
    def _fixed_step(values: FloatArray, shown: int) -> Step:
        used = shown
        while used > 0 and values.size >= ENOUGH_NUMBERS and _ends_in_zero(values, used).all():
            used -= 1  # all end in 0: the instrument shows no more
        return Step(10.0**-used, decimals=shown)

    def odd_row(self, *, rising: bool = False, cut_short: bool = False) -> int | None:
        """The first row that does not print as the column does and is no part of its curve, or none.

        Parameters
        ----------
        rising : bool
            The column is the frequency.
        cut_short : bool
            The file ends without a line end.
        """
        n = self.values.size
        if n < FEWEST_NUMBERS or (self.decimals[1:] == self.decimals[0]).all():
            return None
        usual = _mode(self.decimals)
        odd = (self.decimals != usual) & np.isfinite(self.values)
        if cut_short and odd[-1] and self.decimals[-1] < self.decimals[:-1].min():
            return n - 1
        first = int(np.argmax(odd))
        lost_mark = odd.sum() == 1 and usual >= 2 and self.decimals[first] == NO_MARK
        if lost_mark and (not self._ranges(odd) or self._leaps(first, rising=rising)):
            return first  # of numbers that drop last zeros one in a hundred has no mark
        if n < ENOUGH_NUMBERS or self.exponents:
            return None
        digits = _significant(self.values, self.decimals, self.digits)
        if _share(digits) >= _share(self.decimals):
            odd &= digits != _mode(digits)
        kept = _ends_in_zero(self.values, self.decimals) & ~odd & (self.decimals > 0) & (self.values != 0)
        fixed = bool(kept.any()) or _chance_of_so_few(int(odd.sum()), n) < SURELY_FIXED
        fixed &= int(self.digits.max()) <= EXACT_DIGITS  # more are the shortest that read back the same
        wrong = odd if fixed and not self._ranges(odd) else np.zeros(n, dtype=bool)
        for at in np.flatnonzero((self.decimals != usual) & ~wrong)[:n]:
            wrong[at] = self._leaps(int(at), rising=rising)
        return int(np.argmax(wrong)) if wrong.any() else None

    def _ranges(self, odd: NDArray[np.bool_]) -> bool:
        """Whether the odd numbers are those of other powers of ten, as a meter prints that changes its range."""
        if not odd.any() or self.exponents:
            return False
        power = np.floor(np.log10(np.maximum(np.abs(self.values), 1e-9)))
        return bool(power[odd].min() > power[~odd].max() or power[odd].max() < power[~odd].min())

    def _leaps(self, at: int, *, rising: bool) -> bool:
        near = np.concatenate([self.values[max(0, at - 2) : at], self.values[at + 1 : at + 3]])
        low, high, value = near.min(), near.max(), self.values[at]
        spread = max(high - low, 2 * 10.0 ** -max(float(self.decimals.max()), 0.0))
        without_mark = self.decimals[at] <= 0 and abs(value) >= LEAP * np.abs(near).max()
        reach = (0.0 if 0 < at < self.values.size - 1 else 3.0) if rising else LEAP
        return bool(without_mark or value > high + reach * spread or value < low - reach * spread)


def refuse_odd(printed: Printed, lines: NDArray[np.int64], heading: str = "", **how: bool) -> None:
    """Refuse a number that lost its mark or its last digits.

    Raises
    ------
    UnreadableFile
        Its line.
    """
    at = printed.odd_row(**how)
    if at is not None:
        column = f" in column {heading}" if heading else ""
        raise UnreadableFile(
            f"{printed.values[at]:.10g}{column} has {_decimals_text(printed.decimals[at])}, the numbers around it have "
            f"{_decimals_text(_mode(printed.decimals))}; expected one way of writing; the row looks damaged - "
            "correct it, or export the sweep again",
            line=int(lines[at]),
        )


def _decimals_text(decimals: int) -> str:
    if decimals == NO_MARK:
        return "no decimal mark"
    return "1 decimal" if decimals == 1 else f"{decimals} decimals"


def _significant(
    values: FloatArray, decimals: NDArray[Any], digits: NDArray[Any], *, exponents: bool = False
) -> NDArray[np.int64]:
    """Digits from the first that is not 0 on."""
    if exponents:
        return np.asarray(digits, dtype=np.int64)
    size = np.abs(values)
    power = np.floor(np.log10(np.where((size > 0) & np.isfinite(size), size, 1.0))).astype(np.int64)
    return np.asarray(np.maximum(decimals, 0) + power + 1, dtype=np.int64)


def _ends_in_zero(values: FloatArray, decimals: int | NDArray[Any]) -> NDArray[np.bool_]:
    scaled = values * 10.0 ** (np.asarray(decimals, dtype=np.float64) - 1)
    return np.asarray(np.abs(scaled - np.round(scaled)) < 1e-4)


def _mode(counts: NDArray[Any]) -> int:
    shifted = np.asarray(counts, dtype=np.int64) - int(counts.min())
    return int(np.bincount(shifted).argmax()) + int(counts.min())


def _share(counts: NDArray[Any]) -> float:
    return float(np.mean(counts == _mode(counts)))


def _chance_of_so_few(found: int, numbers: int) -> float:
    """Chance that at most so many of the numbers end in 0, one in ten each (binomial distribution)."""
    if found > 0.1 * numbers:
        return 1.0
    total, term = 0.0, 0.9**numbers
    for k in range(found + 1):
        total += term
        term *= (numbers - k) / (k + 1) / 9
    return total


_NAMES = {
    ("S", "RI"): ("re", "im"),
    ("S", "MA"): ("mag", "s_phase"),
    ("S", "DB"): ("db", "s_phase"),
    ("Z", "RI"): ("r", "x"),
    ("Z", "MA"): ("z_abs", "z_phase"),
    ("Y", "RI"): ("g", "b"),
    ("Y", "MA"): ("y_abs", "y_phase"),
}


def network_step(
    options: Options, reference_ohm: float, columns: tuple[Printed, Printed], *, absolute: bool
) -> PrintedStep | None:
    """Printed step of one port's pairs of numbers in a Touchstone file."""
    names = _NAMES.get((options.parameter, options.number_format))
    if names is None:
        return None
    unit = {"S": 1.0, "Z": reference_ohm, "Y": 1 / reference_ohm}[options.parameter]
    unit = 1.0 if absolute else unit
    second = unit if options.number_format == "RI" else np.pi / 180
    return PrintedStep(names, (columns[0].step.scaled(unit), columns[1].step.scaled(second)), reference_ohm)
