"""Signs and ranges of a quantity: what its heading leaves open is settled, what no quantity can be is refused."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_step import Step
from sweepkit.readers.assembly import NO_REFLECTION, refuse_lone_turn, refuse_no_size
from sweepkit.readers.tables.grid import Grid
from sweepkit.readers.tables.headings import Column

FULL_REFLECTION_DB = 1.3  # slightly positive dB are met at full reflection, never more (94 published files)
TINY_LOSS_DB = 0.1  # return loss that has crossed 0 at full reflection; the same files
OHMS = frozenset(("r", "x", "x_abs", "z_abs"))
NO_OHMS = (
    1e6  # beyond what a one-port analyzer resolves (its reflection is within 1e-4 of total); our own choice
)
LEAST_MARK = 1e3  # ohm; a smaller number is no mark of overflow; our own choice
SURELY_PERCENT = 1.2  # a linear reflection above it at every point is no passive one; the same files


@dataclass(frozen=True)
class Measured:
    """One quantity."""

    values: NDArray[Any]  # in SI units; angles in radians; dB as dB
    step: Step  # smallest it is printed in
    column: Column  # where it comes from

    @property
    def resolution(self) -> FloatArray:
        """Smallest printed step at each point, in the unit of the values."""
        return self.step.of(self.values)


def refuse_overflow(found: dict[str, Measured], grid: Grid) -> None:
    """A meter's mark for "more than I can show" is no resistance; where most rows have it, it is an open."""
    for name in sorted(OHMS & found.keys()):
        one = found[name]
        if max(one.values.max(), -one.values.min()) < LEAST_MARK:  # most tables, told fast
            continue
        size = np.abs(one.values)
        marks = size >= NO_OHMS
        for limit in np.unique(size[(size >= LEAST_MARK) & (size < NO_OHMS)]):
            if re.fullmatch(r"9{4,}(\.9*)?", f"{limit:.10g}") or limit in (32767, 65535):
                others = size[size != limit]
                marks |= (size == limit) & (others.size > 0 and 5 * others.max(initial=0) < limit)
        if marks.any() and marks.mean() < 0.5:
            at = int(np.argmax(marks))
            raise UnreadableFile(
                f"{one.values[at]:.10g} in column {one.column.heading} among ordinary numbers is a mark of overflow; "
                "expected ohms; remove the line, or sweep again",
                line=int(grid.line_numbers[at]),
            )


def settled(name: str, one: Measured, grid: Grid) -> tuple[str, Measured, list[Finding]]:
    """Signs and ranges that the heading leaves open."""
    values, line = one.values, grid.line_numbers
    if name == "swr":
        _refuse_where(values < 1 - 1e-9, "SWR below 1", "1 or more", one, grid)
    if name in ("x_abs", "z_abs", "y_abs", "z_phase_abs", "any_phase_abs", "s_phase_abs"):
        _refuse_where(values < 0, "negative value of an unsigned quantity", "0 or more", one, grid)
    if name == "mag":
        if (values < 0).any():
            raise NeedsHint(
                f"column {one.column.heading!r} has negative values, which no magnitude has; expected dB, or "
                "parts of a complex number; pass --columns f,s11_db or f,re,im",
                hint="columns",
                line=int(line[int(np.argmax(values < 0))]),
            )
        if (values.min() > SURELY_PERCENT or values.max() > NO_REFLECTION) and not one.column.unit:
            raise NeedsHint(
                f"column {one.column.heading!r} runs from {values.min():.3g} to {values.max():.3g}; expected a linear "
                "reflection of at most 1; pass --columns f,s11_percent if it is percent, f,swr if it is SWR",
                hint="columns",
                line=int(line[0]),
            )
    if "phase" in name:
        refuse_lone_turn(values, line)
    if name in ("db", "rl"):
        refuse_no_size(values, line)
    if name == "rl":
        return _return_loss(one, grid)
    if name == "db":
        return _decibels(one, grid)
    return name, one, []


def _return_loss(one: Measured, grid: Grid) -> tuple[str, Measured, list[Finding]]:
    """Positive by definition; half of all exports have it negative (Bird 2009)."""
    values = one.values
    positive, negative = values > TINY_LOSS_DB, values < -TINY_LOSS_DB
    if positive.any() and negative.any():
        odd = negative if negative.sum() < positive.sum() else positive
        _refuse_where(odd, "return loss of both signs", "one sign all the way", one, grid)
    if not negative.any():
        return "rl", one, []
    flipped = Measured(-values, one.step, one.column)
    return "rl", flipped, [_sign_finding(one.column, "negative", "return loss, positive by definition")]


def _decibels(one: Measured, grid: Grid) -> tuple[str, Measured, list[Finding]]:
    """S11 in dB; where all values are positive it is return loss under another name."""
    values = one.values
    if values.min() >= 0 and values.max() > FULL_REFLECTION_DB:
        flipped = Measured(-values, one.step, one.column)
        return "db", flipped, [_sign_finding(one.column, "positive", "S11 in dB, negative by definition")]
    if values.min() > 0 and values.max() > TINY_LOSS_DB and not one.column.hinted:
        raise NeedsHint(
            f"column {one.column.heading!r} is above 0 at every point and never above {values.max():.3g}; expected "
            "decibels of 0 or less; pass --columns f,mag if the numbers are linear, f,s11_db if they are decibels "
            "of an uncalibrated sweep",
            hint="columns",
            line=int(grid.line_numbers[0]),
        )
    return "db", one, []


def _sign_finding(column: Column, found: str, meaning: str) -> Finding:
    text = f"column {column.heading} is {found} all the way; it was read as {meaning}"
    return Finding("return-loss-sign", "note", text, "nothing to do; the size of the numbers is unchanged")


def _refuse_where(wrong: NDArray[np.bool_], what: str, expected: str, one: Measured, grid: Grid) -> None:
    if wrong.any():
        at = int(np.argmax(wrong))
        raise UnreadableFile(
            f"{what} in column {one.column.heading}: {one.values[at]:g}; expected {expected}; "
            "correct the line, or name the column with --columns",
            line=int(grid.line_numbers[at]),
        )
