"""Tables with named columns: comma, semicolon, tab or blanks between cells, decimal point or comma."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import LikelyNoSweep, NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_step import PrintedStep
from sweepkit.readers.assembly import NOT_CALIBRATED, left_out_finding
from sweepkit.readers.hints import Hints
from sweepkit.readers.numbers import MINUS
from sweepkit.readers.opening import Text, one_block
from sweepkit.readers.options import looks_like_options
from sweepkit.readers.order import PrintedNumber, PrintedRow, Rows
from sweepkit.readers.sign_recovery import touches_zero_like_a_size
from sweepkit.readers.tables.agreement import agreed_reference, stated_reference, with_owner_settled
from sweepkit.readers.tables.cells import SEPARATORS, split_unit
from sweepkit.readers.tables.columns import frequency_column, name_columns, reflection_columns
from sweepkit.readers.tables.frequencies import table_frequencies
from sweepkit.readers.tables.grid import Grid, cells_of_row, read_grid
from sweepkit.readers.tables.headings import Column
from sweepkit.readers.tables.layout import (
    LEAST_TRANSPOSED_CELLS,
    MOST_TRANSPOSED_ROWS,
    SAMPLE_LINES,
    Layout,
    find_layout,
    is_row,
    refuse_other_layout,
    row_cells,
)
from sweepkit.readers.tables.measured import Measured, name_quantities
from sweepkit.readers.tables.reflection import Recipe, choose_recipe
from sweepkit.readers.tables.vocabulary import UNITS, plain

NAME = "table"
SUMMARY = (
    "Tables (CSV and the like) with a frequency column and columns of R and X, SWR, return loss, S11, ..."
)

LEAST_SHARE_OF_ROWS = 0.3  # of the lines of a table without names above it; our choice

_DATA_UNIT = re.compile(
    r"\b(?:data|value|y|trace)[ _-]*(?:unit|format|units)\b\W*([a-z]+)|^\W*unit\W+([a-z]+)\W*$"
)


def recognise(head: str) -> bool:
    """Whether the beginning of a file has rows of cells and no mark of Touchstone."""
    lines = [line.strip() for line in head.split("\n")]
    if any(line.lower().startswith("[version]") for line in lines):
        return False
    marked = [line for line in lines if line.startswith("#")]
    if marked and all(looks_like_options(line) for line in marked) and _option_line_leads(lines):
        return False
    return any(len(row_cells(line, separator)) > 1 for line in lines for separator in SEPARATORS)


def _option_line_leads(lines: list[str]) -> bool:
    """Whether the first ``#`` line stands before the first line that begins with a digit."""
    for line in lines:
        if line.startswith("#"):
            return True
        if line[:1].isdigit():
            return False
    return False


def read(text: Text, hints: Hints) -> tuple[Rows, tuple[str, ...]]:
    """Rows and remarks of a table."""
    text, hints = one_block(text, hints)
    lines = [line for _, line, _ in islice(text.numbered(), SAMPLE_LINES)]
    layout = find_layout(tuple(lines))
    if not layout.headings and hints.columns is None:
        _refuse_prose(lines, layout)
    columns = name_columns(layout, hints, lines[layout.first_row - 1])
    frequency = frequency_column(columns, layout)
    used = reflection_columns(columns, layout, hints.trace)
    references = [column for column in columns if column.quantity == "z0"]
    wanted = {column.index: column.heading for column in (frequency, *used, *references)}
    grid = read_grid(text, layout, wanted, hints.decimal)
    f_hz, unit_findings = table_frequencies(frequency, grid, layout, hints)
    by_name, sign_findings = name_quantities(used, grid, _remark_unit(layout))
    by_name = with_owner_settled(by_name, f_hz, grid)
    recipe = choose_recipe(set(by_name))
    if recipe is None:
        raise NeedsHint(
            f"no reflection column: {', '.join(repr(c.heading) for c in used)} alone give none; expected R and X, "
            "SWR, return loss or S11; pass --columns if they are something else",
            hint="columns",
            line=layout.headings_line or layout.first_row,
        )
    stated = stated_reference(layout, hints, references, used, grid, recipe)
    reference_ohm, reference_findings = agreed_reference(by_name, recipe, f_hz, stated, grid)
    rows = _rows(by_name, recipe, f_hz, reference_ohm, grid)
    findings = (
        *_reading_findings(text, grid, columns, used),
        *grid.findings,
        *unit_findings,
        *sign_findings,
        *reference_findings,
        *rows.findings,
    )
    findings += left_out_finding(list(grid.left_out))
    remarks = tuple(words for _, words in (*layout.preamble, *grid.remarks) if words)
    needs = [Measured(f_hz, grid.steps[frequency.index], frequency), *(by_name[n] for n in recipe.needs)]
    printed_row = _row_printer(text, layout, grid, needs, partial(_reflections, recipe, reference_ohm))
    return replace(rows, findings=findings, printed_row=printed_row), remarks


