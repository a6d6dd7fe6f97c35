"""Which lines of a table are its rows, and what stands beside and below them."""

from __future__ import annotations

import re
from array import array
from dataclasses import dataclass

from sweepkit.errors import UnreadableFile
from sweepkit.readers.tables.cells import BLANK, split
from sweepkit.readers.tables.layout import REMARK, Layout, block_mark, is_row, row_cells
from sweepkit.readers.tables.reference_words import states_reference

_WORD = re.compile(r"[^\W\d_]{4,}")


@dataclass(frozen=True)
class FoundRows:
    """Where the rows of a table stand."""

    numbers: array[int]  # line of each row
    remarks: tuple[tuple[int, str], ...]  # line and text of what stands beside and below the rows
    left_out: tuple[int, ...]  # lines marked as remarks that look like rows


def find_rows(lines: list[str], layout: Layout) -> FoundRows:
    """Find the rows of a table.

    Raises ``UnreadableFile``: a line among the rows that is no row, or a second table.
    """
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
    return FoundRows(numbers, tuple(remarks), tuple(left_out))


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
