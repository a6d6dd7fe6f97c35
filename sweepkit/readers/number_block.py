"""Lines of plain numbers at once: their values, how many stand in each line, and how each one prints.

With every digit taken for 0 a line is its shape, and a few shapes tell how all lines print. Without their marks the
numbers are integers, which are read fast; over a power of ten each is the double nearest to what is printed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray

EXACT_DIGITS, EXACT_POWER = 15, 22  # integers and powers of ten that a double holds exactly (IEEE 754-2019)
MOST_INTEGER = 10**18  # what 64 bits hold, less what a number with too many digits would come out as
SPLITTER = 2.0**27 + 1  # takes a double apart into halves whose products are exact (Dekker 1971)
SURE_SHARE = (
    2.0**-20
)  # of a unit in the last place: a sum so far from halfway is rounded right; it is good to 2^-48
_POWERS = 10.0 ** np.arange(EXACT_POWER + 1)
PIECE_CHARACTERS = 1 << 15  # so much text at a time: it stays in the processor's cache; our own choice
NO_MARK, NO_EXPONENT = -1, -1

MANY_LINES = 10_000  # our own choice
FIRST_LINES = 4  # where these print alike all may; our own choice
FEW_DIGITS = 99  # in front of and behind a mark are counted in one byte, with room for differences
FEW_SHAPES = 64  # of lines; where there are more, words are looked at; our own choice

Remarks = list[tuple[int, str]]  # line number and text
MOST_REMARKS = 1000  # behind rows; more say nothing new; our own choice

_BLANKS = (b" ", b"\t", b"\v", b"\f")
_DIGITS_AS_0 = bytes.maketrans(b"123456789", b"000000000")
_NUMBER = re.compile(rb"[+-]?(0*)(\.?)(0*)([eE][+-]0{1,3})?")
_LINE_END, _BLANK, _PLUS, _MINUS, _MARK, _ZERO = b"\n +-.0"
_EXPONENTS_AS_BLANKS = bytes.maketrans(b"eE", b"  ")
_MINUS_ZERO = re.compile(rb"-[0.]+(?![0-9.])")
_REMARK = re.compile(r"![^\n]*")
CUT_EXPONENT = re.compile(r"[eEdD][+-]?0(?!\d)")
CUT_NUMBER = re.compile(r"!(?<=[0-9.+-]!)[0-9.eE+-]")

TOO_LONG, SHORT_EXPONENT = 1, 2  # of a number: more digits than are exact, an exponent of one digit
_Form = tuple[int, int, int]  # of a number: as in Block, and which of these it is


@dataclass
class Block:
    """Numbers of lines, in order."""

    values: FloatArray  # all numbers
    counts: NDArray[np.int64]  # how many numbers each line with numbers has
    lines: NDArray[np.int64]  # its number in the file
    # digits behind the mark of each number, NO_MARK where it has none; of the first line's numbers alone where all
    # lines print as it does
    decimals: NDArray[Any]
    # digits before the mark of numbers with an exponent, else NO_EXPONENT; as many as decimals
    leads: NDArray[Any]

    @property
    def is_even(self) -> bool:
        """Whether all lines print as the first does."""
        return bool(self.decimals.size == self.counts[0])

    @property
    def starts(self) -> NDArray[np.int64]:
        """Where the numbers of each line begin, and where the last line's end."""
        return np.concatenate([[0], np.cumsum(self.counts)])


class _Print:
    """How numbers print: those of one line for all lines, or all numbers of a piece."""

    def __init__(self, forms: NDArray[Any]) -> None:
        self.forms: NDArray[Any] = forms[:, :2].astype(
            np.int8 if forms.max(initial=0) <= FEW_DIGITS else np.int16
        )
        self.too_long = bool((forms[:, 2] & TOO_LONG).any())
        self.has_short_exponents = bool((forms[:, 2] & SHORT_EXPONENT).any())
        self.has_exponents = bool((forms[:, 1] >= 0).any())

    @property
    def exponents(self) -> NDArray[np.bool_]:
        return np.asarray(self.forms[:, 1] >= 0)

    @property
    def behind(self) -> NDArray[Any]:
        return np.asarray(np.maximum(self.forms[:, 0], 0))

    @property
    def scale(self) -> FloatArray:
        return np.asarray(_POWERS[np.minimum(self.behind, EXACT_POWER)])


