"""Cells of one column to values, each in the way its first cell shows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sweepkit.errors import UnreadableFile
from sweepkit.readers.cells import PREFIXES, complex_number, is_missing, split_unit
from sweepkit.readers.numbers import Style, parse_number


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
    """Value of a cell.

    Raises ``UnreadableFile``: no number, or none of the kind the column began with; the line is named.
    """
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
