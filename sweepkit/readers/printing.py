"""How a column of numbers prints: its decimals, its digits, the step it can show, and the row that is unlike it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_step import PrintedStep, Step
from sweepkit.readers.number_block import EXACT_DIGITS, NO_EXPONENT, NO_MARK, Block
from sweepkit.readers.numbers import POINTS, Style, group_mark
from sweepkit.readers.options import Options

GROUPED = -1
PIECE_ROWS = 1 << 14  # of a long column at a time: what is worked out beside it stays small; our own choice
FEWEST_NUMBERS = 4  # of which one may be unlike three others; our own choice
ENOUGH_NUMBERS = 8  # fewer tell nothing of how a column prints; our own choice
STEP_ROWS = 64  # rows looked at for the printed step; our own choice
RARE = 0.05  # of a column; more odd numbers are the way it is written; our own choice
LEAP = 5.0  # times the size of the neighbours: no part of the curve; our own choice
CLOSE = 0.02  # of their size: so near to them lies a number that lost its mark; our own choice
SMOOTH = 0.2  # of their size: neighbours that tell where the mark belongs; our own choice
ROUGH = 0.5  # of their size: neighbours that tell nothing; our own choice
# Of the range of four neighbours: how far outside it a number may lie on a smooth curve, a third at the foot of a dip,
# or by noise; a burst goes further. Our own choice.
REACH = 1.0
FEW_DIGITS = (
    3  # so short a number meets its neighbours' digits by chance, and a burst may print so; our own choice
)
KEPT = 0.9  # of all numbers do not end in 0
BY_CHANCE = 1e-3  # so rarely would a writer that drops last zeros leave a number so short; our own choice
HARMLESS_DECIMALS = 6  # of a number that lost all behind them little is missing; our own choice
_LAST_NUMBER = re.compile(r"[+-]?\s?(\d*)(?:([.,])(\d*))?(?:[eEdD]([+-]?\d+))?[^0-9.,]*$")


@dataclass(frozen=True)
class Odd:
    """A row that prints unlike the others; where that is not sure it may be measured so."""

    row: int  # from 0
    sure: bool = True


@dataclass(frozen=True)
class Printed:
    """A column of numbers as they print, shape (n,)."""

    values: FloatArray  # in the printed unit
    decimals: NDArray[Any]  # digits behind the mark, NO_MARK without one
    leads: NDArray[Any]  # digits before the mark of numbers with an exponent, else NO_EXPONENT
    wholes: NDArray[Any] | None = (
        None  # digits before the mark, GROUPED with a mark between thousands, if looked at
    )

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
        some = self._some
        shown, exponents = max(int(some.decimals.max()), 0), some.exponents
        if not exponents and shown == max(int(some.decimals.min()), 0):
            return _fixed_step(some.values.tolist(), shown)
        digits = some._significant[some.values != 0]
        if digits.size and (exponents or some._by_digits() > 0):
            return Step(0.0, 10.0 ** (1 - int(digits.max())), decimals=0 if exponents else shown)
        return _fixed_step(some.values.tolist(), shown)

    @cached_property
    def _some(self) -> Printed:
        """Numbers from all along the column, enough to tell its step."""
        return self._taken(slice(None, None, max(1, self.values.size // STEP_ROWS)))

    def _taken(self, which: slice | NDArray[Any]) -> Printed:
        return Printed(self.values[which], self.decimals[which], self.leads[which])

    @property
    def exponents(self) -> bool:
        """Whether a number has an exponent."""
        return bool(self.leads.max() >= 0)

    @cached_property
    def _significant(self) -> NDArray[np.int16]:
        """Digits from the first that is not 0 on; all digits of numbers with an exponent."""
        digits: NDArray[np.int16] = np.maximum(self.decimals, 0).astype(np.int16)
        for start in range(0, digits.size, PIECE_ROWS):
            rows = slice(start, start + PIECE_ROWS)
            size, leads = np.abs(self.values[rows]), self.leads[rows]
            power = np.floor(np.log10(np.where((size > 0) & (size < np.inf), size, 1.0))).astype(np.int16)
            digits[rows] += np.where(leads >= 0, leads, power + 1).astype(np.int16)
        return digits

    @cached_property
    def _often(self) -> NDArray[np.int64]:
        """How often: zeros and others, by decimals from no mark on, by digits from the fewest on."""
        least, digits = int(self._significant.min()), self._significant
        shape = (2, max(int(self.decimals.max()), 0) - NO_MARK + 1, int(digits.max()) - least + 1)
        found = np.zeros(np.prod(shape), dtype=np.int64)
        for start in range(0, digits.size, PIECE_ROWS):
            rows = slice(start, start + PIECE_ROWS)
            row = (self.values[rows] != 0) * shape[1] + (self.decimals[rows].astype(np.int64) - NO_MARK)
            found += np.bincount(row * shape[2] + digits[rows] - least, minlength=found.size)
        return found.reshape(shape)

    @property
    def _shown(self) -> NDArray[np.int64]:
        """The same by decimals alone, where no mark is as good as nothing behind it."""
        often = self._often.sum(axis=2)
        often[:, 1] += often[:, 0]
        return np.asarray(often[:, 1:])

    @property
    def _usual(self) -> int:
        """The commonest decimals."""
        return int(self._often.sum(axis=(0, 2)).argmax()) + NO_MARK

    @property
    def _usual_digits(self) -> int:
        return int(self._often.sum(axis=(0, 1)).argmax()) + int(self._significant.min())

    def _by_digits(self) -> int:
        """1 where numbers but 0 share a count of digits, -1 where one of decimals, 0 where both or none."""
        shared = int(self._often[1].sum(axis=0).max())
        return int(np.sign(shared - self._shown[1].max())) if shared else -1

    def odd_row(self, *, cut_short: bool = False, never_alone: bool = False) -> Odd | None:
        """The first row that was damaged behind or at its mark, or none.

        ``cut_short``: no line end follows the last. ``never_alone``: frequencies, of which none leaps by itself.

        A writer may drop last zeros, print as many digits as a value needs, or change its range: what any of these
        prints is sound. A number is damaged where its digits fit its neighbours with the mark in another place, where
        it is alone in lacking digits that the column shows it keeps, or where it has lost what all others have.
        """
        n = self.values.size
        others = int(np.count_nonzero(self.decimals != self.decimals[0]))
        if n < FEWEST_NUMBERS or (others == 0 and (self.leads == self.leads[0]).all()):
            return None
        at_mark = self._at_mark(never_alone)
        if (at_mark is not None and at_mark.sure) or (not cut_short and self._ends_where_values_do(others)):
            return at_mark
        usual = self._usual
        if n >= ENOUGH_NUMBERS and self._prints_all_there_is(usual):
            return self._cut(usual, cut_short) or at_mark
        doubtful = np.isfinite(self.values) & ~self._usual_zeros(usual)
        if n >= ENOUGH_NUMBERS:
            lacking = self._lacking((self.decimals != usual) & doubtful, doubtful)
            if lacking.any():
                return Odd(int(np.argmax(lacking)))
        return self._cut(usual, cut_short) or at_mark

    def _ends_where_values_do(self, others: int) -> bool:
        """Whether many numbers print more digits than are exact, of which none lacks any that matter."""
        many = self.values.size >= ENOUGH_NUMBERS and RARE < others / self.values.size < 1 - RARE
        if not many or self.decimals.max() <= EXACT_DIGITS or self.exponents:
            return False
        short = self.decimals < HARMLESS_DECIMALS
        return not short.any() or bool(((self.values[short] == 0) & (self.decimals[short] == 1)).all())  # 0.0

    def _prints_all_there_is(self, usual: int) -> bool:
        """Whether numbers of more digits than are exact end where their values do: then no count of digits is odd."""
        others = (self.decimals != usual) & (self.values != 0) & np.isfinite(self.values)
        if np.count_nonzero(others) <= max(1, RARE * others.size):
            return False
        return bool(self._some._significant.max() > EXACT_DIGITS)

    def _at_mark(self, never_alone: bool) -> Odd | None:
        """The first number whose mark was moved or lost; sure where its size alone would not print so."""
        leaps = np.flatnonzero(self._leaps())
        if not 0 < leaps.size <= max(1, RARE * self.values.size):
            return None
        leaps = leaps[
            [not low <= self.values[at] <= high for at in leaps for low, high in [self._near(int(at))]]
        ]
        if not leaps.size:
            return None
        usual, digits = self._usual, self._significant
        others = self._taken(np.delete(np.arange(digits.size), leaps))
        by_digits = others._by_digits()
        if (by_digits == 0 and np.ptp(others.decimals) > 0) or others._significant.max() > EXACT_DIGITS:
            by_digits = 1  # it drops last zeros, as writers do that count digits
        found = None
        for at in map(int, leaps):
            no_mark = self.decimals[at] == NO_MARK
            too_many = digits[at] > (self._usual_digits if by_digits > 0 else EXACT_DIGITS)
            if too_many and no_mark and usual > 0 and self.leads[at] < 0:
                return Odd(at)
            if by_digits > 0 or self.decimals[at] != usual:
                share = self._fits_elsewhere(at, usual if by_digits <= 0 else None)
                if share is not None and (
                    never_alone
                    or by_digits < 0
                    or (by_digits == 0 and (no_mark or digits[at] > FEW_DIGITS or share < BY_CHANCE))
                ):
                    return Odd(at)
                found = found or (None if share is None else Odd(at, sure=False))
        return found if self.values.size >= ENOUGH_NUMBERS else None

    def _leaps(self) -> NDArray[np.bool_]:
        """Numbers of quite another size than the two on each side."""
        found = np.zeros(self.values.size, dtype=bool)
        for start in range(0, found.size, PIECE_ROWS):
            first, end = max(0, start - 2), start + PIECE_ROWS
            found[start:end] = _leaping(np.abs(self.values[first : end + 2]))[start - first : end - first]
        return found

    def _fits_elsewhere(self, at: int, usual: int | None) -> float | None:
        """The share of numbers that would, where the digits fit the neighbours with the mark in another place.

        The *usual* one, or any where that is none.
        """
        low, high = self._near(at)
        size, value = max(abs(low), abs(high)), float(self.values[at])
        if usual is None and high - low > ROUGH * size:
            return None  # anything fits
        if usual is None:
            there = value * 10.0 ** -round(np.log10(abs(value) / size))
            spread = max(high - low, CLOSE * size)
        else:
            there = value * 10.0 ** (max(int(self.decimals[at]), 0) - max(usual, 0))
            lost = self.decimals[at] == NO_MARK and np.sum(self.decimals != usual) == 1
            spread = max(high - low, CLOSE * size if lost else 2 * 10.0 ** -max(usual, 0))
        beyond = self._reach(at, spread) if spread <= SMOOTH * size else 0.0
        if not low - beyond <= there <= high + beyond:
            return None
        return float(
            (high - low + 2 * beyond) / size / np.log(10)
        )  # leading digits lie even in the logarithm

    def _reach(self, at: int, spread: float) -> float:
        """How far outside the range of its neighbours a number may lie; an end has them on one side."""
        return REACH * spread * (2 if at in (0, self.values.size - 1) else 1)

    def _cut(self, usual: int, cut_short: bool) -> Odd | None:
        """The number that lacks most digits, where no writer would drop so many and it leaves the curve."""
        if self.exponents:
            return self._lost_exponent()
        if self.decimals.min() >= HARMLESS_DECIMALS:
            return None
        digits, common = np.maximum(self.decimals, 0), int(self._shown.sum(axis=0).argmax())
        if self._by_digits() > 0:
            digits, common = self._significant, self._usual_digits
        at = int(np.argmin(digits))
        if cut_short and digits[-1] < common:
            at = digits.size - 1
        lacks, at_end = int(common - digits[at]), cut_short and at == digits.size - 1
        bare = (
            self.decimals[at] == 0 and np.count_nonzero(self.decimals == 0) == 1
        )  # a mark and nothing behind it
        low, high = self._near(at)
        reach = self._reach(at, max(high - low, 2 * 10.0 ** -max(usual, 0)))
        if bare and at_end:
            return Odd(at)
        if lacks <= 0 or (digits.size < ENOUGH_NUMBERS and not at_end):
            return None
        if low - reach <= self.values[at] <= high + reach:  # little harm
            return Odd(at, sure=False) if at_end and 10.0**-lacks < BY_CHANCE**2 else None
        kept = KEPT ** (digits.size - 1) if np.count_nonzero(digits != common) == 1 else 1.0
        chance = kept * 10.0**-lacks * (1 if at_end else digits.size)
        if bare or chance < BY_CHANCE:
            return Odd(at)
        return Odd(at, sure=False) if at_end and (lacks > 2 or self._leaps()[at]) else None

    def _lost_exponent(self) -> Odd | None:
        """The one number that lost its exponent or decimals, where all others print with as many digits."""
        lead, usual = _mode(self.leads), self._usual
        odd = np.flatnonzero((self.leads != lead) | (self.decimals != usual))
        alone = (
            odd.size == 1 and self.values.size >= ENOUGH_NUMBERS and self.values[odd[0]] != 0 and lead >= 0
        )
        return Odd(int(odd[0])) if alone and self.decimals[odd[0]] <= usual else None

    def _near(self, at: int) -> tuple[float, float]:
        """Range of the two numbers on each side."""
        near = np.concatenate([self.values[max(0, at - 2) : at], self.values[at + 1 : at + 3]])
        return float(near.min()), float(near.max())

    def _usual_zeros(self, usual: int) -> NDArray[np.bool_]:
        """Zeros, which print in any way, but for what is left of a number that was cut: one far from its neighbours."""
        zeros = self.values == 0
        odd = np.flatnonzero(zeros & (self.decimals != usual))
        rare = odd.size <= max(1, RARE * zeros.size)
        for at in odd[odd > 0] if rare else ():  # the first may stand at 0 Hz
            low, high = self._near(int(at))
            reach = max(high - low, 2 * 10.0 ** -max(usual, 0))
            zeros[at] = low - 2 * reach <= 0 <= high + 2 * reach
        return np.asarray(zeros)

    def _lacking(self, odd: NDArray[np.bool_], doubtful: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Lone numbers with fewer or more digits than the others, where the others show that they keep their zeros."""
        n, none = odd.size, np.zeros(odd.size, dtype=bool)
        digits = self._significant
        shared = [self._often.sum(axis=axes).max() for axes in ((0, 1), (0, 2))]  # digits, decimals
        if shared[0] > shared[1]:
            odd = (digits != self._usual_digits) & doubtful
        elif shared[0] == shared[1]:
            odd = odd & (digits != self._usual_digits)
        if odd.sum() > max(1, RARE * n) or digits.max() > EXACT_DIGITS or self._ranges(odd):
            return none
        before, behind = np.roll(self.decimals, 1), np.roll(self.decimals, -1)
        before[0], behind[-1] = behind[0], before[-1]
        alone = odd & (self.decimals != before) & (self.decimals != behind)  # a range has a neighbour
        zeros = none if self.exponents else _end_in_zero(self.values, self.decimals) & (self.values != 0)
        zeros = zeros & ~odd
        if not (zeros & (self.decimals >= 2)).any():
            alone &= (self.decimals == NO_MARK) & bool((zeros & (self.decimals == 1)).any())  # 48 beside 48.0
        return np.asarray(alone)

    def _ranges(self, odd: NDArray[np.bool_]) -> bool:
        """Whether the odd numbers are those of other powers of ten, as a meter prints that changes its range."""
        if not odd.any() or self.exponents or (self.values[odd] == 0).any():
            return False
        power = np.floor(np.log10(np.maximum(np.abs(self.values), 1e-9)))
        return bool(power[odd].min() > power[~odd].max() or power[odd].max() < power[~odd].min())


