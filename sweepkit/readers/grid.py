"""The rows of a table as arrays of numbers, each with the line it came from."""

from __future__ import annotations

import statistics
from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.readers.cells import BLANK, complex_number, is_missing, split, split_unit
from sweepkit.readers.layout import REMARK, Layout, block_mark, is_row, row_cells
from sweepkit.readers.numbers import UNSIGNED_EXPONENT, Grouping, Style, decide_style, parse_number

CHUNK_ROWS = 20_000  # so many rows are cut into cells at a time: a million rows stay small in memory
RESOLUTION_ROWS = 500  # rows looked at for the number of printed digits


@dataclass(frozen=True)
class Resolution:
    """Smallest step a column can print: ``absolute + relative * abs(value)``."""

    absolute: float
    relative: float

    def of(self, values: NDArray[Any]) -> FloatArray:
        """Step at each value, in the column's own unit."""
        return np.asarray(self.absolute + self.relative * np.abs(values), dtype=np.float64)


@dataclass(frozen=True)
class Grid:
    """A table's rows.

    Parameters
    ----------
    line_numbers : int array, shape (n,)
        Line of each row.
    values : dict of arrays, shape (n,)
        Wanted columns by their place; complex where the cells are.
    units : dict of str
        Unit that stands in the cells of a column, where one does.
    resolutions : dict of Resolution
        Printed resolution of each column.
    remarks : tuple of str
        Text beside and below the rows.
    left_out : tuple of int
        Lines marked as remarks that look like rows.
    style : Style
        How the numbers are printed.
    """

    line_numbers: NDArray[np.int64]
    values: dict[int, NDArray[Any]]
    units: dict[int, str]
    resolutions: dict[int, Resolution]
    remarks: tuple[str, ...]
    left_out: tuple[int, ...]
    style: Style


def read_grid(lines: list[str], layout: Layout, wanted: dict[int, str], decimal: str | None) -> Grid:
    """Read the wanted columns of a table.

    Parameters
    ----------
    lines : list of str
        The file.
    layout : Layout
        Where the rows are.
    wanted : dict
        Heading of each wanted column by its place.
    decimal : {".", ","} or None
        Decimal mark the user named.

    Raises
    ------
    UnreadableFile
        The first line that is no row, or the first cell that is no number.
    """
    numbers, remarks, left_out = _row_lines(lines, layout)
    table = _Table(lines, layout, numbers, wanted)
    if any(UNSIGNED_EXPONENT.search(lines[number - 1]) for number in numbers):
        table.refuse_odd_exponents()
    style = Style()
    columns = None if decimal == "," else table.plain_columns()
    units: dict[int, str] = {}
    if columns is None:
        style = decide_style(table.printed_numbers(), decimal)
        table.refuse_odd_grouping(style)
        columns, units = table.careful_columns(style)
    return Grid(
        np.array(numbers), columns, units, table.resolutions(style), tuple(remarks), tuple(left_out), style
    )


def _row_lines(lines: list[str], layout: Layout) -> tuple[array[int], list[str], list[int]]:
    """Line numbers of the rows, and the text beside and below them."""
    numbers: array[int] = array("q")
    remarks: list[str] = []
    left_out: list[int] = []
    gap = ended = footer = False
    for number in range(layout.first_row, len(lines) + 1):
        line = lines[number - 1]
        if not line or line.isspace():
            gap = True
        elif _has_width(line, layout):
            if ended or footer:
                raise UnreadableFile(
                    "a second table begins; expected one sweep in the file; put each into a file of its own",
                    line=number,
                )
            numbers.append(number)
            gap = False
        elif REMARK.match(line):
            if _has_width(line[1:], layout) and is_row(row_cells(line[1:], layout.separator)):
                left_out.append(number)
            remarks.append(REMARK.sub("", line, count=1))
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
            remarks.append(line.strip())
    return numbers, remarks, left_out


def _has_width(line: str, layout: Layout) -> bool:
    """Whether a line has as many cells as a row, told without cutting it where that is possible."""
    if not line or line[0] in "#!%/":
        return False
    if layout.separator != BLANK and '"' not in line and layout.separator != "|":
        stripped = line.rstrip(" " if layout.separator == "\t" else None)
        count = stripped.count(layout.separator) + 1
        return count == layout.width or (count == layout.width + 1 and stripped.endswith(layout.separator))
    return any(len(cut(line, layout.separator)) == layout.width for cut in (split, row_cells))