def _reflections(recipe: Recipe, reference_ohm: float, rows: FloatArray) -> NDArray[Any]:
    """Of rows of a frequency and the quantities that the recipe needs."""
    f_hz, *others = rows.T
    return recipe.gamma(tuple(others), f_hz, reference_ohm)


def _row_printer(
    text: Text,
    layout: Layout,
    grid: Grid,
    needs: list[Measured],
    reflections: Callable[[FloatArray], NDArray[Any]],
) -> Callable[[int], PrintedRow] | None:
    """How the row in a line prints, of which no column of numbers is kept: those of a large file weigh much."""
    if grid.style.thousands or any(np.iscomplexobj(one.values) for one in needs):
        return None
    decimal, columns = grid.style.decimal, {one.column.index: one.column.heading for one in needs}
    columns |= {
        at: name for at, name in enumerate(layout.headings or [""] * layout.width) if at not in columns
    }
    scales = np.array([_scale(one, grid.values[one.column.index]) for one in needs])

    def printed_row(line: int) -> PrintedRow:
        cells = cells_of_row(text.line(line), layout)
        numbers = tuple(PrintedNumber(_bare_number(cells[at]), name) for at, name in columns.items())
        return PrintedRow(
            numbers, len(needs), decimal, lambda f: f * scales[0], lambda rows: reflections(rows * scales)
        )

    return printed_row


def _bare_number(cell: str) -> str:
    """Without its unit, where it is one number."""
    with contextlib.suppress(ValueError):
        cell = split_unit(cell)[0].replace(" ", "")
    return cell.translate(MINUS)


def _scale(one: Measured, printed: NDArray[Any]) -> float:
    """What turns printed numbers into the quantity: their sign may have been turned, too."""
    at = int(np.argmax(printed != 0))
    return float(one.values[at] / printed[at]) if printed[at] else one.step.scale


def _refuse_prose(lines: list[str], layout: Layout) -> None:
    """A text with a few numbers in it is no table without names."""
    written = [line for line in lines if line.strip()]
    rows = sum(is_row(row_cells(line, layout.separator)) for line in written)
    if rows <= MOST_TRANSPOSED_ROWS and layout.width >= LEAST_TRANSPOSED_CELLS:
        refuse_other_layout("\n".join(lines))
    if rows < LEAST_SHARE_OF_ROWS * len(written):
        raise LikelyNoSweep(
            f"{rows} of {len(written)} lines hold numbers, and no names stand above them; expected a table with a "
            "frequency column; if this is a sweep, pass --columns f,r,x (or what the columns hold) and --unit MHz",
            hint="columns",
            line=layout.first_row,
        )


def _remark_unit(layout: Layout) -> tuple[str, int] | None:
    """Unit of the values that a remark such as ``DATA UNIT dB`` states, with its line."""
    for number, words in layout.preamble:
        match = _DATA_UNIT.search(plain(words))
        unit = UNITS.get(match.group(1) or match.group(2)) if match else None
        if unit in ("db", "deg", "rad", "percent"):
            return unit, number
    return None


