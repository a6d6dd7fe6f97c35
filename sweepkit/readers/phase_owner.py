"""A phase that does not say of what it is: of Z or of the reflection, as the other columns or its range tell."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import NeedsHint
from sweepkit.readers.agreement import COMMON_REFERENCES_OHM, first_disagreement
from sweepkit.readers.grid import Grid
from sweepkit.readers.ranges import Measured
from sweepkit.readers.reflection import choose_recipe


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
