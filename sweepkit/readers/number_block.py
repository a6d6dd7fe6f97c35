"""Lines of plain numbers at once: their values, how many stand in each line, and how each one prints.

With every digit taken for 0 a line is its shape, and a few shapes tell how all lines print. Without their marks the
numbers are integers, which are read fast; over a power of ten each is the double nearest to what is printed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray

EXACT_DIGITS, EXACT_POWER = 15, 22  # integers and powers of ten that a double holds exactly (IEEE 754-2019)
MOST_INTEGER = 10**18  # what 64 bits hold, less what a number with too many digits would come out as
SPLITTER = 2.0**27 + 1  # takes a double apart into halves whose products are exact (Dekker 1971)
UNSURE = (
    2.0**-92
)  # of a quotient: a thousand times how far what it leaves may be off, 2^-50 of its last place
_POWERS = 10.0 ** np.arange(EXACT_POWER + 1)
PIECE_CHARACTERS = 1 << 17  # so much text at a time: it stays in the processor's cache; our own choice
NO_MARK, NO_EXPONENT = -1, -1
MANY_LINES = 10_000  # our own choice
END_LINES = 4  # at each end: where these print alike all may; our own choice
FEW_DIGITS = 99  # in front of and behind a mark are counted in one byte, with room for differences
FEW_EXPONENTS = 0.25  # of lines: so few are looked at one by one; our own choice
FEW_SHAPES = 64  # of lines; where there are more, words are looked at; our own choice

Remarks = list[tuple[int, str]]  # line number and text
MOST_REMARKS = 1000  # behind rows; more say nothing new; our own choice

_DIGITS_AS_0 = bytes.maketrans(b"123456789", b"000000000")
_NUMBER = re.compile(rb"[+-]?(0*)(\.?)(0*)([eE][+-]0{1,3})?")
_LINE_END, _BLANK, _PLUS, _MINUS, _MARK, _ZERO = b"\n +-.0"
_EXPONENT = re.compile(rb"[eE][+-][0-9]{1,3}(?![^ \t\n])")
_WHOLE = re.compile(rb"[+-]?([0-9]*)")
_NUMBER_ENDS = tuple(b"%c" % sign for sign in b"0123456789.")
SHORTEST_EXPONENT = 3  # e, sign, one digit
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
    counts: NDArray[Any]  # how many numbers each line with numbers has
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


@dataclass(frozen=True)
class _Piece:
    """How the numbers of some lines print."""

    counts: NDArray[np.int32]  # numbers in each line, empty ones too
    forms: NDArray[Any]  # decimals and lead of each number, or of those of one line where all print alike
    kinds: int  # what some of them are


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
    values, pieces, line, cell_end = bytearray(), [], first_line, separator.encode()
    for piece in _pieces(text, start, len(text) if stop is None else stop):
        if remarks is not None and "!" in piece:
            if CUT_NUMBER.search(piece):  # perhaps inside a remark: told line by line
                return None
            if len(remarks) < MOST_REMARKS:
                numbered = enumerate(piece.split("\n"), line)
                remarks += [(number, one.partition("!")[2].strip()) for number, one in numbered if "!" in one]
            piece = _REMARK.sub("", piece)
        if not piece.isascii() or (decimal == "," and "." in piece):
            return None
        body = (piece.replace(",", ".") if decimal == "," else piece).encode()
        if open_end:
            body = body.replace(cell_end + b"\n", b"\n").removesuffix(cell_end)
        lone = _lone_exponents(body) if separator == " " else []
        bare = _without(body, lone)
        found = _shapes(bare.translate(_DIGITS_AS_0), cell_end)
        if found is None:
            return None
        numbers = _values(bare, found, cell_end) if found.forms.size else None
        if lone and numbers is not None:
            found = _with_lone(found, numbers, bare, lone)
        if found.kinds & SHORT_EXPONENT and CUT_EXPONENT.search(body.decode()):
            return None
        if numbers is not None:
            values += numbers.data
        pieces.append(found)
        line += found.counts.size
    return _joined(values, pieces, first_line) if values else None


def _pieces(text: str, start: int, stop: int) -> Iterator[str]:
    """Whole lines of about one size."""
    while start < stop:
        end = (
            text.rfind("\n", start, start + PIECE_CHARACTERS) + 1 if start + PIECE_CHARACTERS < stop else stop
        )
        end = end or text.find("\n", start, stop) + 1 or stop
        yield text[start:end]
        start = end


class _Lone(NamedTuple):
    """A number with an exponent among many without."""

    place: int  # of its exponent in the text
    word: bytes
    exponent: bytes


def _lone_exponents(body: bytes) -> list[_Lone]:
    """Numbers with an exponent where few have one; none where they are many, or anything else stands there."""
    found: list[_Lone] = []
    if b"e" not in body and b"E" not in body:
        return found
    if body.count(b"e") + body.count(b"E") > FEW_EXPONENTS * body.count(b"\n"):
        return found
    for letter in (b"e", b"E"):
        at = body.find(letter)
        while at >= 0:
            before = body[max(0, at - FEW_DIGITS) : at]
            exponent = _EXPONENT.match(body, at)
            mantissa = before.split()[-1] if exponent and before[-1:] in _NUMBER_ENDS else b""
            if not exponent or not mantissa or len(mantissa) == FEW_DIGITS:
                return []
            found.append(_Lone(at, mantissa + exponent[0], exponent[0]))
            at = body.find(letter, exponent.end())
    return found


def _without(body: bytes, lone: list[_Lone]) -> bytes:
    """Text with blanks for these exponents."""
    if not lone:
        return body
    bare = bytearray(body)
    for at, _, exponent in lone:
        bare[at : at + len(exponent)] = b" " * len(exponent)
    return bytes(bare)


def _with_lone(piece: _Piece, numbers: FloatArray, bare: bytes, lone: list[_Lone]) -> _Piece:
    """The same with these exponents; *numbers* take their values."""
    blank = np.frombuffer(b"\n" + bare, np.uint8) <= _BLANK
    begins = np.flatnonzero(blank[:-1] & ~blank[1:])
    which = np.searchsorted(begins, [at for at, _, _ in lone]) - 1
    forms = np.tile(piece.forms, (numbers.size // len(piece.forms), 1))
    numbers.reshape(-1)[which] = [float(word) for _, word, _ in lone]
    forms[which, 1] = [len(_WHOLE.match(word)[1]) for _, word, _ in lone]  # type: ignore[index]
    short = any(len(exponent) == SHORTEST_EXPONENT for _, _, exponent in lone)
    return _Piece(piece.counts, forms, piece.kinds | SHORT_EXPONENT * short)


def _shapes(body: bytes, separator: bytes) -> _Piece | None:
    """How the lines print; nothing where one holds anything but numbers."""
    body = body.removesuffix(b"\n")
    ends = body.split(b"\n", END_LINES)[:END_LINES] + body.rsplit(b"\n", END_LINES)[-END_LINES:]
    first = {_line_forms(line.translate(_DIGITS_AS_0), separator) for line in ends}
    if len(first) == 1:
        lines = body.translate(_DIGITS_AS_0).split(b"\n")
        if len(distinct := set(lines)) <= FEW_SHAPES:
            first.update(_line_forms(line, separator) for line in distinct)
            if len(first) == 1 and (alike := first.pop()) is not None:
                forms, kinds = _as_array(alike)
                return _Piece(np.full(len(lines), len(forms), np.int32), forms, kinds)
    found = _shapes_by_byte(body, separator)
    return found or _shapes_by_word(body.translate(_DIGITS_AS_0).split(b"\n"), separator)


@lru_cache(maxsize=1024)
def _line_forms(shape: bytes, separator: bytes) -> tuple[_Form, ...] | None:
    """How the numbers of a line print; nothing where something there is no number."""
    words = shape.split() if separator == b" " else shape.split(separator)
    forms = tuple(form for word in words if (form := _form(word)))
    return forms if forms and len(forms) == len(words) else None


@lru_cache(maxsize=64)
def _as_array(forms: tuple[_Form, ...]) -> tuple[NDArray[Any], int]:
    table = np.array(forms, np.int16).reshape(-1, 3)
    narrow = np.int8 if table.max(initial=0) <= FEW_DIGITS else np.int16
    return table[:, :2].astype(narrow), int(np.bitwise_or.reduce(table[:, 2]))


def _shapes_by_byte(body: bytes, separator: bytes) -> _Piece | None:
    """The same of lines of plain numbers without exponents; nothing where anything else may stand there."""
    text = np.frombuffer(b"\n" + body + b"\n", np.uint8)
    places = np.flatnonzero(text - _ZERO > 9)  # of all but digits
    signs = text[places]
    between = signs <= _BLANK if separator == b" " else (signs == ord(separator)) | (signs == _LINE_END)
    cuts = np.flatnonzero(between)  # what stands between numbers
    stops, inside, before_stop = places[cuts], np.diff(cuts) - 1, cuts[1:] - 1
    digits = np.diff(stops) - 1 - inside
    marked = signs[before_stop] == _MARK
    rest = inside - marked  # one sign right at the beginning, or nothing
    signed = cuts[:-1][rest != 0] + 1
    is_sign = (signs[signed] == _MINUS) | (signs[signed] == _PLUS)
    if rest.max(initial=0) > 1 or not (is_sign & (places[signed] == places[signed - 1] + 1)).all():
        return None
    behind = np.where(marked, stops[1:] - places[before_stop] - 1, NO_MARK)
    line_ends = np.flatnonzero(signs[cuts] == _LINE_END)
    if not (some := digits > 0).all():  # an empty cell, or a run of blanks
        if separator != b" " or inside[~some].any():
            return None
        behind, line_ends = behind[some], np.append(0, np.cumsum(some))[line_ends]
    forms = np.full(
        (behind.size, 2), NO_EXPONENT, np.int8 if behind.max(initial=0) <= FEW_DIGITS else np.int16
    )
    forms[:, 0] = behind
    return _Piece(
        np.diff(line_ends).astype(np.int32), forms, TOO_LONG * bool(digits.max(initial=0) > EXACT_DIGITS)
    )


def _shapes_by_word(lines: list[bytes], separator: bytes) -> _Piece | None:
    """The same where the lines have many shapes: their words have few."""
    rows = [line.split(None if separator == b" " else separator) for line in lines]
    rows = [row if len(row) > 1 or b"".join(row).strip() else [] for row in rows]
    words = list(chain.from_iterable(rows))
    places = {word: at for at, word in enumerate(set(words))}
    forms = tuple(form for word in places if (form := _form(word)))
    if len(forms) < len(places):
        return None
    table, kinds = _as_array(forms)
    found = table[[places[word] for word in words]]
    return _Piece(np.array(list(map(len, rows)), np.int32), found, kinds)


@lru_cache(maxsize=1024)
def _form(word: bytes) -> _Form | None:
    match = _NUMBER.fullmatch(word.strip())
    if match is None:
        return None
    before, mark, behind, exponent = (len(part or b"") for part in match.groups())
    digits = before + behind
    decimals, lead = behind if mark else NO_MARK, before if exponent else NO_EXPONENT
    kind = TOO_LONG * (digits > EXACT_DIGITS) + SHORT_EXPONENT * (exponent == SHORTEST_EXPONENT)
    return (decimals, lead, kind) if digits else None


def _values(body: bytes, piece: _Piece, separator: bytes) -> FloatArray:
    """Every number: an integer times or over a power of ten, one rounding (Clinger, PLDI 1990)."""
    blanks = bytes.maketrans(b"eE" + separator, b"   ")
    integers = np.fromstring(body.translate(blanks, b"."), np.int64, sep=" ")
    behind, exponents = np.maximum(piece.forms[:, 0], 0), piece.forms[:, 1] >= 0
    if piece.kinds & TOO_LONG:
        values = None if exponents.any() else _over_powers(integers, behind)
    elif exponents.any():
        values = _with_exponents(integers, behind, exponents)
    else:
        values = integers.reshape(-1, behind.size) / _POWERS[np.minimum(behind, EXACT_POWER)]
    if values is None or (not values.all() and _MINUS_ZERO.search(body)):
        return np.array(body.replace(separator, b" ").split(), dtype=np.float64)
    return values


def _over_powers(integers: NDArray[np.int64], behind: NDArray[Any]) -> FloatArray | None:
    """Integers of up to 18 digits over powers of ten, each the nearest double; nothing where that is not sure.

    The quotient is the sum of two doubles, of which the second is what the first leaves (Dekker 1971).
    """
    if behind.max() > EXACT_POWER or not -MOST_INTEGER < integers.min() <= integers.max() < MOST_INTEGER:
        return None
    whole, scale = integers.reshape(-1, behind.size), _POWERS[behind]
    high = whole.astype(np.float64)
    low = (whole - high.astype(np.int64)).astype(np.float64)
    quotient = high / scale
    product, beyond = _exact_product(quotient, scale)
    rest = ((high - product) + (low - beyond)) / scale
    values, unsure = quotient + rest, quotient * UNSURE
    return values if all((quotient + end == values).all() for end in (rest - unsure, rest + unsure)) else None


def _exact_product(first: FloatArray, second: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A product of doubles and what its rounding took away (Dekker 1971)."""
    product = first * second
    (a, x), (b, y) = (
        (high := part * SPLITTER - (part * SPLITTER - part), part - high) for part in (first, second)
    )
    return product, a * b - product + a * y + x * b + x * y