def refuse_odd(
    printed: Printed,
    lines: NDArray[np.int64],
    heading: str = "",
    *,
    cut_short: bool = False,
    never_alone: bool = False,
) -> tuple[Finding, ...]:
    """Refuse a number that lost its mark or its last digits; say one that may be measured so.

    Raises ``UnreadableFile``: its line.
    """
    odd = printed.odd_row(cut_short=cut_short, never_alone=never_alone)
    if odd is None:
        return ()
    line = int(lines[odd.row])
    value = f"{printed.values[odd.row]:.10g}{f' in column {heading}' if heading else ''}"
    if not odd.sure:
        text = f"line {line}: {value} looks like a number of its neighbours that lost its mark or last digits"
        return (doubtful_row(text),)
    usual = _mode(printed.leads) >= 0 > printed.leads[odd.row]
    here, others = (
        ("no exponent", "one")
        if usual
        else (_decimals_text(printed.decimals[odd.row]), _decimals_text(printed._usual))
    )
    raise UnreadableFile(
        f"{value} has {here}, the numbers around it have {others}; expected one way of writing; the row looks damaged "
        "- correct it, or export the sweep again",
        line=line,
    )


def doubtful_row(text: str) -> Finding:
    """Say a row that may be damaged."""
    return Finding(
        "row-doubtful", "warning", text, "compare the line with the analyzer's screen, or sweep again"
    )


