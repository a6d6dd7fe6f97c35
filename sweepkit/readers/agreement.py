"""Redundant columns must agree: that proves roles, units and reference, and finds the one bad number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.readers.ranges import Measured
from sweepkit.readers.reflection import COMPARABLE, QUANTITIES, Recipe

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
    """The first row in which a column is not what the others say.

    Parameters
    ----------
    name : str
        Quantity.
    row : int
        Place of the row, from 0.
    found, expected : float
        What stands there, and what the other columns give.
    rows : int
        How many rows disagree.
    """

    name: str
    row: int
    found: Any
    expected: Any
    rows: int


def first_disagreement(
    quantities: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, reference_ohm: float
) -> Disagreement | None:
    """Compare every column with what the recipe's columns give, in the reflection plane where all is bounded.

    The recipe's own columns are compared too: where no reflection has both (an R that this SWR cannot have) the
    recipe gives the nearest one.

    Returns: the first row that is off by more than the printed steps and the usual noise.
    """
    if recipe.phase != "unsigned" and quantities.keys() <= set(recipe.needs):
        return None  # nothing more is told
    gamma, blur = _reflection_and_blur(quantities, recipe, f_hz, reference_ohm)
    found = []
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
            wrong &= ~((one.values == one.values.max()) & (expected > one.values))
        if wrong.any():
            at = int(np.argmax(wrong))
            found.append(Disagreement(name, at, one.values[at], expected[at], int(wrong.sum())))
    return min(found, key=lambda one: (one.row, one.name in recipe.needs, one.name)) if found else None


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