def _with_exponents(
    integers: NDArray[np.int64], behind: NDArray[Any], has: NDArray[np.bool_]
) -> FloatArray | None:
    """Values of mantissas that some exponents follow; nothing where a power of ten is beyond what is exact."""
    place = np.arange(has.size) + np.cumsum(has) - has
    parts = integers.reshape(-1, has.size + np.count_nonzero(has))
    power = np.tile(-behind.astype(np.int64), (len(parts), 1))
    power[:, has] += parts[:, place[has] + 1]
    if np.abs(power).max() > EXACT_POWER:
        return None
    return np.asarray(parts[:, place] / _POWERS[np.maximum(-power, 0)] * _POWERS[np.maximum(power, 0)])


def _joined(values: bytearray, pieces: list[_Piece], first_line: int) -> Block:
    counts = pieces[0].counts if len(pieces) == 1 else np.concatenate([one.counts for one in pieces])
    lines = np.flatnonzero(counts) + first_line
    counts = counts if lines.size == counts.size else counts[lines - first_line]
    forms, width, alike = _all_forms(pieces), int(counts[0]), bool((counts == counts[0]).all())
    if alike and lines.size >= MANY_LINES:
        counts = np.broadcast_to(np.int64(width), lines.size)  # of many lines one number is kept
    if alike and len(forms) > width:
        rows = forms.reshape(-1, width, 2)
        if (rows[:MANY_LINES] == rows[0]).all() and (rows == rows[0]).all():
            forms = rows[0]
    return Block(np.frombuffer(values), counts, lines, forms[:, 0], forms[:, 1])


def _all_forms(pieces: list[_Piece]) -> NDArray[Any]:
    """Forms of all numbers, or of one line where all pieces have those; each piece is dropped once it is copied."""
    filled = [one.forms for one in pieces if one.forms.size]
    if all(one is filled[0] for one in filled):
        return filled[0]
    numbers, kind, at = sum(int(one.counts.sum()) for one in pieces), np.result_type(*filled), 0
    forms = np.empty((numbers, 2), kind)
    del filled
    pieces.reverse()
    while pieces:
        part = pieces.pop()
        end = at + int(part.counts.sum())
        if end > at:
            forms[at:end].reshape(-1, *part.forms.shape)[:] = part.forms
        at = end
    return forms