def _decimals_text(decimals: int) -> str:
    if decimals == NO_MARK:
        return "no decimal mark"
    return "1 decimal" if decimals == 1 else f"{decimals} decimals"


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
    while used > 0 and len(values) >= ENOUGH_NUMBERS and all(_end_in_zero(value, used) for value in values):
        used -= 1  # all end in 0: the instrument shows no more
    return Step(10.0**-used, decimals=shown)


def _end_in_zero(values: Any, decimals: Any) -> Any:
    """Whether the last decimal of each is 0."""
    scaled = values * 10.0 ** (decimals - 1.0)
    return abs(scaled - np.rint(scaled)) < 1e-4


def _leaping(size: FloatArray) -> NDArray[np.bool_]:
    if not ((size[1:] > LEAP * size[:-1]) | (size[:-1] > LEAP * size[1:])).any():  # most columns, told fast
        return np.zeros(size.size, dtype=bool)
    least, most = (_of_neighbours(near, size, end) for near, end in ((np.minimum, np.inf), (np.maximum, 0.0)))
    other = (size > LEAP * most) | (size * LEAP < least)
    return np.asarray(other & (size > 0) & (most > 0) & np.isfinite(size + most))


def _of_neighbours(nearer: np.ufunc, sizes: FloatArray, end: float) -> FloatArray:
    """Least or most of the two numbers on each side, with *end* beyond the ends."""
    around = np.full(sizes.size + 4, end)
    around[2:-2] = sizes
    found = nearer(around[:-4], around[1:-3])
    for others in (around[3:-1], around[4:]):
        nearer(found, others, out=found)
    return np.asarray(found)


def _first(wanted: NDArray[np.bool_]) -> int:
    """The first row where there is one, else the count of rows."""
    return int(wanted.argmax()) if wanted.any() else wanted.size


def _mode(counts: NDArray[Any]) -> int:
    return int(np.bincount(counts.astype(np.int64) + 1).argmax()) - 1  # from NO_EXPONENT on


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
    options: Options, reference_ohm: float, steps: list[Step], *, absolute: bool
) -> PrintedStep | None:
    """Printed step of one port's pairs of numbers in a Touchstone file."""
    names = _NAMES.get((options.parameter, options.number_format))
    if names is None:
        return None
    unit = {"S": 1.0, "Z": reference_ohm, "Y": 1 / reference_ohm}[options.parameter]
    unit = 1.0 if absolute else unit
    second = unit if options.number_format == "RI" else np.pi / 180
    return PrintedStep(names, (steps[0].scaled(unit), steps[1].scaled(second)), reference_ohm)
