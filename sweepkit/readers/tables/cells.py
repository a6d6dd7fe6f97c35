"""Lines of a table to cells, and cells to numbers."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sweepkit.errors import UnreadableFile
from sweepkit.readers.numbers import Style, parse_number
from sweepkit.readers.tables.vocabulary import BRACKET_UNITS, UNITS, plain

BLANK = " "
SEPARATORS = ("\t", ";", ",", "|", BLANK)  # tried in this order

PREFIXES = {"k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9}  # stuck to a number by meters that change their range

_DIGITS = r"(?:\d{1,3}(?:[.,'’ \u00a0\u2009\u202f]\d{3})+(?:[.,]\d+)?|\d+[.,]?\d*|[.,]\d+)(?:[eEdD][+-]?\d+)?"
_NUMBER_CELL = re.compile(rf"[-+−]?\s?{_DIGITS}(?:\s?(?::1|[^\s\d.,;]\S{{0,6}}))?", re.ASCII)
_COMPLEX = re.compile(
    rf"\(?\s*(?P<re>[+-]?{_DIGITS})\s*(?P<sign>[+-])\s*(?:[ij]\s*\*?\s*(?P<im1>{_DIGITS})|(?P<im2>{_DIGITS})\s*\*?\s*[ij])\s*\)?"
)
_MISSING = re.compile(
    r"|[-–—*?.]+|[<>≥≤]\s*[\d.,]+|[+-]?(?:inf|infinity|∞|nan|nan\(ind\)|1\.#\w+|ol|o\.l\.|overload|n/?a|#n/a|#\S+[!?]|null|none)",
    re.IGNORECASE,
)


def split(line: str, separator: str) -> list[str]:
    """Cells of one line, without blanks and quotes around them; an empty last one after a last separator."""
    if separator == BLANK:
        return _quoted_words(line) if '"' in line and line.count('"') % 2 == 0 else line.split()
    if '"' in line and line.count('"') % 2 == 0:  # an odd quote is damage and stays in its cell
        cells = next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
    else:
        cells = line.split(separator)
    cells = [cell.strip() for cell in cells]
    if separator == "|" and cells and not cells[0]:
        cells = cells[1:]
    if separator == "|" and cells and not cells[-1]:
        cells.pop()
    return cells


def _quoted_words(line: str) -> list[str]:
    return [quoted or word for quoted, word in re.findall(r'"([^"]*)"|(\S+)', line)]


def join_words(words: list[str]) -> list[str]:
    """Blank-separated words to cells: units join their number, the parts of a complex number each other."""
    cells: list[str] = []
    for word in words:
        if (
            cells
            and looks_like_number(cells[-1])
            and (_is_unit(word) or re.fullmatch(r"[+-]?[ij][\d.,]+|[+-]", word))
        ):
            cells[-1] += f" {word}"
        elif cells and re.search(r"\s[+-]$", cells[-1]):
            cells[-1] += word
        else:
            cells.append(word)
    return cells


def _is_unit(word: str) -> bool:
    return plain(word) in UNITS or word in ("Ω", "S", "%")


def looks_like_number(cell: str) -> bool:
    """Whether a cell holds a number, with or without a unit, or a complex number."""
    cell = cell.strip()
    return bool(_NUMBER_CELL.fullmatch(cell) or _COMPLEX.fullmatch(cell))


def is_missing(cell: str) -> bool:
    """Whether a cell says that there is no number: empty, ``---``, ``>25``, ``OL``, ``inf``, ``nan``."""
    return _MISSING.fullmatch(cell.strip()) is not None


def split_unit(cell: str) -> tuple[str, str]:
    """Number as printed and unit in lower case, or nothing, of a cell such as ``14.000 MHz``, ``-12.1Ω`` or
    ``1.5:1``.

    A word that is no unit is a ``ValueError``.
    """
    match = re.fullmatch(rf"([-+−]?\s?{_DIGITS})\s?([^\s\d]\S*|)", cell.strip())
    if not match:
        raise ValueError(f"{cell!r} is no number")
    if match.group(2) in PREFIXES:
        return match.group(1).strip(), match.group(2)
    number, word = match.group(1).replace(" ", ""), plain(match.group(2))
    if word in ("", ":1"):
        return match.group(1).strip(), ""
    unit = UNITS.get(word) or BRACKET_UNITS.get(word)
    if unit is None:
        raise ValueError(f"{word!r} behind {number} is no unit")
    return match.group(1).strip(), unit


def complex_number(cell: str, style: Style) -> complex:
    """A complex number such as ``48.2-12.1j`` or ``48.2 - j12.1``; ``ValueError`` where it is none."""
    match = _COMPLEX.fullmatch(cell.strip().replace("−", "-"))
    if not match:
        raise ValueError(f"{cell!r} is no complex number")
    imaginary = parse_number(match.group("im1") or match.group("im2"), style)
    return complex(
        parse_number(match.group("re"), style), imaginary if match.group("sign") == "+" else -imaginary
    )


def cell_reader(first: str, style: Style) -> Callable[[str], Any]:
    """How the cells of a column are read, judged by its first cell."""
    try:
        complex_number(first, style)
    except ValueError:
        return _RealCell(style, _unit_of(first))

    def read_complex(cell: str) -> complex:
        return complex_number(cell, style)

    return read_complex


def _unit_of(cell: str) -> str:
    try:
        return split_unit(cell)[1]
    except ValueError:
        return ""


@dataclass
class _RealCell:
    """Reads cells that hold one number and the same unit all the way; metric prefixes may change."""

    style: Style
    unit: str
    prefixed: int = 0

    def __call__(self, cell: str) -> float:
        number, unit = split_unit(cell)
        if unit in PREFIXES and self.unit in ("", *PREFIXES):
            self.prefixed += 1
            return parse_number(number, self.style) * PREFIXES[unit]
        if self.unit in PREFIXES and unit == "":
            return parse_number(number, self.style)
        if unit != self.unit:
            raise ValueError(f"unit {unit or 'none'!r} where the first row has {self.unit or 'none'!r}")
        return parse_number(number, self.style)


def cell_value(cell: str, line: int, heading: str, reader: Callable[[str], Any]) -> Any:
    """Value of a cell."""
    try:
        return reader(cell)
    except ValueError as error:
        column = f" in column {heading}" if heading else ""
        if is_missing(cell):
            raise UnreadableFile(
                f"{repr(cell) if cell else 'an empty cell'}{column}; expected a number in every row; sweep again, "
                "or leave the column out with --columns and - in its place",
                line=line,
            ) from error
        raise UnreadableFile(
            f"{cell[:40]!r}{column} is no number ({error}); expected one in every row; correct the line",
            line=line,
        ) from error
