"""The rows of a table as arrays of numbers, each with the line it came from."""

from __future__ import annotations

import re
from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_step import Step
from sweepkit.readers.number_block import read_block
from sweepkit.readers.numbers import Style, decide_style, refuse_odd_exponents
from sweepkit.readers.odd_rows import refuse_odd
from sweepkit.readers.opening import Text
from sweepkit.readers.printing import Printed, column_step
from sweepkit.readers.tables.cells import BLANK, cell_reader, cell_value, split, split_unit
from sweepkit.readers.tables.layout import REMARK, Layout, block_mark, is_row, row_cells
from sweepkit.readers.tables.vocabulary import states_reference

_DECIMAL_COMMA = re.compile(r",(?!\d{3}(?!\d))\d", re.ASCII)
_WORD = re.compile(r"[^\W\d_]{4,}")
CHUNK_ROWS = 2_000  # so many rows are cut into cells at a time: a million rows stay small in memory
PREFIXED, PARTLY_PREFIXED = "with a prefix", "partly with a prefix"  # as a unit: k, M or G stuck to numbers


@dataclass
class Grid:
    """A table's rows."""

    line_numbers: NDArray[np.int64]  # of each row
    style: Style  # how the numbers are printed
    # wanted columns by their place; complex where the cells are
    values: dict[int, NDArray[Any]] = field(default_factory=dict)
    steps: dict[int, Step] = field(default_factory=dict)  # smallest printed step of each column
    # how the numbers of columns print that do not all print alike
    printed: dict[int, Printed] = field(default_factory=dict)
    # that stands in the cells of a column, where one does
    units: dict[int, str] = field(default_factory=dict)
    remarks: tuple[tuple[int, str], ...] = ()  # line and text of what stands beside and below the rows
    left_out: tuple[int, ...] = ()  # lines marked as remarks that look like rows
    findings: tuple[Finding, ...] = ()  # rows that may be damaged


def read_grid(text: Text, layout: Layout, wanted: dict[int, str], decimal: str | None) -> Grid:
    """Read the *wanted* columns of a table, the frequency first among them."""
    first = next(place for number, _, place in text.numbered() if number == layout.first_row)
    read = _at_once(text.text, first, layout, wanted, decimal)
    grid = read if read is not None else _with_rows_found(text.lines, layout, wanted, decimal)
    frequency, last = next(iter(wanted)), max(wanted)  # the last is the column in which a cut file ends
    for at, printed in grid.printed.items():
        if grid.units.get(at) not in (PREFIXED, PARTLY_PREFIXED):  # there each number is in its own range
            cut_short = at == last == layout.width - 1 and text.is_cut_short
            grid.findings += refuse_odd(
                printed, grid.line_numbers, wanted[at], cut_short=cut_short, never_alone=at == frequency
            )
    grid.printed.clear()  # of a large table they weigh much
    return grid


def _at_once(
    text: str, start: int, layout: Layout, wanted: dict[int, str], decimal: str | None
) -> Grid | None:
    """Rows that are plain numbers all the way, whole; else nothing."""
    style = _plain_style(text, start, layout.separator, decimal)
    if style is None:
        return None
    block = read_block(
        text,
        layout.first_row,
        start=start,
        separator=layout.separator,
        decimal=style.decimal,
        open_end=layout.open_end,
    )
    if block is None or not (block.counts == layout.width).all():
        return None
    width, rows = layout.width, block.lines.size
    grid = Grid(block.lines, style, {at: block.values[at::width] for at in wanted})
    grid.steps = {at: column_step(block, at, width, rows) for at in wanted}
    if not block.is_even:
        grid.printed = {at: Printed.of_block(block, at, width, rows) for at in wanted}
    return grid


def _plain_style(text: str, start: int, separator: str, decimal: str | None) -> Style | None:
    """Decimal mark of rows in which it needs no proof: points, or commas that can be nothing else."""
    if separator == "," or text.find(",", start) < 0:
        return None if decimal == "," else Style()
    if decimal != "." and text.find(".", start) < 0 and _DECIMAL_COMMA.search(text, start):
        return Style(",")
    return None


