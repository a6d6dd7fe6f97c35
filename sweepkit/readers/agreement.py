"""Redundant columns must agree: that proves roles, units and reference, and finds the one bad number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.readers.ranges import Measured
from sweepkit.readers.reflection import NEED_NO_PHASE, NEED_NO_SIGN, PREDICTIONS, Recipe

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
    """Compare every other column with what the recipe's columns give.

    Parameters
    ----------
    quantities : dict of Measured
        All columns.
    recipe : Recipe
        The columns that are believed first.
    f_hz : float array, shape (n,)
        Frequency. [Hz]
    reference_ohm : float
        Reference to try. [ohm]

    Returns
    -------
    Disagreement or None
        The one in the earliest row; ``None`` where all agree within rounding and noise.
    """
    gamma, blur = _reflection_and_blur(quantities, recipe, f_hz, reference_ohm)
    believed = (
        set(recipe.needs) if recipe.phase != "unsigned" else set()
    )  # a size of X is made to fit by clipping
    comparable = {"signed": tuple(PREDICTIONS), "unsigned": NEED_NO_SIGN, "none": NEED_NO_PHASE}[recipe.phase]
    found = []
    for name in set(quantities) & set(comparable) - believed:
        one = quantities[name]
        expected, spread = _prediction(name, gamma, blur, reference_ohm)
        gap = np.abs(_difference(name, one.values, expected))
        wrong = gap > spread + 1.01 * one.resolution
        if name == "swr":  # a display that ends at 10 or 25 shows that for all above
            wrong &= ~((one.values == one.values.max()) & (expected > one.values))
        if wrong.any():
            at = int(np.argmax(wrong))
            found.append(Disagreement(name, at, one.values[at], expected[at], int(wrong.sum())))
    return min(found, key=lambda one: (one.row, one.name)) if found else None


def _reflection_and_blur(
    quantities: dict[str, Measured], recipe: Recipe, f_hz: FloatArray, reference_ohm: float
) -> tuple[NDArray[Any], FloatArray]:
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
    return gamma, blur


def _prediction(
    name: str, gamma: NDArray[Any], blur: FloatArray, reference_ohm: float
) -> tuple[NDArray[Any], FloatArray]:
    """What the reflection gives for a quantity, and how far the blur may move that."""
    predict = PREDICTIONS[name]
    with np.errstate(all="ignore"):
        complex_gamma = np.asarray(gamma, dtype=np.complex128)
        expected = predict(complex_gamma, reference_ohm)
        spread = np.zeros(gamma.shape)
        for turn in (1, -1, 1j, -1j):
            moved = _difference(name, predict(complex_gamma + turn * blur, reference_ohm), expected)
            spread = np.fmax(spread, np.where(np.isfinite(moved), np.abs(moved), np.inf))
    return expected, spread


def _difference(name: str, a: NDArray[Any], b: NDArray[Any]) -> NDArray[Any]:
    """``a - b``; for angles the shorter way round; 0 where both are infinite."""
    with np.errstate(invalid="ignore"):
        gap = np.where(np.isinf(a) & np.isinf(b), 0.0, a - b)
    if "phase" in name and "abs" not in name:
        gap = (gap + np.pi) % (2 * np.pi) - np.pi
    return np.asarray(gap)