@dataclass(frozen=True)
class _Shapes:
    """Lines with numbers and how they print."""

    lines: range | NDArray[np.int64]
    form: _Print
    counts: int | NDArray[np.int64]  # of each line; one number where all have as many
    of_one_line: bool = False  # the form, which is that of all lines

    @property
    def forms(self) -> NDArray[Any]:
        """Forms of all numbers."""
        forms = self.form.forms
        return np.tile(forms, (len(self.lines), 1)) if self.of_one_line else forms


def _shapes_of_all(counts: NDArray[np.int64], first_line: int, form: _Print) -> _Shapes:
    """Those of lines of which some hold nothing: what one number or two can say weighs nothing."""
    filled = np.flatnonzero(counts)
    lines, counts = filled + first_line, counts[filled]
    gaps = filled.size == 0 or filled[-1] - filled[0] >= filled.size
    return _Shapes(
        lines if gaps else range(int(lines[0]), int(lines[-1]) + 1),
        form,
        counts if counts.size == 0 or (counts != counts[0]).any() else int(counts[0]),
    )


def read_block(
    text: str,
    first_line: int,
    *,
    start: int = 0,
    stop: int | None = None,
    separator: str = " ",
    decimal: str = ".",
    open_end: bool = False,
    remarks: Remarks | None = None,
) -> Block | None:
    """Numbers of lines that hold nothing else; nothing where anything else stands there.

    An exponent has its sign; a blank as ``separator`` is any run of blanks and tabs, ``open_end``: one may stand at
    the end of a line. ``remarks`` takes the first ones, which begin with ``!``; without it there are none.
    """
    values, shapes = bytearray(), []
    for piece, line in _pieces(text, first_line, start, len(text) if stop is None else stop):
        if remarks is not None and "!" in piece:
            if CUT_NUMBER.search(piece):  # perhaps inside a remark: told line by line
                return None
            remarks += _remarks(piece, line) if len(remarks) < MOST_REMARKS else []
            piece = _REMARK.sub("", piece)
        if not piece.isascii() or (decimal == "," and "." in piece):
            return None
        body = (piece.replace(",", ".") if decimal == "," else piece).encode()
        if open_end:
            body = body.replace(separator.encode() + b"\n", b"\n").removesuffix(separator.encode())
        found = _shapes(body.translate(_DIGITS_AS_0), line, separator.encode())
        if found is None or (found.form.has_short_exponents and CUT_EXPONENT.search(body.decode())):
            return None
        if len(found.lines):
            if separator != " ":
                body = body.replace(separator.encode(), b" ")
            values += _values(body, found.form).data
            shapes.append(found)
    return _joined(values, shapes) if shapes else None


def _pieces(text: str, line: int, start: int, stop: int) -> Iterator[tuple[str, int]]:
    """Whole lines of about one size, each with the number of its first."""
    while start < stop:
        end = stop
        if start + PIECE_CHARACTERS < stop:
            end = text.rfind("\n", start, start + PIECE_CHARACTERS) + 1
            end = end or text.find("\n", start, stop) + 1 or stop
        yield text[start:end], line
        line += text.count("\n", start, end)
        start = end


def _remarks(piece: str, line: int) -> Remarks:
    lines = enumerate(piece.split("\n"), line)
    return [(number, text.partition("!")[2].strip()) for number, text in lines if "!" in text]


def _shapes(body: bytes, first_line: int, separator: bytes) -> _Shapes | None:
    """How the lines print; nothing where one holds anything but numbers."""
    lines = body.split(b"\n")
    if not lines[-1]:
        lines.pop()
    if len({_line_forms(line, separator) for line in lines[:FIRST_LINES]}) == 1:
        distinct = set(lines)
        if len(distinct) <= FEW_SHAPES and b"" not in distinct:
            forms = {_line_forms(line, separator) for line in distinct}
            if None in forms:
                return None
            if len(forms) == 1:
                form = _line_print(forms.pop())
                return _Shapes(range(first_line, first_line + len(lines)), form, len(form.forms), True)
    blanks = _with_blanks(body, separator)
    found = _shapes_by_byte(blanks, first_line) if blanks is not None else None
    return found or _shapes_by_word(lines, first_line, None if separator == b" " else separator)


