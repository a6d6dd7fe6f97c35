"""The rows of a table as arrays of numbers, each with the line it came from."""

from __future__ import annotations

import re
import statistics
from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.printed_step import Step
from sweepkit.readers.cell_values import cell_reader, cell_value
from sweepkit.readers.cells import split, split_unit
from sweepkit.readers.layout import Layout, row_cells
from sweepkit.readers.numbers import UNSIGNED_EXPONENT, Grouping, Style, decide_style
from sweepkit.readers.printing import printed_step
from sweepkit.readers.rows import find_rows

_TWO_COMMAS = re.compile(r"\d,\d*,")
_DECIMAL_COMMA = re.compile(r",(?!\d{3}(?!\d))\d")
CHUNK_ROWS = 2_000  # so many rows are cut into cells at a time: a million rows stay small in memory
PREFIXED, PARTLY_PREFIXED = "with a prefix", "partly with a prefix"  # as a unit: k, M or G stuck to numbers
STEP_ROWS = 500  # rows looked at for the number of printed digits


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
    steps : dict of Step
        Smallest printed step of each column.
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
    steps: dict[int, Step]
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
    found = find_rows(lines, layout)
    table = _Table(lines, layout, found.numbers, wanted)
    if any(UNSIGNED_EXPONENT.search(lines[number - 1]) for number in found.numbers):
        table.refuse_odd_exponents()
    style = Style(",") if decimal != "." and table.has_decimal_commas() else Style()
    columns = None if decimal == "," and style.decimal == "." else table.plain_columns(style)
    units: dict[int, str] = {}
    if columns is None:
        style = decide_style(table.printed_numbers(), decimal)
        table.refuse_odd_grouping(style)
        columns, units = table.careful_columns(style)
    return Grid(
        np.array(found.numbers),
        columns,
        units,
        table.steps(style),
        found.remarks,
        found.left_out,
        style,
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

    def has_decimal_commas(self) -> bool:
        """Whether commas can only be decimal marks: no point anywhere, a proof in some number, no second comma."""
        if self.layout.separator == ",":
            return False
        proved = False
        for number in self.numbers:
            line = self.lines[number - 1]
            if "." in line or _TWO_COMMAS.search(line):
                return False
            proved = proved or _DECIMAL_COMMA.search(line) is not None
        return proved

    def plain_columns(self, style: Style) -> dict[int, NDArray[Any]] | None:
        """Columns in which every cell is a bare number in this style; nothing where one is not."""
        parts: dict[int, list[FloatArray]] = {at: [] for at in self.wanted}
        for chosen, rows in self.chunks():
            if not all(self.lines[number - 1].isascii() for number in chosen):
                return None
            for at, part in parts.items():
                texts = [row[at] for row in rows]
                if style.decimal == ",":
                    texts = [text.replace(",", ".") for text in texts]
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
                reader = readers.setdefault(at, cell_reader(rows[0][at], style))
                texts = ((number, row[at]) for number, row in zip(chosen, rows, strict=True))
                part.append(np.array([cell_value(text, n, self.wanted[at], reader) for n, text in texts]))
        for at, part in parts.items():
            columns[at] = np.concatenate(part)
            unit = getattr(readers[at], "unit", "")
            if prefixed := getattr(readers[at], "prefixed", 0):
                unit = PREFIXED if prefixed == len(self.numbers) else PARTLY_PREFIXED
            if unit:
                units[at] = unit
        return columns, units

    def steps(self, style: Style) -> dict[int, Step]:
        rows = [self._cells(self.lines[number - 1]) for number in self.numbers[:STEP_ROWS]]
        return {at: printed_step((row[at] for row in rows), style.decimal) for at in self.wanted}
