"""The row that prints unlike the others of its column: a number that lost its mark or digits.

Where surely none does, ``uneven_columns`` tells it of many columns at once; a new rule belongs there, too.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.number_block import EXACT_DIGITS, NO_MARK
from sweepkit.readers.printing import ENOUGH_NUMBERS, PIECE_ROWS, Printed, ends_in_zero

FEWEST_NUMBERS = 4  # of which one may be unlike three others; our own choice
RARE = 0.05  # of a column; more odd numbers are the way it is written; our own choice
LEAP = 5.0  # times the size of the neighbours: no part of the curve; our own choice
CLOSE = 0.02  # of their size: so near to them lies a number that lost its mark; our own choice
SMOOTH = 0.2  # of their size: neighbours that tell where the mark belongs; our own choice
ROUGH = 0.5  # of their size: neighbours that tell nothing; our own choice
# Of the range of four neighbours: how far outside it a number may lie on a smooth curve, a third at the foot of a dip,
# or by noise; a burst goes further. Our own choice.
REACH = 1.0
FEW_DIGITS = 3  # so short a number meets its neighbours' by chance, and a burst may print so; our own choice
KEPT = 0.9  # of all numbers do not end in 0
BY_CHANCE = 1e-3  # so rarely would a writer that drops last zeros leave a number so short; our own choice
HARMLESS_DECIMALS = 6  # of a number that lost all behind them little is missing; our own choice


class Odd(NamedTuple):
    """A row that prints unlike the others; where that is not sure it may be measured so."""

    row: int  # from 0
    sure: bool = True


def odd_row(column: Printed, *, cut_short: bool = False, never_alone: bool = False) -> Odd | None:
    """The first row that was damaged behind or at its mark, or none.

    ``cut_short``: no line end follows the last. ``never_alone``: frequencies, of which none leaps by itself.

    A writer may drop last zeros, print as many digits as a value needs, or change its range: what any of these
    prints is sound. A number is damaged where its digits fit its neighbours with the mark in another place, where
    it is alone in lacking digits that the column shows it keeps, or where it has lost what all others have.
    """
    n = column.values.size
    others = int(np.count_nonzero(column.decimals != column.decimals[0]))
    if n < FEWEST_NUMBERS or (others == 0 and (column.leads == column.leads[0]).all()):
        return None
    at_mark = _at_mark(column, never_alone)
    if (at_mark is not None and at_mark.sure) or (not cut_short and _ends_where_values_do(column, others)):
        return at_mark
    usual = column.usual
    if n >= ENOUGH_NUMBERS and _prints_all_there_is(column, usual):
        return _cut(column, usual, cut_short) or at_mark
    doubtful = np.isfinite(column.values) & ~_usual_zeros(column, usual)
    if n >= ENOUGH_NUMBERS:
        lacking = _lacking(column, (column.decimals != usual) & doubtful, doubtful)
        if lacking.any():
            return Odd(int(np.argmax(lacking)))
    return _cut(column, usual, cut_short) or at_mark


def _ends_where_values_do(column: Printed, others: int) -> bool:
    """Whether many numbers print more digits than are exact, of which none lacks any that matter."""
    many = column.values.size >= ENOUGH_NUMBERS and RARE < others / column.values.size < 1 - RARE
    if not many or column.decimals.max() <= EXACT_DIGITS or column.exponents:
        return False
    short = column.decimals < HARMLESS_DECIMALS
    return not short.any() or bool(((column.values[short] == 0) & (column.decimals[short] == 1)).all())  # 0.0


def _prints_all_there_is(column: Printed, usual: int) -> bool:
    """Whether numbers of more digits than are exact end where their values do: then no count of digits is odd."""
    if column.some.significant.max() <= EXACT_DIGITS:
        return False
    others = (column.decimals != usual) & (column.values != 0) & np.isfinite(column.values)
    return bool(np.count_nonzero(others) > max(1, RARE * others.size))


def _at_mark(column: Printed, never_alone: bool) -> Odd | None:
    """The first number whose mark was moved or lost; sure where its size alone would not print so."""
    leaps = _leaps(column.values)
    if leaps.size > max(1, RARE * column.values.size):
        return None
    leaps = np.array(
        [
            at
            for at in leaps.tolist()
            if not _near(column, at)[0] <= column.values[at] <= _near(column, at)[1]
        ],
        dtype=np.int64,
    )
    if not leaps.size:
        return None
    usual, digits = column.usual, column.significant
    others = column.taken(np.delete(np.arange(digits.size), leaps))
    by_digits = others.by_digits()
    if (by_digits == 0 and np.ptp(others.decimals) > 0) or others.significant.max() > EXACT_DIGITS:
        by_digits = 1  # it drops last zeros, as writers do that count digits
    found = None
    for at in map(int, leaps):
        no_mark = column.decimals[at] == NO_MARK
        too_many = digits[at] > (column.usual_digits if by_digits > 0 else EXACT_DIGITS)
        if too_many and no_mark and usual > 0 and column.leads[at] < 0:
            return Odd(at)
        if by_digits > 0 or column.decimals[at] != usual:
            share = _fits_elsewhere(column, at, usual if by_digits <= 0 else None)
            if share is not None and (
                never_alone
                or by_digits < 0
                or (by_digits == 0 and (no_mark or digits[at] > FEW_DIGITS or share < BY_CHANCE))
            ):
                return Odd(at)
            found = found or (None if share is None else Odd(at, sure=False))
    return found if column.values.size >= ENOUGH_NUMBERS else None


def _leaps(values: FloatArray) -> NDArray[np.int64]:
    """Rows of quite another size than the two on each side."""
    found = [np.array([], dtype=np.int64)]
    for start in range(0, values.size, PIECE_ROWS):
        first = max(0, start - 2)
        size = np.abs(values[first : start + PIECE_ROWS + 2])
        if ((size[1:] > LEAP * size[:-1]) | (size[:-1] > LEAP * size[1:])).any():  # in few pieces
            ends = ((np.minimum, np.inf), (np.maximum, 0.0))
            least, most = (of_neighbours(near, size, end) for near, end in ends)
            leaping = ((size > LEAP * most) | (size * LEAP < least)) & (size > 0) & (most > 0)
            leaping &= np.isfinite(size + most)
            found.append(np.flatnonzero(leaping[start - first :][:PIECE_ROWS]) + start)
    return np.concatenate(found)


def of_neighbours(nearer: np.ufunc, sizes: FloatArray, end: float) -> FloatArray:
    """Least or most of the two numbers on each side along the last axis, with *end* beyond the ends."""
    around = np.full((*sizes.shape[:-1], sizes.shape[-1] + 4), end)
    around[..., 2:-2] = sizes
    return np.asarray(
        nearer(nearer(around[..., :-4], around[..., 1:-3]), nearer(around[..., 3:-1], around[..., 4:]))
    )


def _fits_elsewhere(column: Printed, at: int, usual: int | None) -> float | None:
    """The share of numbers that would, where the digits fit the neighbours with the mark in another place.

    The *usual* one, or any where that is none.
    """
    low, high = _near(column, at)
    size, value = max(abs(low), abs(high)), float(column.values[at])
    if usual is None and high - low > ROUGH * size:
        return None  # anything fits
    if usual is None:
        there = value * 10.0 ** -round(np.log10(abs(value) / size))
        spread = max(high - low, CLOSE * size)
    else:
        there = value * 10.0 ** (max(int(column.decimals[at]), 0) - max(usual, 0))
        lost = column.decimals[at] == NO_MARK and np.sum(column.decimals != usual) == 1
        spread = max(high - low, CLOSE * size if lost else 2 * 10.0 ** -max(usual, 0))
    beyond = _reach(column, at, spread) if spread <= SMOOTH * size else 0.0
    if not low - beyond <= there <= high + beyond:
        return None
    return float((high - low + 2 * beyond) / size / np.log(10))  # leading digits lie even in the logarithm


def _cut(column: Printed, usual: int, cut_short: bool) -> Odd | None:
    """The number that lacks most digits, where no writer would drop so many and it leaves the curve."""
    if column.exponents:
        return _lost_exponent(column) or (_lost_at_end(column) if cut_short else None)
    if column.decimals.min() >= HARMLESS_DECIMALS:
        return None
    digits, common = np.maximum(column.decimals, 0), int(column.shown.sum(axis=0).argmax())
    if column.by_digits() > 0:
        digits, common = column.significant, column.usual_digits
    at = int(np.argmin(digits))
    if cut_short and digits[-1] < common:
        at = digits.size - 1
    lacks, at_end = int(common - digits[at]), cut_short and at == digits.size - 1
    bare = column.decimals[at] == 0 and np.count_nonzero(column.decimals == 0) == 1  # alone with a bare mark
    low, high = _near(column, at)
    reach = _reach(column, at, max(high - low, 2 * 10.0 ** -max(usual, 0)))
    if bare and at_end:
        return Odd(at)
    if lacks <= 0 or (digits.size < ENOUGH_NUMBERS and not at_end):
        return None
    if low - reach <= column.values[at] <= high + reach:  # little harm
        return Odd(at, sure=False) if at_end and 10.0**-lacks < BY_CHANCE**2 else None
    kept = KEPT ** (digits.size - 1) if np.count_nonzero(digits != common) == 1 else 1.0
    chance = kept * 10.0**-lacks * (1 if at_end else digits.size)
    if bare or chance < BY_CHANCE:
        return Odd(at)
    return Odd(at, sure=False) if at_end and (lacks > 2 or at in _leaps(column.values)) else None


def _lost_exponent(column: Printed) -> Odd | None:
    """The one number that lost its exponent or decimals, where all others print with as many digits."""
    lead, usual, values = column.usual_lead, column.usual, column.values
    odd = np.flatnonzero((column.leads != lead) | (column.decimals != usual))
    alone = odd.size == 1 and values.size >= ENOUGH_NUMBERS and values[odd[0]] != 0 and lead >= 0
    return Odd(int(odd[0])) if alone and column.decimals[odd[0]] <= usual else None


def _lost_at_end(column: Printed) -> Odd | None:
    """The last number, where it is of quite another size without the exponent that small ones have in this column."""
    last, (low, high) = column.values.size - 1, _near(column, column.values.size - 1)
    if column.values[last] == 0 and not low - 2 * (high - low) <= 0 <= high + 2 * (high - low):
        return Odd(last)
    if column.leads[last] >= 0 or last not in _leaps(column.values):
        return None
    return Odd(last, sure=_fits_elsewhere(column, last, None) is not None)


def _near(column: Printed, at: int) -> tuple[float, float]:
    """Range of the two numbers on each side."""
    near = [*column.values[max(0, at - 2) : at], *column.values[at + 1 : at + 3]]
    return float(min(near)), float(max(near))


def _reach(column: Printed, at: int, spread: float) -> float:
    """How far outside the range of its neighbours a number may lie; an end has them on one side."""
    return REACH * spread * (2 if at in (0, column.values.size - 1) else 1)


def _usual_zeros(column: Printed, usual: int) -> NDArray[np.bool_]:
    """Zeros, which print in any way, but for what is left of a number that was cut: one far from its neighbours."""
    zeros = column.values == 0
    odd = np.flatnonzero(zeros & (column.decimals != usual))
    rare = odd.size <= max(1, RARE * zeros.size)
    for at in odd[odd > 0] if rare else ():  # the first may stand at 0 Hz
        low, high = _near(column, int(at))
        reach = max(high - low, 2 * 10.0 ** -max(usual, 0))
        zeros[at] = low - 2 * reach <= 0 <= high + 2 * reach
    return np.asarray(zeros)


def _lacking(column: Printed, odd: NDArray[np.bool_], doubtful: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Lone numbers with fewer or more digits than the others, where the others show that they keep their zeros."""
    n, none = odd.size, np.zeros(odd.size, dtype=bool)
    digits = column.significant
    shared = [column.often.sum(axis=axes).max() for axes in ((0, 1), (0, 2))]  # digits, decimals
    if shared[0] > shared[1]:
        odd = (digits != column.usual_digits) & doubtful
    elif shared[0] == shared[1]:
        odd = odd & (digits != column.usual_digits)
    if odd.sum() > max(1, RARE * n) or digits.max() > EXACT_DIGITS or _ranges(column, odd):
        return none
    before, behind = np.roll(column.decimals, 1), np.roll(column.decimals, -1)
    before[0], behind[-1] = behind[0], before[-1]
    alone = odd & (column.decimals != before) & (column.decimals != behind)  # a range has a neighbour
    zeros = none if column.exponents else ends_in_zero(column.values, column.decimals) & (column.values != 0)
    zeros = zeros & ~odd
    if not (zeros & (column.decimals >= 2)).any():
        alone &= (column.decimals == NO_MARK) & bool((zeros & (column.decimals == 1)).any())  # 48 beside 48.0
    return np.asarray(alone)


