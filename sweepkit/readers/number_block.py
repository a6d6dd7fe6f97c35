"""Lines of plain numbers at once: their values, how many stand in each line, and how each one prints.

Large files are read three times as fast as word by word. The values are those of ``float`` to the last bit.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray

EXACT_DIGITS, EXACT_POWER = 15, 22  # integers and powers of ten that a double holds exactly (IEEE 754-2019)
_POWERS = 10.0 ** np.arange(EXACT_POWER + 1)
PIECE_BYTES = 1 << 15  # so much text at a time: it stays in the processor's cache; our own choice
NO_MARK = -1
NO_PLACES = np.empty(0, dtype=np.int64)
NOTHING = (np.empty(0), NO_PLACES, NO_PLACES, False)
_NUMBER_SIGNS = b"0123456789+-.eE \t\n"


@dataclass
class Block:
    """Numbers of lines, in order.

    Parameters
    ----------
    values : float array
        All numbers.
    counts, lines : int array, shape (lines with numbers,)
        How many numbers a line has, and its number in the file.
    decimals : int array
        Digits behind the mark of each number; ``NO_MARK`` where it has no mark.
    left : int array
        Signs before the mark, or of the whole mantissa.
    exponents : bool
        Whether any number has an exponent.
    """

    values: FloatArray
    counts: NDArray[np.int64]
    lines: NDArray[np.int64]
    decimals: NDArray[np.int16]
    left: NDArray[np.int16]
    exponents: bool = False

    def first(self, size: int) -> Block:
        """The first numbers alone, as one column after the other is cut from them."""
        return replace(self, values=self.values[:size], decimals=self.decimals[:size], left=self.left[:size])

    @property
    def starts(self) -> NDArray[np.int64]:
        """Where the numbers of each line begin, and where the last line's end."""
        return np.concatenate([[0], np.cumsum(self.counts)])


@dataclass
class _Pieces:
    values: list[FloatArray] = field(default_factory=list)
    counts: list[NDArray[np.int64]] = field(default_factory=list)
    lines: list[NDArray[np.int64]] = field(default_factory=list)
    decimals: list[NDArray[np.int16]] = field(default_factory=list)
    left: list[NDArray[np.int16]] = field(default_factory=list)
    exponents: bool = False


def read_block(body: bytes, first_line: int) -> Block | None:
    """Numbers of lines that hold nothing else.

    Parameters
    ----------
    body : bytes
        Numbers with a decimal point between blanks, tabs and line ends; an exponent has its sign.
    first_line : int
        Line number of its first line.

    Returns
    -------
    Block or None
        ``None`` where anything else stands there.
    """
    if not body or body.isspace() or body.translate(None, _NUMBER_SIGNS):
        return None
    pieces = _Pieces()
    start, line = 0, first_line
    while start < len(body):
        end = body.rfind(b"\n", start, start + PIECE_BYTES) + 1
        end = end if end > start and start + PIECE_BYTES < len(body) else len(body)
        piece = body[start:end]
        if not _add_piece(pieces, piece if piece.endswith(b"\n") else piece + b"\n", line):
            return None
        start, line = end, line + piece.count(b"\n")
    return Block(
        _joined(pieces.values),
        _joined(pieces.counts),
        _joined(pieces.lines),
        _joined(pieces.decimals),
        _joined(pieces.left),
        pieces.exponents,
    )


def _joined(parts: list[Any]) -> NDArray[Any]:
    """One array; its parts are let go, so that not all are there twice."""
    whole: NDArray[Any] = parts[0] if len(parts) == 1 else np.concatenate(parts)
    parts.clear()
    return whole


def _add_piece(pieces: _Pieces, piece: bytes, first_line: int) -> bool:
    text = b"\n" + piece
    signs = np.frombuffer(text, dtype=np.uint8)
    dark = signs > ord(" ")
    edges = np.flatnonzero(dark[1:] != dark[:-1]) + 1
    starts, ends = edges[::2], edges[1::2]
    line_ends = np.flatnonzero(signs == ord("\n"))
    counts = _steps(np.searchsorted(starts, line_ends), 0)[1:]
    numbers = _numbers(text, signs, starts, ends) if starts.size else NOTHING
    if numbers is None:
        return False
    filled = counts > 0
    pieces.values.append(numbers[0])
    pieces.counts.append(counts[filled])
    pieces.lines.append(np.flatnonzero(filled) + first_line)
    pieces.decimals.append(numbers[1].astype(np.int16))
    pieces.left.append(numbers[2].astype(np.int16))
    pieces.exponents = pieces.exponents or numbers[3]
    return True