def _rows(
    by_name: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, reference_ohm: float, grid: Grid
) -> Rows:
    """Reflection of every row, with what is known of its phase."""
    with np.errstate(all="ignore"):
        values = recipe.reflection(tuple(by_name[name].values for name in recipe.needs), f_hz, reference_ohm)
    phase = recipe.phase
    findings: list[Finding] = []
    if recipe.needs[0] in ("r", "z", "z_abs", "rn", "rp", "y", "g", "y_abs"):
        _refuse_negative_resistance(values, by_name[recipe.needs[0]], grid)
    if recipe.needs in (("r", "x"), ("z",), ("z_abs", "z_phase"), ("rn", "xn")):
        folded, said = _maybe_unsigned(values, f_hz)
        phase = "unsigned" if folded else phase
        findings += said
    if phase == "none":
        text = "the file holds the size of the reflection only: SWR is known, impedance and resonance are not"
        findings.append(
            Finding("no-phase", "note", text, "export the sweep with phase (Touchstone) if you can")
        )
    if phase == "unsigned":
        text = "the file tells the size of the reactance, not its sign: SWR is known, resonance is not"
        step = "pass --recover-sign to find the sign from the sweep itself, or export with phase"
        findings.append(Finding("no-phase", "note", text, step))
    printed = PrintedStep(recipe.needs, tuple(by_name[name].step for name in recipe.needs), reference_ohm)
    return Rows(f_hz, values, phase, grid.line_numbers, reference_ohm, tuple(findings), printed)


def _refuse_negative_resistance(gamma: NDArray[np.complex128], one: Measured, grid: Grid) -> None:
    wrong = np.abs(gamma) > NOT_CALIBRATED
    if wrong.any():
        at = int(np.argmax(wrong))
        raise UnreadableFile(
            f"column {one.column.heading} and its neighbours give a reflection of {abs(gamma[at]):.3g} "
            f"(resistance below zero); expected at most 1; correct the line, or name the columns with --columns",
            line=int(grid.line_numbers[at]),
        )


def _maybe_unsigned(gamma: NDArray[np.complex128], f_hz: FloatArray) -> tuple[bool, list[Finding]]:
    """X that is never negative: unsigned where it bends at zero as a size does, else doubtful and said."""
    if (gamma.imag < 0).any() or gamma.size < 5:
        return False, []
    order = np.argsort(f_hz, kind="stable")
    if touches_zero_like_a_size(gamma[order]):
        text = "the reactance is never negative and bends at zero as its size would; it was read as unsigned"
        return True, [
            Finding("x-unsigned", "note", text, "export the sweep with signed reactance if you can")
        ]
    dips_inside = 0 < int(np.argmin(np.abs(gamma[order]))) < gamma.size - 1
    text = "the reactance is never negative"
    text += " although the SWR has a dip inside the sweep" if dips_inside else ""
    text += "; it was read as inductive all the way, and its sign may be missing"
    step = "check the sign of X on the analyzer; pass --columns 'f,r,|x|' if it shows no sign"
    return False, [Finding("x-never-negative", "warning" if dips_inside else "note", text, step)]


def _reading_findings(
    text: Text, grid: Grid, columns: list[Column], used: list[Column]
) -> tuple[Finding, ...]:
    """What the text layer had to decide."""
    findings = []
    if text.encoding == "latin-1":
        findings.append(
            Finding("encoding", "note", "the text is no UTF-8; it was read as latin-1", "nothing to do")
        )
    if grid.style.decimal == ",":
        findings.append(
            Finding("commas-in-numbers", "note", "commas were read as decimal marks", "nothing to do")
        )
    elif grid.style.thousands:
        words = f"{grid.style.thousands!r} was read as a mark between thousands"
        findings.append(Finding("commas-in-numbers", "note", words, "nothing to do"))
    unread = [c.heading for c in columns if c.quantity == "unknown" and (c.named or c.unit == "ohm")]
    if unread:
        names = ", ".join(map(repr, unread[:5])) + (", ..." if len(unread) > 5 else "")
        words = f"column {names} names a quantity in words that say too little or too much; it was left out"
        findings.append(Finding("column-left-out", "note", words, "pass --columns to have it read"))
    ports = {column.port for column in columns if column.port and ">" not in column.port}
    if len(ports) > 1:
        taken = next((column.port for column in used if column.port), "1")
        words = (
            f"the table has reflections of ports {', '.join(sorted(ports))}; that of port {taken} was read"
        )
        findings.append(Finding("one-port-of-several", "note", words, "pass --trace s22 for port 2"))
    return tuple(findings)