def _ranges(column: Printed, odd: NDArray[np.bool_]) -> bool:
    """Whether the odd numbers are those of other powers of ten, as a meter prints that changes its range."""
    if not odd.any() or column.exponents or (column.values[odd] == 0).any():
        return False
    power = np.floor(np.log10(np.maximum(np.abs(column.values), 1e-9)))
    return bool(power[odd].min() > power[~odd].max() or power[odd].max() < power[~odd].min())


def refuse_odd(
    column: Printed,
    lines: NDArray[np.int64],
    heading: str = "",
    *,
    cut_short: bool = False,
    never_alone: bool = False,
) -> tuple[Finding, ...]:
    """Refuse a number that lost its mark or its last digits; say one that may be measured so."""
    odd = odd_row(column, cut_short=cut_short, never_alone=never_alone)
    if odd is None:
        return ()
    line, at = int(lines[odd.row]), odd.row
    value = f"{column.values[at]:.10g}{f' in column {heading}' if heading else ''}"
    if not odd.sure:
        text = f"line {line}: {value} looks like a number of its neighbours that lost its mark or last digits"
        return (doubtful_row(text),)
    here, others = _decimals_text(column.decimals[at]), _decimals_text(column.usual)
    if column.usual_lead >= 0 > column.leads[at]:
        here, others = "no exponent", "one"
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
