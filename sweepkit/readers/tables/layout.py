"""Where the parts of a table stand: preamble, headings, units, rows, footer, and what separates the cells."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise

from sweepkit.errors import NotASweep, UnreadableFile
from sweepkit.readers.opening import BEGIN, END
from sweepkit.readers.tables.cells import BLANK, SEPARATORS, is_missing, join_words, looks_like_number, split
from sweepkit.readers.tables.headings import describe
from sweepkit.readers.tables.vocabulary import BRACKET_UNITS, UNITS, plain

ENOUGH_ROWS = 200  # tell a separator and a width; our own choice
SAMPLE_LINES = 1000  # rows beyond them follow the layout found in them; our own choice
_RULE = re.compile(r"[#!%\s]*[-=_+|:*~\s]{3,}")
LEAST_NUMBERS = 20  # of a sweep in an unknown layout; our own choice
_NUMBER = re.compile(r"(?<![\w.])[+-]?\d+(?:[.,]\d+)?")
_FREQUENCY = re.compile(r"\b(?:[kmg]?hz|freq\w*)\b|_[kmg]?hz\b")
_MEASURED = re.compile(r"\b(?:v?swr|s11|return.?loss|reflection|impedance|r ?[=:]|x ?[=:]|ohms?)(?![a-z])")
REMARK = re.compile(r"^\s*(?:#|!|%|//)+\s*")
LEAST_TRANSPOSED_CELLS, MOST_TRANSPOSED_ROWS = 10, 6  # a table lying on its side; our own choice


@dataclass(frozen=True)
class Layout:
    """How a table is laid out."""

    separator: str  # between cells
    width: int  # cells in a row
    first_row: int  # its line, from 1
    headings: tuple[str, ...] = ()  # of the columns; empty where there are none
    headings_line: int | None = None  # where they stand
    units: tuple[str, ...] = ()  # units row below the headings; empty where there is none
    open_end: bool = False  # whether every row ends with a separator
    # line and text of everything above that is neither headings nor units
    preamble: tuple[tuple[int, str], ...] = field(default_factory=tuple)


def row_cells(line: str, separator: str) -> list[str]:
    """Cells of a line of numbers."""
    cells = split(line, separator)
    return join_words(cells) if separator == BLANK else cells


def is_row(cells: list[str]) -> bool:
    """Whether cells are a row of numbers: at least two of them, and at least half of all."""
    numbers = sum(looks_like_number(cell) for cell in cells)
    missing = sum(is_missing(cell) for cell in cells)
    return numbers >= 1 and numbers + missing >= 2 and 2 * (numbers + missing) >= len(cells)


def is_rule(line: str) -> bool:
    """Whether a line is a drawn line, such as ``-----``."""
    return _RULE.fullmatch(line) is not None


def block_mark(line: str) -> str:
    """``begin`` or ``end`` where the line is the mark of a block, else nothing."""
    if BEGIN.fullmatch(line):
        return "begin"
    return "end" if END.fullmatch(line) else ""


@lru_cache(maxsize=1)  # the beginning of a long file is looked at twice
def find_layout(lines: tuple[str, ...]) -> Layout:
    """How a table is laid out."""
    sample = list(lines)
    best: tuple[float, str, list[tuple[int, list[str]]]] = (0, "", [])
    for separator in SEPARATORS:
        if separator != BLANK and not any(separator in line for line in sample):
            continue
        rows = _rows(sample, separator)
        score = sum(1.0 if all(map(_is_cell, cells)) else 0.5 for _, cells in rows)
        if score > 1.1 * best[0]:
            best = (score, separator, rows)
    _, separator, rows = best
    if not rows:
        refuse_other_layout("\n".join(sample))
        raise NotASweep(
            "no rows of numbers; expected a table with a frequency column, or a Touchstone option line "
            "(# MHz S RI R 50); export the sweep as Touchstone or CSV",
            line=_first_text(sample),
        )
    open_end = all(not cells[-1] for _, cells in rows[:-1] or rows)  # the last line may have been trimmed
    if open_end:  # every line ends with a separator
        rows = [(number, cells if cells[-1] else cells[:-1]) for number, cells in rows]
    widths = [len(cells) for _, cells in rows]
    width = max(set(widths), key=lambda w: (widths.count(w), w))
    first = next(at for at, w in enumerate(widths) if w == width)
    _refuse_transposed(rows, width)
    return _with_headings(sample, Layout(separator, width, rows[first][0], open_end=open_end))


def refuse_other_layout(text: str) -> None:
    """Refuse what is plainly a sweep, with frequencies and what was measured, in a layout that is not read."""
    lines = [plain(line) for line in text.split("\n") if line.strip()]
    words = "\n".join(lines)
    mostly_numbers = 2 * sum(len(_NUMBER.findall(line)) >= 2 for line in lines) >= len(lines)
    enough = len(_NUMBER.findall(words)) >= LEAST_NUMBERS
    if enough and mostly_numbers and _FREQUENCY.search(words) and _MEASURED.search(words):
        raise UnreadableFile(
            "numbers of a sweep in a layout that is not read; expected rows of cells under a line of names, or "
            "Touchstone; export the sweep as Touchstone or CSV",
            line=1,
        )


def _is_cell(cell: str) -> bool:
    return looks_like_number(cell) or is_missing(cell)


def _rows(sample: list[str], separator: str) -> list[tuple[int, list[str]]]:
    rows = []
    for number, line in enumerate(sample, 1):
        if line[:1] in "#!%" or not line.strip():
            continue
        cells = row_cells(line, separator)
        if len(cells) > 1 and is_row(cells):
            rows.append((number, cells))
            if len(rows) == ENOUGH_ROWS:
                break
    return rows


def _first_text(lines: list[str]) -> int:
    return next((number for number, line in enumerate(lines, 1) if line.strip()), 1)


def _refuse_transposed(rows: list[tuple[int, list[str]]], width: int) -> None:
    if width < LEAST_TRANSPOSED_CELLS or len(rows) > MOST_TRANSPOSED_ROWS:
        return
    for number, cells in rows:
        try:
            values = [float(cell.replace(",", ".")) for cell in cells[1:]]
        except ValueError:
            continue
        if all(a < b for a, b in pairwise(values)):
            raise UnreadableFile(
                f"frequencies run along line {number}; expected them down a column; transpose the table",
                line=number,
            )


def _with_headings(lines: list[str], shape: Layout) -> Layout:
    """Headings and units above the first row; what else stands there is preamble."""
    headings: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    headings_line: int | None = None
    preamble: list[tuple[int, str]] = []
    between: list[int] = []  # lines between headings and rows that are neither
    for number in range(shape.first_row - 1, 0, -1):
        line = lines[number - 1]
        if not line.strip() or is_rule(line) or block_mark(line):
            continue
        names = None if headings else _names(line, shape)
        is_remark = REMARK.match(line) is not None
        if names is not None and not units and _all_units(names) and _names_above(lines, shape, number):
            units = tuple(names)
        elif names is not None and (not between or any(describe(name, 0).quantity == "f" for name in names)):
            headings, headings_line = tuple(names), number
        else:
            preamble.append((number, REMARK.sub("", line, count=1).strip()))
            if not headings and not is_remark:
                between.append(number)
    _refuse_lost_rows(lines, shape, between, headings_line)
    return replace(
        shape, headings=headings, headings_line=headings_line, units=units, preamble=tuple(reversed(preamble))
    )


def _refuse_lost_rows(lines: list[str], shape: Layout, between: list[int], headings_line: int | None) -> None:
    """Refuse a line right above the first row that is a damaged row."""
    for number in reversed(between) if headings_line is not None else between[:1]:
        cells = row_cells(lines[number - 1], shape.separator)
        digits = sum(sign.isdigit() for sign in cells[0]) if cells else 0
        if (
            headings_line is not None
            or is_row(cells)
            or (len(cells) == shape.width and 2 * digits >= len(cells[0]))
        ):
            raise UnreadableFile(
                f"{lines[number - 1].strip()[:40]!r} above the first row is no row of {shape.width} numbers; expected "
                "one, or a remark; correct the line, or put # before it",
                line=number,
            )


def _names(line: str, shape: Layout) -> list[str] | None:
    """The line as headings, where it has a name for each cell of a row and no number."""
    text = REMARK.sub("", line, count=1)
    for names in _splits(text, shape.separator):
        if len(names) == shape.width + 1 and (shape.open_end or not names[-1]):
            names = names[:-1]
        if len(names) == shape.width and not any(looks_like_number(name) for name in names):
            return [re.sub(r"^(['\"])(.*)\1$", r"\2", name.strip()).strip() for name in names]
    return None


def _splits(text: str, separator: str) -> list[list[str]]:
    """Ways to split a line of names: as the rows are, by wide gaps, and outside of brackets."""
    ways = [split(text, separator)]
    if separator == BLANK:
        ways.insert(0, [name for name in re.split(r"\s{2,}|\t", text.strip()) if name])
        ways.append(split(text, ","))
    elif separator == ",":
        ways.append([name.strip() for name in re.split(r",(?![^(\[]*[)\]])", text)])
        ways.append(re.findall(r"[^,(\[]+(?:[(\[].*?[)\]]+)?[^,(\[]*", text))
    ways.append([name for name in re.split(r"\s*\t\s*", text.strip()) if name])
    ways.append(re.split(r"(?<!/)\s+(?![(\[/])", text.strip()))  # blanks that stand before no bracket
    ways.append(text.split())
    return ways


def _all_units(names: list[str]) -> bool:
    words = [plain(name).strip("()[] ") for name in names]
    known = [word for word in words if word in UNITS or word in BRACKET_UNITS]
    return bool(known) and all(
        not word or word in UNITS or word in BRACKET_UNITS or word in ("-", "1", ":1") for word in words
    )


def _names_above(lines: list[str], shape: Layout, number: int) -> bool:
    """Whether the next text above a line of units is a line of names."""
    for line in reversed(lines[: number - 1]):
        if line.strip() and not is_rule(line):
            names = _names(line, shape)
            return names is not None and not _all_units(names)
    return False
