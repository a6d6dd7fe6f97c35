"""Tables with named columns: comma, semicolon, tab or blanks between cells, decimal point or comma."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import LikelyNoSweep, NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.agreement import COMMON_REFERENCES_OHM, Disagreement, first_disagreement
from sweepkit.readers.assembly import NOT_CALIBRATED, Rows, left_out_finding
from sweepkit.readers.cells import SEPARATORS
from sweepkit.readers.columns import first_row_cells, frequency_column, name_columns, reflection_columns
from sweepkit.readers.grid import Grid, read_grid
from sweepkit.readers.headings import FREQUENCY_UNITS, Column, plain
from sweepkit.readers.hints import UNIT_HZ, Hints
from sweepkit.readers.layout import Layout, find_layout, is_row, row_cells
from sweepkit.readers.measured import Measured, name_quantities
from sweepkit.readers.opening import Text
from sweepkit.readers.options import looks_like_options
from sweepkit.readers.reflection import Recipe, choose_recipe
from sweepkit.readers.sign_recovery import touches_zero_like_a_size
from sweepkit.readers.vocabulary import UNITS

NAME = "table"
SUMMARY = (
    "Tables (CSV and the like) with a frequency column and columns of R and X, SWR, return loss, S11, ..."
)

TABLE_RANGE_HZ = (1e3, 1e11)  # outside it a table has its unit wrong; common practice, no source
ONLY_UNIT_RANGE_HZ = (1e4, 2e10)  # a unit may be taken for granted only where it alone gives this; our choice
LEAST_SHARE_OF_ROWS = 0.3  # of the lines of a table without names above it; our choice
DEFAULT_REFERENCE_OHM = 50.0  # of field analyzers; common practice, no source

_REFERENCE = re.compile(
    r"(?:\bz_?[0o]\b|\breference\b|\bref\.? ?imp\w*|\bsystem impedance|\bbezugs\w+|\bimped\w+ d\w+ \w+)"
    r"[^0-9+-]{0,20}(?P<value>\d+(?:[.,]\d+)?)\s*(?P<unit>ohm)?"
)
_REFERENCE_IN_HEADING = re.compile(r"(?<![\d.])(\d+(?:\.\d+)?)\s*ohm")
_DATA_UNIT = re.compile(
    r"\b(?:data|value|y|trace)[ _-]*(?:unit|format|units)\b\W*([a-z]+)|^\W*unit\W+([a-z]+)\W*$"
)
_FREQUENCY_UNIT = re.compile(r"^\W*(?:freq\w*|x)[ _-]*(?:unit|in|units)?\W*(?:in\b)?\W*(hz|khz|mhz|ghz)\W*$")


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
    """Rows and remarks of a table.

    Raises
    ------
    NeedsHint
        The file leaves a meaning open that one of the hints settles.
    UnreadableFile
        The table cannot be read right, with the line.
    """
    layout = find_layout(text.lines)
    if not layout.headings and hints.columns is None:
        _refuse_prose(text.lines, layout)
    columns = name_columns(layout, hints, first_row_cells(text.lines, layout))
    frequency = frequency_column(columns, layout)
    used = reflection_columns(columns, layout, hints.trace)
    references = [column for column in columns if column.quantity == "z0"]
    wanted = {column.index: column.heading for column in (frequency, *used, *references)}
    grid = read_grid(text.lines, layout, wanted, hints.decimal)
    f_hz, unit_findings = _frequencies(frequency, grid, layout, hints)
    quantities = name_quantities(used, grid, _remark_unit(layout))
    by_name = _without_owner_settled(quantities.by_name, f_hz, grid)
    recipe = choose_recipe(set(by_name))
    if recipe is None:
        raise NeedsHint(
            f"no reflection column: {', '.join(repr(c.heading) for c in used)} alone give none; expected R and X, "
            "SWR, return loss or S11; pass --columns if they are something else",
            hint="columns",
            line=layout.headings_line or layout.first_row,
        )
    stated = _stated_reference(layout, hints, references, used, grid, recipe)
    reference_ohm, reference_findings = _agreed_reference(by_name, recipe, f_hz, stated, grid)
    rows = _rows(by_name, recipe, f_hz, reference_ohm, grid)
    findings = (
        *_reading_findings(text, grid, columns, used),
        *unit_findings,
        *quantities.findings,
        *reference_findings,
        *rows.findings,
    )
    findings += left_out_finding(list(grid.left_out))
    remarks = (*(words for _, words in layout.preamble if words), *grid.remarks)
    return Rows(rows.f_hz, rows.values, rows.phase, rows.line_numbers, reference_ohm, findings), remarks


def _refuse_prose(lines: list[str], layout: Layout) -> None:
    """A text with a few numbers in it is no table without names."""
    written = [line for line in lines if line.strip()]
    rows = sum(is_row(row_cells(line, layout.separator)) for line in written)
    if rows < LEAST_SHARE_OF_ROWS * len(written):
        raise LikelyNoSweep(
            f"{rows} of {len(written)} lines hold numbers, and no names stand above them; expected a table with a "
            "frequency column; if this is a sweep, pass --columns f,r,x (or what the columns hold) and --unit MHz",
            hint="columns",
            line=layout.first_row,
        )


def _frequencies(
    column: Column, grid: Grid, layout: Layout, hints: Hints
) -> tuple[FloatArray, tuple[Finding, ...]]:
    """Frequencies in Hz; the unit from heading, cells, remarks or hint, or where only one is possible."""
    values = grid.values[column.index]
    line = int(grid.line_numbers[0])
    if np.iscomplexobj(values):
        raise UnreadableFile(
            "complex numbers as frequency; expected real ones; correct the column", line=line
        )
    unit = column.unit or grid.units.get(column.index, "") or _remark_frequency_unit(layout)
    findings: tuple[Finding, ...] = ()
    if unit and unit not in FREQUENCY_UNITS:
        raise UnreadableFile(
            f"frequency in {unit}; expected Hz, kHz, MHz or GHz; correct the unit", line=line
        )
    if unit:
        unit_hz = UNIT_HZ[unit]
        if hints.unit_hz not in (None, unit_hz):
            if _in_range(values * unit_hz, TABLE_RANGE_HZ):
                raise UnreadableFile(
                    f"the file says {unit}, --unit says something else; expected no clash; leave --unit out",
                    line=layout.headings_line or line,
                )
            unit_hz = float(hints.unit_hz or unit_hz)
    elif hints.unit_hz is not None:
        unit_hz = hints.unit_hz
    else:
        unit_hz, findings = _only_unit(values, layout, line)
    f_hz = values * unit_hz
    if not _in_range(f_hz, TABLE_RANGE_HZ):
        at = int(np.argmax((f_hz > TABLE_RANGE_HZ[1]) | (f_hz < 0))) if f_hz.size else 0
        raise UnreadableFile(
            f"frequency {f_hz[at]:.6g} Hz; expected 1 kHz to 100 GHz; the unit is likely wrong - pass --unit",
            line=int(grid.line_numbers[at]),
        )
    return f_hz, findings


def _in_range(f_hz: FloatArray, low_high: tuple[float, float]) -> bool:
    """All at or below the top, none negative, and the highest not below the bottom."""
    return bool(f_hz.min() >= 0 and low_high[0] <= f_hz.max() <= low_high[1])


def _only_unit(values: FloatArray, layout: Layout, line: int) -> tuple[float, tuple[Finding, ...]]:
    low, high = ONLY_UNIT_RANGE_HZ
    possible = [
        (name, unit_hz)
        for name, unit_hz in UNIT_HZ.items()
        if values.min() * unit_hz >= low and values.max() * unit_hz <= high
    ]
    if len(possible) != 1:
        raise NeedsHint(
            f"frequencies from {values.min():g} to {values.max():g} without a unit; expected one in the heading; "
            "pass --unit MHz (or Hz, kHz, GHz)",
            hint="unit",
            line=layout.headings_line or line,
        )
    text = f"the frequencies have no unit; {possible[0][0].replace('hz', 'Hz')} alone makes them 10 kHz to 20 GHz"
    return possible[0][1], (Finding("unit-assumed", "note", text, "pass --unit to say it yourself"),)


def _remark_frequency_unit(layout: Layout) -> str:
    matches = (_FREQUENCY_UNIT.search(plain(words)) for _, words in layout.preamble)
    return next((match.group(1) for match in matches if match), "")


def _remark_unit(layout: Layout) -> tuple[str, int] | None:
    """Unit of the values that a remark such as ``DATA UNIT dB`` states, with its line."""
    for number, words in layout.preamble:
        match = _DATA_UNIT.search(plain(words))
        unit = UNITS.get(match.group(1) or match.group(2)) if match else None
        if unit in ("db", "deg", "rad", "percent"):
            return unit, number
    return None


def _without_owner_settled(by_name: dict[str, Measured], f_hz: FloatArray, grid: Grid) -> dict[str, Measured]:
    """A phase without an owner belongs to Z or to the reflection: the other columns or its range decide."""
    settled = dict(by_name)
    for ownerless, suffix in (("any_phase", ""), ("any_phase_abs", "_abs")):
        if ownerless not in settled:
            continue
        one = settled.pop(ownerless)
        name = _owner(one, settled, f_hz, grid, suffix)
        if name in settled:
            continue
        settled[name] = one
    return settled


def _owner(one: Measured, others: dict[str, Measured], f_hz: FloatArray, grid: Grid, suffix: str) -> str:
    """``z_phase`` or ``s_phase`` for a phase that does not say."""
    beyond = np.abs(one.values) > np.pi / 2 + one.resolution + 0.02
    fits = [
        name
        for name in (f"z_phase{suffix}", f"s_phase{suffix}")
        if _fits({**others, name: one}, name, f_hz) and not (name.startswith("z") and beyond.any())
    ]
    has_z = bool({"z_abs", "z", "r", "rn"} & others.keys())
    has_s = bool({"mag", "db", "re", "gamma"} & others.keys())
    if len(fits) == 1:
        return fits[0]
    if len(fits) == 2 and has_z != has_s:
        return fits[0] if has_z else fits[1]
    at = int(np.argmax(beyond)) if beyond.any() else 0
    raise NeedsHint(
        f"column {one.column.heading!r} does not say of what it is the phase, and the other columns do not tell; "
        "expected phase of Z or of S11; pass --columns with z_deg or s11_deg in its place",
        hint="columns",
        line=int(grid.line_numbers[at]),
    )


def _fits(quantities: dict[str, Measured], name: str, f_hz: FloatArray) -> bool:
    """Whether a phase under this name makes a sweep that agrees with all other columns."""
    recipe = choose_recipe(set(quantities))
    if recipe is None or recipe.phase == "none":
        return False
    return any(first_disagreement(quantities, recipe, f_hz, z0) is None for z0 in COMMON_REFERENCES_OHM)


def _stated_reference(
    layout: Layout, hints: Hints, references: list[Column], used: list[Column], grid: Grid, recipe: Recipe
) -> float | None:
    """Reference that the file or the user states; none where both are silent."""
    stated: float | None = None
    line = layout.headings_line or layout.first_row
    for column in references:
        stated, line = _reference_column(column, grid, recipe, stated), int(grid.line_numbers[0])
    if stated is None:
        for column in used:
            match = _REFERENCE_IN_HEADING.search(plain(column.heading))
            if match and column.quantity in ("swr", "rl", "gamma"):
                stated = float(match.group(1))
    if stated is None:
        for number, words in layout.preamble:
            match = _REFERENCE.search(plain(words))
            if match and (match.group("unit") or re.search(r"\bz_?[0o]\b|imp", plain(words))):
                stated, line = float(match.group("value").replace(",", ".")), number
                break
    if stated is not None and not stated > 0:
        raise UnreadableFile(f"reference of {stated:g} ohm; expected ohms above 0; correct it", line=line)
    if stated is not None and hints.reference_ohm not in (None, stated):
        raise UnreadableFile(
            f"the file states {stated:g} ohm as reference, --reference-ohm says {hints.reference_ohm:g}; "
            "expected no clash; leave the option out",
            line=line,
        )
    if stated is None and recipe.needs == ("rn", "xn") and hints.reference_ohm is None:
        raise NeedsHint(
            "R and X are divided by a reference that the file does not state; expected its ohms; "
            "pass --reference-ohm 50 (or what it is)",
            hint="reference-ohm",
            line=line,
        )
    return stated if stated is not None else hints.reference_ohm


def _reference_column(column: Column, grid: Grid, recipe: Recipe, earlier: float | None) -> float | None:
    """A column of reference impedances: constant and real, or refused where the reading needs it."""
    values: NDArray[np.complexfloating[Any, Any]] = np.asarray(grid.values[column.index], dtype=np.complex128)
    if column.part in ("im", "phase"):
        values = 1j * values.real
    real = np.abs(values.imag).max() <= 1e-6 * max(1.0, float(np.abs(values).max()))
    constant = np.ptp(values.real) <= 1e-6 * np.abs(values.real).max()
    if real and constant:
        return earlier if column.part in ("im", "phase") else float(values.real[0])
    if recipe.needs[0] in ("r", "z", "z_abs", "rp", "y", "g", "y_abs") and recipe.phase == "signed":
        return earlier  # impedances need no reference
    at = int(np.argmax(np.abs(values - values[0]))) if not constant else int(np.argmax(np.abs(values.imag)))
    raise UnreadableFile(
        f"the reference impedance in column {column.heading} varies or is complex ({values[at]:.4g} ohm); "
        "expected one resistance; export again renormalised to 50 ohm",
        line=int(grid.line_numbers[at]),
    )


def _agreed_reference(
    by_name: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, stated: float | None, grid: Grid
) -> tuple[float, tuple[Finding, ...]]:
    """The reference for which all columns agree.

    Raises
    ------
    UnreadableFile
        They agree for none: the first line that disagrees is named.
    """
    first: Disagreement | None = None
    for reference_ohm in (stated,) if stated is not None else COMMON_REFERENCES_OHM:
        clash = first_disagreement(by_name, recipe, f_hz, reference_ohm)
        if clash is None:
            return reference_ohm, _reference_findings(by_name, recipe, reference_ohm, stated)
        first = first or clash
    assert first is not None
    one = by_name[first.name]
    factor = 180 / np.pi if "phase" in first.name else 1.0
    columns = " and ".join(by_name[name].column.heading for name in recipe.needs)
    raise UnreadableFile(
        f"column {one.column.heading} says {factor * first.found:.5g}, {columns} give {factor * first.expected:.5g} "
        f"({first.rows} of {f_hz.size} rows disagree); expected agreement; correct the line or a wrong heading, "
        "or leave a column out with --columns and - in its place",
        line=int(grid.line_numbers[first.row]),
    )


def _reference_findings(
    by_name: dict[str, Measured], recipe: Recipe, reference_ohm: float, stated: float | None
) -> tuple[Finding, ...]:
    """Say it where the reference was not stated and matters."""
    impedance = recipe.needs[0] in ("r", "z", "z_abs", "rp", "y", "g", "y_abs")
    proved = impedance and len(by_name) > len(recipe.needs) and reference_ohm != DEFAULT_REFERENCE_OHM
    if stated is not None or (impedance and not proved and recipe.phase == "signed"):
        return ()
    if proved:
        text = f"the file states no reference; its columns agree with each other for {reference_ohm:g} ohm"
        return (Finding("reference-inferred", "note", text, "nothing to do"),)
    text = f"the file states no reference resistance; {reference_ohm:g} ohm was taken"
    step = "pass --reference-ohm if the analyzer used another"
    return (Finding("reference-assumed", "note", text, step),)


def _rows(
    by_name: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, reference_ohm: float, grid: Grid
) -> Rows:
    """Reflection of every row, with what is known of its phase."""
    with np.errstate(all="ignore"):
        values = recipe.gamma(tuple(by_name[name].values for name in recipe.needs), f_hz, reference_ohm)
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
    return Rows(f_hz, values, phase, grid.line_numbers, reference_ohm, tuple(findings))


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
    """X that is never negative: unsigned where it bends at zero as a size does, doubtful where SWR dips inside."""
    if (gamma.imag < 0).any() or gamma.size < 5:
        return False, []
    order = np.argsort(f_hz, kind="stable")
    size = np.abs(gamma[order])
    inside = 0 < int(np.argmin(size)) < size.size - 1
    if not inside:
        return False, []
    if touches_zero_like_a_size(gamma[order]):
        text = "the reactance is never negative and bends at zero as its size would; it was read as unsigned"
        return True, [
            Finding("x-unsigned", "note", text, "export the sweep with signed reactance if you can")
        ]
    text = (
        "the reactance is never negative although the SWR has a dip inside the sweep; its sign may be missing"
    )
    step = "check the sign of X below the dip on the analyzer; pass --columns 'f,r,|x|' if it shows no sign"
    return False, [Finding("x-never-negative", "warning", text, step)]


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
    ports = {column.port for column in columns if column.port and ">" not in column.port}
    if len(ports) > 1:
        taken = next((column.port for column in used if column.port), "1")
        words = (
            f"the table has reflections of ports {', '.join(sorted(ports))}; that of port {taken} was read"
        )
        findings.append(Finding("one-port-of-several", "note", words, "pass --trace s22 for port 2"))
    return tuple(findings)
