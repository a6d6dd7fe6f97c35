"""Redundant columns must agree: that proves roles, units and reference, tells whose a phase is, finds a bad number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.errors import NeedsHint
from sweepkit.printed_quantities import QUANTITIES
from sweepkit.readers.tables.grid import Grid
from sweepkit.readers.tables.ranges import Measured
from sweepkit.readers.tables.reflection import COMPARABLE, PIECE_ROWS, Recipe, choose_recipe

NOISE = 0.005  # two columns of one measurement differ by less in reflection; common practice, no source
COMMON_REFERENCES_OHM = (
    50.0,
    75.0,
    100.0,
    25.0,
    200.0,
    300.0,
    450.0,
    600.0,
)  # of lines in the trade; no source


@dataclass(frozen=True)
class Disagreement:
    """The first row in which a column is not what the others say."""

    name: str
    row: int  # from 0
    found: Any  # what stands there
    expected: Any  # what the other columns give
    rows: int  # how many disagree


def first_disagreement(
    quantities: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, reference_ohm: float
) -> Disagreement | None:
    """The first row off by more than the printed steps and the usual noise, each column held against the recipe's.

    In the reflection plane, where all is bounded. The recipe's own columns are compared too: where no reflection has
    both (an R that this SWR cannot have) the recipe gives the nearest one.
    """
    if recipe.phase != "unsigned" and quantities.keys() <= set(recipe.needs):
        return None  # nothing more is told
    found: dict[str, Disagreement] = {}
    for start in range(0, f_hz.size, PIECE_ROWS):
        rows = slice(start, start + PIECE_ROWS)
        part = {name: replace(one, values=one.values[rows]) for name, one in quantities.items()}
        for one in _disagreements(part, recipe, f_hz[rows], reference_ohm, quantities):
            first = found.setdefault(one.name, replace(one, row=start + one.row, rows=0))
            found[one.name] = replace(first, rows=first.rows + one.rows)
    return min(found.values(), key=lambda one: (one.row, one.name in recipe.needs, one.name), default=None)


def _disagreements(
    quantities: dict[str, Measured],
    recipe: Recipe,
    f_hz: FloatArray,
    reference_ohm: float,
    whole: dict[str, Measured],
) -> Iterator[Disagreement]:
    """Of a piece of the *whole* columns."""
    gamma, blur = _reflection_and_blur(quantities, recipe, f_hz, reference_ohm)
    for name in set(quantities) & COMPARABLE[recipe.phase]:
        one = quantities[name]
        value, says = QUANTITIES[name]
        with np.errstate(all="ignore"):
            there = says(gamma, one.values, reference_ohm)
            step = one.resolution * 1.01
            moved = [says(gamma, one.values + turn * step, reference_ohm) - there for turn in (1, -1)]
            slack = np.fmax(*(np.where(np.isfinite(gap), np.abs(gap), np.inf) for gap in moved))
            wrong = np.abs(there - gamma) > blur + slack
            expected = value(gamma, reference_ohm)
        if name == "swr":  # a display that ends at 10 or 25 shows that for all above
            wrong &= ~((one.values == whole[name].values.max()) & (expected > one.values))
        if wrong.any():
            at = int(np.argmax(wrong))
            yield Disagreement(name, at, one.values[at], expected[at], int(wrong.sum()))


def _reflection_and_blur(
    quantities: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, reference_ohm: float
) -> tuple[ComplexArray, FloatArray]:
    """Reflection, and how far rounding of its columns may have moved it."""
    used = [quantities[name] for name in recipe.needs]
    values = tuple(one.values for one in used)
    with np.errstate(all="ignore"):
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