def _with_rows_found(lines: list[str], layout: Layout, wanted: dict[int, str], decimal: str | None) -> Grid:
    """Rows among other lines: at once where they are plain, else cell by cell."""
    found = _find_rows(lines, layout)
    grid = _at_once("\n".join(lines[number - 1] for number in found.numbers), 0, layout, wanted, decimal)
    if grid is None:
        table = _Table(lines, layout, found.numbers, wanted)
        refuse_odd_exponents((number, lines[number - 1]) for number in found.numbers)
        style = decide_style(table.printed_numbers(), decimal)
        grid = table.cell_by_cell(style)
    grid.line_numbers, grid.remarks, grid.left_out = np.array(found.numbers), found.remarks, found.left_out
    return grid


def cells_of_row(line: str, layout: Layout) -> list[str]:
    """Cells of a row, as many as a row has."""
    cells = split(line, layout.separator)
    if len(cells) == layout.width + 1 and not cells[-1]:
        cells.pop()
    return cells if len(cells) == layout.width else row_cells(line, layout.separator)


@dataclass(frozen=True)
class _Table:
    """The rows as text."""

    lines: list[str]
    layout: Layout
    numbers: array[int]
    wanted: dict[int, str]

    def chunks(self) -> Iterator[tuple[array[int], list[list[str]]]]:
        for start in range(0, len(self.numbers), CHUNK_ROWS):
            chosen = self.numbers[start : start + CHUNK_ROWS]
            yield chosen, [cells_of_row(self.lines[number - 1], self.layout) for number in chosen]

    def printed_numbers(self) -> Iterator[tuple[int, str]]:
        """Line and text of every number, for the decision on decimal marks."""
        for chosen, rows in self.chunks():
            for number, row in zip(chosen, rows, strict=True):
                for at in self.wanted:
                    try:
                        yield number, split_unit(row[at])[0]
                    except ValueError:
                        continue  # told by cell_by_cell

    def cell_by_cell(self, style: Style) -> Grid:
        """Units, complex numbers and other writings, with errors that name the line."""
        grid = Grid(np.array(self.numbers), style)
        readers: dict[int, Callable[[str], Any]] = {}
        parts: dict[int, list[tuple[NDArray[Any], Printed]]] = {at: [] for at in self.wanted}
        for chosen, rows in self.chunks():
            for at, part in parts.items():
                texts = [row[at] for row in rows]
                reader = readers.setdefault(at, cell_reader(texts[0], style))
                cells = zip(chosen, texts, strict=True)
                values = np.array([cell_value(cell, n, self.wanted[at], reader) for n, cell in cells])
                part.append((values, Printed.of_texts(texts, values, style)))
        for at, part in parts.items():
            grid.values[at] = np.concatenate([values for values, _ in part])
            grid.units[at] = _unit(readers[at], len(self.numbers))
            grid.printed[at] = Printed.joined([printed for _, printed in part])
            grid.steps[at] = grid.printed[at].step
            self._refuse_oddly_grouped(at, grid.printed[at])
        return grid

    def _refuse_oddly_grouped(self, at: int, printed: Printed) -> None:
        """A mark between thousands in a few numbers of a column only is a damaged decimal mark."""
        if (row := printed.oddly_grouped()) is not None:
            line = self.numbers[row]
            text = split_unit(cells_of_row(self.lines[line - 1], self.layout)[at])[0]
            raise UnreadableFile(
                f"{text[:40]!r} has a mark between thousands that other rows do not have; expected one way of "
                "writing in the column; correct the line",
                line=line,
            )


def _unit(reader: Any, cells: int) -> str:
    """Unit that stood in the cells of a column."""
    prefixed = getattr(reader, "prefixed", 0)
    if prefixed:
        return PREFIXED if prefixed == cells else PARTLY_PREFIXED
    unit: str = getattr(reader, "unit", "")
    return unit


