"""The reference resistance of a table: stated, told, or proved by columns that agree for no other."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.hints import Hints
from sweepkit.readers.tables.agreement import COMMON_REFERENCES_OHM, Disagreement, first_disagreement
from sweepkit.readers.tables.grid import Grid
from sweepkit.readers.tables.headings import Column, plain
from sweepkit.readers.tables.layout import Layout
from sweepkit.readers.tables.ranges import Measured
from sweepkit.readers.tables.reference_words import remarked_reference
from sweepkit.readers.tables.reflection import Recipe

DEFAULT_REFERENCE_OHM = 50.0  # of field analyzers; common practice, no source

_REFERENCE_IN_HEADING = re.compile(r"(?<![\d.])(\d+(?:\.\d+)?)\s*ohm")


def stated_reference(
    layout: Layout, hints: Hints, references: list[Column], used: list[Column], grid: Grid, recipe: Recipe
) -> float | None:
    """Reference that the file or the user states; none where both are silent."""
    found = _all_stated(layout, references, used, grid, recipe)
    if len(found) > 1 and hints.reference_ohm not in found:
        values = " and ".join(f"{value:g}" for value in found)
        raise NeedsHint(
            f"the file names {values} ohm as reference; expected one; pass --reference-ohm with the right one",
            hint="reference-ohm",
            line=list(found.values())[1],
        )
    if len(found) > 1:
        return hints.reference_ohm
    stated, line = next(iter(found.items()), (None, layout.headings_line or layout.first_row))
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


def _all_stated(
    layout: Layout, references: list[Column], used: list[Column], grid: Grid, recipe: Recipe
) -> dict[float, int]:
    """What a column, the headings and the remarks above, beside and below the rows say, each with its first line."""
    found: dict[float, int] = {}
    column_ohm: float | None = None
    for column in references:
        column_ohm = _reference_column(column, grid, recipe, column_ohm)
    if column_ohm is not None:
        found[column_ohm] = int(grid.line_numbers[0])
    for column in used:
        match = _REFERENCE_IN_HEADING.search(plain(column.heading))
        if match and column.quantity in ("swr", "rl", "gamma"):
            found.setdefault(float(match.group(1)), layout.headings_line or layout.first_row)
    for number, words in (*layout.preamble, *grid.remarks):
        if (value := remarked_reference(words)) is not None:
            found.setdefault(value, number)
    return found


def _reference_column(column: Column, grid: Grid, recipe: Recipe, earlier: float | None) -> float | None:
    """A column of reference impedances: constant and real, or refused where the reading needs it."""
    values: NDArray[np.complexfloating[Any, Any]] = np.asarray(grid.values[column.index], dtype=np.complex128)
    if column.part in ("im", "phase"):
        values = 1j * values.real
    real = np.abs(values.imag).max() <= 1e-6 * max(1.0, float(np.abs(values).max()))
    constant = np.ptp(values.real) <= 1e-6 * np.abs(values.real).max()
    if real and constant:
        return earlier if column.part in ("im", "phase") else float(values.real[0])
    if recipe.gives_impedance:
        return earlier  # impedances need no reference
    at = int(np.argmax(np.abs(values - values[0]))) if not constant else int(np.argmax(np.abs(values.imag)))
    raise UnreadableFile(
        f"the reference impedance in column {column.heading} varies or is complex ({values[at]:.4g} ohm); "
        "expected one resistance; export again renormalised to 50 ohm",
        line=int(grid.line_numbers[at]),
    )


def agreed_reference(
    by_name: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, stated: float | None, grid: Grid
) -> tuple[float, tuple[Finding, ...]]:
    """The reference for which all columns agree.

    Raises ``UnreadableFile``: they agree for none: the first line that disagrees is named.
    """
    first: Disagreement | None = None
    redundant = len(by_name) > len(
        recipe.needs
    )  # two columns of which none is more than needed prove no reference
    usual = COMMON_REFERENCES_OHM if redundant else COMMON_REFERENCES_OHM[:1]
    for reference_ohm in (stated,) if stated is not None else usual:
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
    proved = (
        recipe.gives_impedance and len(by_name) > len(recipe.needs) and reference_ohm != DEFAULT_REFERENCE_OHM
    )
    if stated is not None or (recipe.gives_impedance and not proved):
        return ()
    if proved:
        text = f"the file states no reference; its columns agree with each other for {reference_ohm:g} ohm"
        return (Finding("reference-inferred", "note", text, "nothing to do"),)
    text = f"the file states no reference resistance; {reference_ohm:g} ohm was taken"
    step = "pass --reference-ohm if the analyzer used another"
    return (Finding("reference-assumed", "note", text, step),)