def _refuse_inside(line: str, layout: Layout, number: int, *, below: bool) -> None:
    """Refuse a line among the rows that is no row; text below an empty line is a footer."""
    cells = row_cells(line, layout.separator)
    if is_row(cells):
        raise UnreadableFile(
            f"line has {len(cells)} cells, {layout.width} expected; correct the line, or export the sweep again",
            line=number,
        )
    if not below:
        raise UnreadableFile(
            f"{line.strip()[:40]!r} is no row of numbers; expected {layout.width} cells; "
            "remove the line, or put # before it if it is a remark",
            line=number,
        )


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
            yield chosen, [self._cells(self.lines[number - 1]) for number in chosen]

    def _cells(self, line: str) -> list[str]:
        cells = split(line, self.layout.separator)
        if len(cells) == self.layout.width + 1 and not cells[-1]:
            cells.pop()
        return cells if len(cells) == self.layout.width else row_cells(line, self.layout.separator)

    def plain_columns(self) -> dict[int, NDArray[Any]] | None:
        """Columns in which every cell is a number with a point or none; nothing where one is not."""
        parts: dict[int, list[FloatArray]] = {at: [] for at in self.wanted}
        for chosen, rows in self.chunks():
            if not all(self.lines[number - 1].isascii() for number in chosen):
                return None
            for at, part in parts.items():
                texts = [row[at] for row in rows]
                try:
                    values = np.fromiter(map(float, texts), dtype=np.float64, count=len(texts))
                except ValueError:
                    return None
                if not np.isfinite(values).all() or any("_" in text for text in texts):
                    return None
                part.append(values)
        return {at: np.concatenate(part) for at, part in parts.items()}

    def printed_numbers(self) -> Iterator[tuple[int, str]]:
        """Line and text of every number, for the decision on decimal marks."""
        for chosen, rows in self.chunks():
            for number, row in zip(chosen, rows, strict=True):
                for at in self.wanted:
                    try:
                        yield number, split_unit(row[at])[0]
                    except ValueError:
                        continue

    def refuse_odd_grouping(self, style: Style) -> None:
        """A mark between thousands in a few numbers of a column only is a damaged decimal mark."""
        groupings = {at: Grouping() for at in self.wanted}
        for chosen, rows in self.chunks():
            for number, row in zip(chosen, rows, strict=True):
                for at, grouping in groupings.items():
                    try:
                        text = split_unit(row[at])[0]
                    except ValueError:
                        continue  # told by careful_columns
                    try:
                        grouping.add(text, style)
                    except ValueError as error:
                        raise UnreadableFile(
                            f"{text[:40]!r} has {error}; expected one way of writing in the column; correct the line",
                            line=number,
                        ) from error

    def refuse_odd_exponents(self) -> None:
        """An exponent without a sign in a few rows only is damage, not a large number."""
        counts = array("q", (len(UNSIGNED_EXPONENT.findall(self.lines[n - 1])) for n in self.numbers))
        common = statistics.mode(counts)
        for number, count in zip(self.numbers, counts, strict=True):
            if count > common:
                raise UnreadableFile(
                    "a number has an exponent that those of other rows do not have; expected one way of writing; "
                    "the line looks damaged - correct it, or export the sweep again",
                    line=number,
                )

    def careful_columns(self, style: Style) -> tuple[dict[int, NDArray[Any]], dict[int, str]]:
        """Columns cell by cell, with units, complex numbers and errors that name the line."""
        columns: dict[int, NDArray[Any]] = {}
        units: dict[int, str] = {}
        readers: dict[int, Callable[[str], Any]] = {}
        parts: dict[int, list[NDArray[Any]]] = {at: [] for at in self.wanted}
        for chosen, rows in self.chunks():
            for at, part in parts.items():
                reader = readers.setdefault(at, _cell_reader(rows[0][at], style))
                texts = ((number, row[at]) for number, row in zip(chosen, rows, strict=True))
                part.append(np.array([_value(text, n, self.wanted[at], reader) for n, text in texts]))
        for at, part in parts.items():
            columns[at] = np.concatenate(part)
            unit = getattr(readers[at], "unit", "")
            if unit:
                units[at] = unit
        return columns, units

    def resolutions(self, style: Style) -> dict[int, Resolution]:
        rows = [self._cells(self.lines[number - 1]) for number in self.numbers[:RESOLUTION_ROWS]]
        return {at: _resolution([row[at] for row in rows], style) for at in self.wanted}


def _cell_reader(first: str, style: Style) -> Callable[[str], Any]:
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


@dataclass(frozen=True)
class _RealCell:
    """Reads cells that hold one number and the same unit all the way."""

    style: Style
    unit: str

    def __call__(self, cell: str) -> float:
        number, unit = split_unit(cell)
        if unit != self.unit:
            raise ValueError(f"unit {unit or 'none'!r} where the first row has {self.unit or 'none'!r}")
        return parse_number(number, self.style)


def _value(cell: str, line: int, heading: str, reader: Callable[[str], Any]) -> Any:
    try:
        return reader(cell)
    except ValueError as error:
        column = f" in column {heading}" if heading else ""
        if is_missing(cell):
            raise UnreadableFile(
                f"{cell or 'nothing'!r}{column}; expected a number in every row; sweep again, "
                "or leave the column out with --columns and - in its place",
                line=line,
            ) from error
        raise UnreadableFile(
            f"{cell[:40]!r}{column} is no number ({error}); expected one in every row; correct the line",
            line=line,
        ) from error


def _resolution(texts: list[str], style: Style) -> Resolution:
    """Printed resolution of a column, from its longest cells."""
    decimals, digits, with_exponent = 0, 1, False
    for text in texts:
        mantissa, exponent, _ = text.lower().replace("d", "e").partition("e")
        whole, _, part = mantissa.partition(style.decimal)
        printed = sum(sign.isdigit() for sign in part)
        decimals = max(decimals, printed)
        digits = max(digits, printed + 1)
        with_exponent = with_exponent or (bool(exponent) and whole.strip("+-").isdigit())
    if with_exponent:
        return Resolution(0.0, 10.0 ** (1 - digits))
    return Resolution(10.0**-decimals, 0.0)