def _with_blanks(body: bytes, separator: bytes) -> bytes | None:
    """The lines with blanks between their numbers; nothing where a cell may be empty or hold a blank of its own."""
    if separator == b" ":
        return body
    odd = [separator * 2, separator + b"\n", b"\n" + separator]
    odd += [blank for blank in _BLANKS if blank != separator]
    if any(part in body for part in odd) or separator in (body[:1], body[-1:]):
        return None
    return body.replace(separator, b" ")


@lru_cache(maxsize=1024)
def _line_forms(shape: bytes, separator: bytes) -> tuple[_Form, ...] | None:
    """How the numbers of a line print; nothing where something there is no number."""
    words = shape.split() if separator == b" " else shape.split(separator)
    forms = [_form(word) for word in words]
    return tuple(form for form in forms if form) if forms and all(forms) else None


@lru_cache(maxsize=64)
def _line_print(forms: tuple[_Form, ...]) -> _Print:
    return _Print(np.array(forms, np.int16))


def _shapes_by_byte(body: bytes, first_line: int) -> _Shapes | None:
    """The same of lines of plain numbers without exponents; nothing where anything else stands there."""
    text = np.frombuffer(b"\n" + body + b"\n", np.uint8)
    blank = text <= _BLANK
    edges = np.flatnonzero(blank[1:] != blank[:-1]) + 1
    starts, ends = edges[::2], edges[1::2]
    marks, signs = np.flatnonzero(text == _MARK), (text == _PLUS) | (text == _MINUS)
    signed = signs[starts]
    others = np.count_nonzero(blank) + marks.size + np.count_nonzero(signed)
    if np.count_nonzero(text == _ZERO) + others != text.size:  # digits were taken for 0
        return None
    marked = np.searchsorted(starts, marks, side="right") - 1
    behind = np.full(starts.size, NO_MARK)
    behind[marked] = ends[marked] - marks - 1
    digits = ends - starts - signed
    digits[marked] -= 1
    if (marked[1:] == marked[:-1]).any() or not digits.all():
        return None
    counts = np.diff(np.searchsorted(starts, np.flatnonzero(text == _LINE_END)))
    forms = np.stack([behind, np.full(starts.size, NO_EXPONENT), digits > EXACT_DIGITS], axis=1)
    return _shapes_of_all(counts, first_line, _Print(forms))


def _shapes_by_word(lines: list[bytes], first_line: int, separator: bytes | None) -> _Shapes | None:
    """The same where the lines have many shapes: their words have few."""
    rows = [line.split(separator) for line in lines]
    if separator is not None:
        rows = [row if len(row) > 1 or row[0].strip() else [] for row in rows]
    counts = np.fromiter(map(len, rows), np.int64, len(rows))
    words = list(chain.from_iterable(rows))
    places = {word: at for at, word in enumerate(set(words))}
    forms = [_form(word) for word in places]
    if not all(forms):
        return None
    table = np.array(forms, np.int16).reshape(-1, 3)
    found = table[np.fromiter(map(places.__getitem__, words), np.intp, len(words))]
    return _shapes_of_all(counts, first_line, _Print(found))


@lru_cache(maxsize=1024)
def _form(word: bytes) -> _Form | None:
    match = _NUMBER.fullmatch(word.strip())
    if match is None:
        return None
    before, mark, behind, exponent = (len(part or b"") for part in match.groups())
    digits = before + behind
    decimals, lead = behind if mark else NO_MARK, before if exponent else NO_EXPONENT
    kind = TOO_LONG * (digits > EXACT_DIGITS) + SHORT_EXPONENT * (exponent == 3)  # e, sign, one digit
    return (decimals, lead, kind) if digits else None


def _values(body: bytes, form: _Print) -> FloatArray:
    """Every number: an integer times or over a power of ten, one rounding (Clinger, PLDI 1990)."""
    integers = np.fromstring(body.translate(_EXPONENTS_AS_BLANKS, b"."), np.int64, sep=" ")
    if form.too_long:
        values = None if form.has_exponents else _over_powers(integers, form)
    elif form.has_exponents:
        values = _with_exponents(integers, form)
    else:
        values = integers.reshape(-1, form.scale.size) / form.scale
    if values is None or (not values.all() and _MINUS_ZERO.search(body)):
        return np.array(body.split(), dtype=np.float64)
    return values


