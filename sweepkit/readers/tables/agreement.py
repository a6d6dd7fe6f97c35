"""Redundant columns must agree: that proves roles and units, tells whose a phase is, finds a bad number.

The reference resistance of a table is stated, told, or proved by columns that agree for no other.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_quantities import MAGNITUDES, QUANTITIES
from sweepkit.readers.hints import Hints
from sweepkit.readers.tables.grid import Grid
from sweepkit.readers.tables.headings import Column
from sweepkit.readers.tables.layout import Layout
from sweepkit.readers.tables.measured import Measured
from sweepkit.readers.tables.reflection import COMPARABLE, PIECE_ROWS, Recipe, choose_recipe
from sweepkit.readers.tables.vocabulary import plain, remarked_reference

NOISE = 0.005  # two columns of one measurement differ by less in reflection; common practice, no source
SURELY_NEAR = 0.99 * NOISE  # however it is worked out; our own choice
# Of lines in the trade; no source
COMMON_REFERENCES_OHM = (50.0, 75.0, 100.0, 25.0, 200.0, 300.0, 450.0, 600.0)

DEFAULT_REFERENCE_OHM = 50.0  # of field analyzers; common practice, no source

_REFERENCE_IN_HEADING = re.compile(r"(?<![\d.])(\d+(?:\.\d+)?)\s*ohm")


@dataclass(frozen=True)
class Disagreement:
    """The first row in which a column is not what the others say."""

    name: str
    row: int  # from 0
    found: Any  # what stands there
    expected: Any  # what the other columns give
    rows: int  # how many disagree


@np.errstate(all="ignore")
def first_disagreement(
    quantities: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, reference_ohm: float
) -> Disagreement | None:
    """The first row off by more than the printed steps and the usual noise, each column held against the recipe's.

    In the reflection plane, where all is bounded. The recipe's own columns are compared too where no reflection may
    have both (an R that this SWR cannot have): the recipe gives the nearest one.
    """
    names = COMPARABLE[recipe.phase] & quantities.keys()
    if recipe.phase != "unsigned":
        names -= set(recipe.needs)
    found: dict[str, Disagreement] = {}
    for start in range(0, f_hz.size if names else 0, PIECE_ROWS):
        rows = slice(start, start + PIECE_ROWS)
        gamma = recipe.gamma(
            tuple(quantities[name].values[rows] for name in recipe.needs), f_hz[rows], reference_ohm
        )
        size = np.abs(gamma)
        for name in names:
            far = start + _far(name, quantities[name].values[rows], gamma, size, reference_ohm)
            one = _disagreement(name, far, quantities, recipe, f_hz, reference_ohm) if far.size else None
            if one is not None:
                first = found.setdefault(name, replace(one, rows=0))
                found[name] = replace(first, rows=first.rows + one.rows)
    return min(found.values(), key=lambda one: (one.row, one.name in recipe.needs, one.name), default=None)


def _far(
    name: str, values: NDArray[Any], gamma: NDArray[Any], size: FloatArray, reference_ohm: float
) -> NDArray[np.intp]:
    """Rows that the usual noise alone does not bring together; of a size the phase is that of *gamma*."""
    if name in MAGNITUDES:
        off = MAGNITUDES[name](values) - size
    else:
        off = QUANTITIES[name][1](gamma, values, reference_ohm) - gamma
    return np.flatnonzero(np.abs(off) > SURELY_NEAR)


def _disagreement(
    name: str,
    rows: NDArray[np.intp],
    quantities: dict[str, Measured],
    recipe: Recipe,
    f_hz: FloatArray,
    reference_ohm: float,
) -> Disagreement | None:
    """The first of some rows, and how many of them, in which a column is not what the others say."""
    part = {
        key: replace(quantities[key], values=quantities[key].values[rows]) for key in (*recipe.needs, name)
    }
    gamma, blur = _reflection_and_blur(part, recipe, f_hz[rows], reference_ohm)
    one, (value, says) = part[name], QUANTITIES[name]
    there = says(gamma, one.values, reference_ohm)
    step = one.resolution * 1.01
    moved = [says(gamma, one.values + turn * step, reference_ohm) - there for turn in (1, -1)]
    slack = np.fmax(*(np.where(np.isfinite(gap), np.abs(gap), np.inf) for gap in moved))
    at_most = gamma / np.maximum(np.abs(gamma), 1.0) if name == "swr" else gamma  # no SWR shows more than all
    wrong = np.abs(there - at_most) > blur + slack
    expected = value(gamma, reference_ohm)
    if name == "swr":  # a display that ends at 10 or 25 shows that for all above
        wrong &= ~((one.values == quantities[name].values.max()) & (expected > one.values))
    if not wrong.any():
        return None
    at = int(np.argmax(wrong))
    return Disagreement(name, int(rows[at]), one.values[at], expected[at], int(wrong.sum()))


def _reflection_and_blur(
    quantities: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, reference_ohm: float
) -> tuple[ComplexArray, FloatArray]:
    """Reflection, and how far rounding of its columns may have moved it."""
    used = [quantities[name] for name in recipe.needs]
    values = tuple(one.values for one in used)
    gamma = recipe.gamma(values, f_hz, reference_ohm)
    blur = np.full(f_hz.shape, NOISE)
    for at, one in enumerate(used):
        moved = (*values[:at], one.values + one.resolution, *values[at + 1 :])
        step = np.abs(recipe.gamma(moved, f_hz, reference_ohm) - gamma)
        blur += np.where(np.isfinite(step), step, np.inf)
    return np.asarray(gamma, dtype=np.complex128), blur


def with_owner_settled(by_name: dict[str, Measured], f_hz: FloatArray, grid: Grid) -> dict[str, Measured]:
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
    """The reference for which all columns agree; where there is none, the first line that disagrees is named."""
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