def _numbers(
    text: bytes, signs: NDArray[np.uint8], starts: NDArray[np.int64], ends: NDArray[np.int64]
) -> tuple[FloatArray, NDArray[np.int64], NDArray[np.int64], bool] | None:
    """Values, decimals, digits before the mark and whether there are exponents; nothing where a word is no number.

    A number is its digits as an integer, times or over a power of ten: one rounding, so it is exact to the last
    bit as long as both are (Clinger, PLDI 1990).
    """
    exponents = np.flatnonzero((signs | 0x20) == ord("e")) if b"e" in text or b"E" in text else NO_PLACES
    firsts = signs[starts]
    is_minus = firsts == ord("-")
    has_sign = is_minus | (firsts == ord("+"))
    mantissa_ends, power = ends, None
    if exponents.size:
        taken = _exponents(signs, exponents, ends)
        if taken is None:
            return None
        mantissa_ends, power = taken
    if text.count(b"-") + text.count(b"+") != np.count_nonzero(has_sign) + exponents.size:
        return None
    marks = np.flatnonzero(signs == ord("."))
    marks_before = np.searchsorted(marks, mantissa_ends)
    own_marks = _steps(marks_before, 0)
    if own_marks.max() > 1 or marks_before[-1] != marks.size:
        return None
    if marks.size == starts.size:
        decimals = behind = mantissa_ends - 1 - marks
    else:
        marked = own_marks == 1
        decimals = np.where(marked, 0, NO_MARK)
        decimals[marked] = mantissa_ends[marked] - 1 - marks
        behind = np.maximum(decimals, 0)
    digits = mantissa_ends - starts - has_sign - own_marks
    most = int(digits.max())
    if digits.min() < 1:
        return None
    left = digits - behind
    shift = -behind if power is None else power - behind
    if most > EXACT_DIGITS or shift.min() < -EXACT_POWER or shift.max() > EXACT_POWER:
        return np.array(text.split(), dtype=np.float64), decimals, left, exponents.size > 0
    bare = signs[signs != ord(".")] - ord("0")
    last = mantissa_ends - marks_before - 1
    places = np.arange(most)
    grid = bare.take(last[:, np.newaxis] - places, mode="wrap")
    grid[places >= digits[:, np.newaxis]] = 0
    values = grid @ _POWERS[:most]  # sums of integers below 10^15, so nothing is rounded
    values /= _POWERS[np.maximum(-shift, 0)]
    if power is not None:
        values *= _POWERS[np.maximum(shift, 0)]
    np.negative(values, out=values, where=is_minus)
    return values, decimals, left, exponents.size > 0


def _steps(rising: NDArray[np.int64], before: int) -> NDArray[np.int64]:
    """Each number less the one before it."""
    steps = rising.copy()
    steps[1:] -= rising[:-1]
    steps[0] -= before
    return steps


def _exponents(
    signs: NDArray[np.uint8], at: NDArray[np.int64], ends: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]] | None:
    """Where each mantissa ends and its power of ten; nothing where an exponent has no sign or no digits."""
    owners = np.searchsorted(ends, at)
    follow = signs[at + 1]
    signed = (follow == ord("+")) | (follow == ord("-"))
    lengths = ends[owners] - at - 2
    if not signed.all() or np.unique(owners).size < owners.size or lengths.min() < 1 or lengths.max() > 3:
        return None
    mantissa_ends, power = ends.copy(), np.zeros(ends.size, dtype=np.int64)
    mantissa_ends[owners] = at
    for place in range(int(lengths.max())):
        digit = signs.take(ends[owners] - 1 - place).astype(np.int64) - ord("0")
        power[owners] += np.where(lengths > place, digit, 0) * 10**place
    power[owners[follow == ord("-")]] *= -1
    return mantissa_ends, power