def _over_powers(integers: NDArray[np.int64], form: _Print) -> FloatArray | None:
    """Integers of up to 18 digits over powers of ten, each the nearest double; nothing where that is not sure.

    The quotient is the sum of two doubles, of which the second is what the first leaves (Dekker 1971).
    """
    if form.behind.max() > EXACT_POWER or not (
        -MOST_INTEGER < integers.min() <= integers.max() < MOST_INTEGER
    ):
        return None
    whole, scale = integers.reshape(-1, form.scale.size), np.asarray(form.scale, dtype=np.float64)
    high = whole.astype(np.float64)
    low = (whole - high.astype(np.int64)).astype(np.float64)
    quotient = high / scale
    product, beyond = _exact_product(quotient, scale)
    rest = ((high - product) + (low - beyond)) / scale
    values = quotient + rest
    unit = np.spacing(np.abs(values))
    left = np.abs(rest - (values - quotient)) / unit
    sure = np.abs(left - 0.5) > SURE_SHARE
    sure &= np.abs(left - 0.25) > SURE_SHARE  # halfway below a power of two, where units are half as large
    return values if sure.all() else None


def _exact_product(first: FloatArray, second: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A product of doubles and what its rounding took away (Dekker 1971)."""
    product = first * second
    first_high, second_high = (part * SPLITTER - (part * SPLITTER - part) for part in (first, second))
    first_low, second_low = first - first_high, second - second_high
    beyond = first_high * second_high - product
    beyond += first_high * second_low
    beyond += first_low * second_high
    beyond += first_low * second_low
    return product, beyond


def _with_exponents(integers: NDArray[np.int64], form: _Print) -> FloatArray | None:
    """Values of mantissas that some exponents follow; nothing where a power of ten is beyond what is exact."""
    has = form.exponents
    place = np.arange(has.size) + np.cumsum(has) - has
    parts = integers.reshape(-1, has.size + np.count_nonzero(has))
    power = np.tile(-form.behind.astype(np.int64), (len(parts), 1))
    power[:, has] += parts[:, place[has] + 1]
    if np.abs(power).max() > EXACT_POWER:
        return None
    return np.asarray(parts[:, place] / _POWERS[np.maximum(-power, 0)] * _POWERS[np.maximum(power, 0)])


def _joined(values: bytearray, shapes: list[_Shapes]) -> Block:
    first = shapes[0]
    lines = _all_lines([one.lines for one in shapes])
    counts = _all_counts(shapes, lines.size)
    if all(one.of_one_line and one.form is first.form for one in shapes):
        forms = first.form.forms
    else:
        forms = _all_forms(shapes)
        if counts.strides == (0,) or (counts == counts[0]).all():
            counts = _alike(int(counts[0]), lines.size)
            if ((rows := forms.reshape(lines.size, -1, 2)) == rows[0]).all():
                forms = rows[0]
    return Block(np.frombuffer(values), counts, lines, forms[:, 0], forms[:, 1])


def _alike(count: int, lines: int) -> NDArray[np.int64]:
    """The same for every line: of many lines one number is kept."""
    return np.full(lines, count) if lines < MANY_LINES else np.broadcast_to(np.int64(count), lines)


def _all_lines(parts: list[range | NDArray[np.int64]]) -> NDArray[np.int64]:
    ranges = [part for part in parts if isinstance(part, range)]
    if len(ranges) == len(parts) and all(one.stop == other.start for one, other in pairwise(ranges)):
        return np.arange(ranges[0].start, ranges[-1].stop)
    return np.concatenate(
        [np.arange(part.start, part.stop) if isinstance(part, range) else part for part in parts]
    )


def _all_counts(shapes: list[_Shapes], lines: int) -> NDArray[np.int64]:
    """How many numbers each line has."""
    first = shapes[0].counts
    if isinstance(first, int) and all(isinstance(one.counts, int) and one.counts == first for one in shapes):
        return _alike(first, lines)
    return np.concatenate([np.broadcast_to(np.int64(one.counts), len(one.lines)) for one in shapes])


def _all_forms(shapes: list[_Shapes]) -> NDArray[Any]:
    """Forms of all numbers; each shape is dropped once it is copied."""
    numbers = sum(
        len(one.lines) * one.counts if isinstance(one.counts, int) else int(one.counts.sum())
        for one in shapes
    )
    forms, at = np.empty((numbers, 2), np.result_type(*(one.form.forms for one in shapes))), 0
    shapes.reverse()
    while shapes:
        part = shapes.pop().forms
        forms[at : at + len(part)] = part
        at += len(part)
    return forms