@dataclass(frozen=True)
class _FoundRows:
    """Where the rows of a table stand."""

    numbers: array[int]  # line of each row
    remarks: tuple[tuple[int, str], ...]  # line and text of what stands beside and below the rows
    left_out: tuple[int, ...]  # lines marked as remarks that look like rows


def _find_rows(lines: list[str], layout: Layout) -> _FoundRows:
    """The rows of a table; a line among them that is no row, or a second table, is refused."""
    numbers: array[int] = array("q")
    remarks: list[tuple[int, str]] = []
    foot = _foot(lines, layout)
    above = range((layout.headings_line or layout.first_row - 2) + 1, layout.first_row)
    left_out = [n for n in above if REMARK.match(lines[n - 1]) and _is_marked_row(lines[n - 1], layout)]
    gap = ended = footer = False
    for number in range(layout.first_row, len(lines) + 1):
        line = lines[number - 1]
        if not line or line.isspace():
            gap = True
        elif number >= foot and states_reference(line):
            footer = True
            remarks.append((number, line.strip()))
        elif _has_width(line, layout):
            if ended or footer:
                raise UnreadableFile(
                    "a second table begins; expected one sweep in the file; put each into a file of its own",
                    line=number,
                )
            numbers.append(number)
            gap = False
        elif REMARK.match(line):
            if _is_marked_row(line, layout):
                left_out.append(number)
            remarks.append((number, REMARK.sub("", line, count=1)))
        elif (mark := block_mark(line)) == "end":
            ended = True
        elif mark == "begin":
            raise UnreadableFile(
                "a second block begins; expected one sweep in the file; put each into a file of its own",
                line=number,
            )
        else:
            _refuse_inside(line, layout, number, below=gap or ended or footer)
            footer = True
            remarks.append((number, line.strip()))
    return _FoundRows(numbers, tuple(remarks), tuple(left_out))


def _foot(lines: list[str], layout: Layout) -> int:
    """The line from which on no row stands."""
    number = len(lines)
    while number >= layout.first_row:
        line = lines[number - 1]
        if is_row(row_cells(line, layout.separator)) and not states_reference(line):
            break
        number -= 1
    return number + 1


def _is_marked_row(line: str, layout: Layout) -> bool:
    """Whether a remark holds as many numbers as a row and hardly a word."""
    cells = split(REMARK.sub("", line, count=1), layout.separator)
    return sum(any(sign.isdigit() for sign in cell) for cell in cells) >= layout.width and not _WORD.search(
        line
    )


def _has_width(line: str, layout: Layout) -> bool:
    """Whether a line has as many cells as a row, told without cutting it where that is possible."""
    if not line or line[0] in "#!%/":
        return False
    if layout.separator != BLANK and '"' not in line and layout.separator != "|":
        stripped = line.rstrip(" " if layout.separator == "\t" else None)
        count = stripped.count(layout.separator) + 1
        ends_open = stripped.endswith(layout.separator)
        return count == layout.width + ends_open or (
            count == layout.width and not layout.open_end
        )  # where all rows end with a separator, a row of this width has lost a cell
    return any(len(cut(line, layout.separator)) == layout.width for cut in (split, row_cells))


def _refuse_inside(line: str, layout: Layout, number: int, *, below: bool) -> None:
    """Refuse a line among the rows that is no row; text below an empty line is a footer."""
    cells = row_cells(line, layout.separator)
    if is_row(cells):
        found = len(cells) - (layout.open_end and not cells[-1])
        raise UnreadableFile(
            f"line has {found} cells, {layout.width} expected; correct the line, or export the sweep again",
            line=number,
        )
    if not below:
        raise UnreadableFile(
            f"{line.strip()[:40]!r} is no row of numbers; expected {layout.width} cells; "
            "remove the line, or put # before it if it is a remark",
            line=number,
        )
