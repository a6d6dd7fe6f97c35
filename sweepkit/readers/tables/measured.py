"""Columns of a table as named quantities in SI units: what each number means is settled here, or asked for."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_step import Step
from sweepkit.readers.assembly import NO_REFLECTION, refuse_lone_turn, refuse_no_size
from sweepkit.readers.tables.grid import PARTLY_PREFIXED, PREFIXED, Grid
from sweepkit.readers.tables.headings import Column
from sweepkit.readers.tables.reflection import PIECE_ROWS

SURELY_DEGREES = 3.2  # no angle in radians between -pi and pi is larger
LIKELY_NORMALISED = 5.0  # median |R + jX| below it may be ohm or divided by the reference; our own choice
SCALES = {"kohm": 1e3, "ms": 1e-3, "percent": 1e-2, "nh": 1e-9, "uh": 1e-6, "pf": 1e-12, "nf": 1e-9}
FULL_REFLECTION_DB = 1.3  # slightly positive dB are met at full reflection, never more (94 published files)
TINY_LOSS_DB = 0.1  # return loss that has crossed 0 at full reflection; the same files
SURELY_PERCENT = 1.2  # a linear reflection above it at every point is no passive one; the same files
# Beyond what a one-port analyzer resolves (its reflection is within 1e-4 of total); our own choice
NO_OHMS = 1e6
LEAST_MARK = 1e3  # ohm; a smaller number is no mark of overflow; our own choice


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


def name_quantities(
    columns: list[Column], grid: Grid, remark_unit: tuple[str, int] | None
) -> tuple[dict[str, Measured], tuple[Finding, ...]]:
    """Settle what the numbers of each column mean, by name; the findings are repairs that lost nothing.

    Names are those of ``reflection``, and ``any_phase`` for an angle without an owner. ``remark_unit``: unit that a
    remark above the table gives its values, and the line of that remark.
    """
    found: dict[str, Measured] = {}
    findings: list[Finding] = []
    beside_impedance = any(column.quantity in ("z", "r", "x") for column in columns)
    for column in columns:
        one = Measured(grid.values[column.index], grid.steps[column.index], column)
        name = _name(one, grid, remark_unit, beside_impedance=beside_impedance)
        one = _scaled(one, name, grid)
        _refuse_impossible(name, one, grid)
        if name in ("db", "rl"):
            one, said = _with_usual_sign(name, one, grid)
            findings += said
        if name not in found:
            found[name] = one
        elif not np.array_equal(found[name].values, one.values):
            raise ask(
                f"columns {found[name].column.heading!r} and {column.heading!r} hold the same quantity of "
                "different traces; expected one; pass --trace with words of the wanted one's name",
                grid,
                hint="trace",
            )
    _refuse_overflow(found, grid)
    _refuse_likely_normalised(found, grid)
    return found, tuple(findings)


def ask(text: str, grid: Grid, *, hint: str = "columns", row: int = 0) -> NeedsHint:
    """What the file leaves open, with the first row it shows in."""
    return NeedsHint(text, hint=hint, line=int(grid.line_numbers[row]))


def _name(one: Measured, grid: Grid, remark_unit: tuple[str, int] | None, *, beside_impedance: bool) -> str:
    """Name of the quantity in a column."""
    column, is_complex = one.column, np.iscomplexobj(one.values)
    if column.quantity in ("gamma", "part"):
        if is_complex:
            return "gamma"
        name_of = _ownerless if column.quantity == "part" else _reflection_name
        return name_of(one, column.unit or grid.units.get(column.index, ""), grid, remark_unit)
    suffix = "_abs" if "abs" in column.part else ""
    if column.quantity == "theta":
        return f"{'z_phase' if beside_impedance else 'any_phase'}{suffix}"
    if column.quantity in ("z", "y"):
        if is_complex:
            return column.quantity
        series = {"re": "r", "im": "x"} if column.quantity == "z" else {"re": "g", "im": "b"}
        parts = {"phase": "phase", "phase abs": "phase_abs"}
        name = series.get(column.part) or f"{column.quantity}_{parts.get(column.part, 'abs')}"
    else:
        name = f"x{suffix}" if column.quantity == "x" else column.quantity
    if is_complex:
        raise _no_meaning(column, "complex numbers where one number belongs", grid)
    return {"r": "rn", "x": "xn"}.get(name, name) if column.normalised else name


def _reflection_name(one: Measured, unit: str, grid: Grid, remark_unit: tuple[str, int] | None) -> str:
    column, part = one.column, one.column.part
    if not part and not unit and remark_unit is not None:
        unit, line = remark_unit
        if unit in ("deg", "rad"):
            raise UnreadableFile(
                f"line {line} says {unit}, so column {column.heading} is a phase alone; expected a magnitude "
                "beside it; put both into one table, or give the magnitude file",
                line=line,
            )
    if part == "" and unit in ("db", "deg", "rad", "percent"):
        part = {"db": "db", "percent": "abs"}.get(unit, "phase")
    names = {"re": "re", "im": "im", "abs": "mag", "db": "db", "phase": "s_phase", "phase abs": "s_phase_abs"}
    if part in names:
        return names[part]
    if column.heading and "|" not in column.heading and not (one.values < 0).any() and not column.port:
        return "mag"  # rho, gamma: a magnitude where nothing else is said
    raise ask(
        f"column {column.heading!r} does not say what it holds (dB, magnitude, phase, real part?); expected one "
        "of them; pass --columns f,s11_db or f,mag",
        grid,
    )


def _ownerless(one: Measured, unit: str, grid: Grid, _: tuple[str, int] | None) -> str:
    """A part without a quantity: "Re", "Phase", "dB". Real, imaginary and magnitude prove a reflection by size."""
    part = one.column.part
    if part.startswith("phase"):
        return "any_phase_abs" if "abs" in part else "any_phase"
    if part in ("re", "im", "abs") and np.abs(one.values).max() <= 1.1 and unit in ("", "percent"):
        return {"re": "re", "im": "im", "abs": "mag"}[part]
    raise ask(
        f"column {one.column.heading!r} does not say of what it is; expected S11 or Z with it; "
        "pass --columns, such as f,s11_db or f,r,x",
        grid,
    )


def _scaled(one: Measured, name: str, grid: Grid) -> Measured:
    """The same in SI units; angles in radians."""
    column, stands = one.column, grid.units.get(one.column.index)
    unit = column.unit or stands or ""
    if stands in (PREFIXED, PARTLY_PREFIXED):
        if column.unit not in ("", "ohm"):
            raise _no_meaning(column, "numbers with a metric prefix stuck to them", grid)
        stands = ""
    if column.unit and stands and column.unit != stands:
        raise _no_meaning(column, f"cells in {stands}", grid)
    factor = SCALES.get(unit, 1.0)
    if "phase" in name:
        factor = 1.0 if _is_radian(one, unit, grid) else np.pi / 180
    elif name in ("g", "b", "y", "y_abs") and not unit:
        raise ask(
            f"column {column.heading!r} has no unit; expected siemens or millisiemens; "
            "pass --columns with g_ms,b_ms or g (S),b (S)",
            grid,
        )
    elif name in ("l", "c") and not unit and np.abs(one.values).max() > 1e-2:
        raise _no_meaning(column, "values too large for henry or farad and no unit", grid)
    values = one.values if factor == 1 else one.values * factor
    return Measured(values, one.step.scaled(factor), column)


def _is_radian(one: Measured, unit: str, grid: Grid) -> bool:
    if unit in ("deg", "rad"):
        return unit == "rad"
    if np.abs(one.values).max() > SURELY_DEGREES:
        return False
    raise ask(
        f"column {one.column.heading!r} stays within 3.2 and has no unit; expected degrees or radians; "
        "pass --columns with deg or rad in its place",
        grid,
    )


def _refuse_impossible(name: str, one: Measured, grid: Grid) -> None:
    """Refuse numbers that the quantity cannot have."""
    values = one.values
    if name == "swr":
        _refuse_where(values < 1 - 1e-9, "SWR below 1", "1 or more", one, grid)
    if name in ("x_abs", "z_abs", "y_abs", "z_phase_abs", "any_phase_abs", "s_phase_abs"):
        _refuse_where(values < 0, "negative value of an unsigned quantity", "0 or more", one, grid)
    if name == "mag" and (values < 0).any():
        raise ask(
            f"column {one.column.heading!r} has negative values, which no magnitude has; expected dB, or "
            "parts of a complex number; pass --columns f,s11_db or f,re,im",
            grid,
            row=int(np.argmax(values < 0)),
        )
    too_large = name == "mag" and (values.min() > SURELY_PERCENT or values.max() > NO_REFLECTION)
    if too_large and not one.column.unit:
        raise ask(
            f"column {one.column.heading!r} runs from {values.min():.3g} to {values.max():.3g}; expected a linear "
            "reflection of at most 1; pass --columns f,s11_percent if it is percent, f,swr if it is SWR",
            grid,
        )
    if "phase" in name:
        refuse_lone_turn(values, grid.line_numbers)
    if name in ("db", "rl"):
        refuse_no_size(values, grid.line_numbers)


def _with_usual_sign(name: str, one: Measured, grid: Grid) -> tuple[Measured, list[Finding]]:
    """Return loss is positive by definition (Bird 2009) and S11 in dB negative; half of all exports differ."""
    values = one.values
    if name == "db" and values.min() > 0 and values.max() <= FULL_REFLECTION_DB and not one.column.hinted:
        raise ask(
            f"column {one.column.heading!r} is above 0 at every point and never above {values.max():.3g}; expected "
            "decibels of 0 or less; pass --columns f,mag if the numbers are linear, f,s11_db if they are decibels "
            "of an uncalibrated sweep",
            grid,
        )
    positive, negative = values > TINY_LOSS_DB, values < -TINY_LOSS_DB
    if name == "rl" and positive.any() and negative.any():
        odd = negative if negative.sum() < positive.sum() else positive
        _refuse_where(odd, "return loss of both signs", "one sign all the way", one, grid)
    turned = negative.any() if name == "rl" else values.min() >= 0 and values.max() > FULL_REFLECTION_DB
    if not turned:
        return one, []
    found, meaning = (
        ("negative", "return loss, positive") if name == "rl" else ("positive", "S11 in dB, negative")
    )
    text = f"column {one.column.heading} is {found} all the way; it was read as {meaning} by definition"
    step = "nothing to do; the size of the numbers is unchanged"
    return replace(one, values=-values), [Finding("return-loss-sign", "note", text, step)]


def _refuse_overflow(found: dict[str, Measured], grid: Grid) -> None:
    """A meter's mark for "more than I can show" is no resistance; where most rows have it, it is an open."""
    for name in sorted({"r", "x", "x_abs", "z_abs"} & found.keys()):
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


def _refuse_likely_normalised(found: dict[str, Measured], grid: Grid) -> None:
    """R and X without a unit and near 1 may be divided by the reference."""
    r, x = found.get("r"), found.get("x", found.get("x_abs"))
    if r is None or x is None or any(one.column.unit or grid.units.get(one.column.index) for one in (r, x)):
        return
    some = slice(None, None, max(1, r.values.size // PIECE_ROWS))  # of a long table enough to tell
    if np.quantile(np.hypot(r.values[some], x.values[some]), 0.5) < LIKELY_NORMALISED:
        raise ask(
            "R and X have no unit and are near 1; expected ohm, or values divided by the reference; pass "
            "--columns 'f,R (ohm),X (ohm)' or --columns f,r_norm,x_norm with --reference-ohm",
            grid,
        )


def _no_meaning(column: Column, found: str, grid: Grid) -> UnreadableFile:
    return UnreadableFile(
        f"column {column.heading!r} has {found}; expected what its heading says; correct the heading",
        line=int(grid.line_numbers[0]),
    )


def _refuse_where(wrong: NDArray[np.bool_], what: str, expected: str, one: Measured, grid: Grid) -> None:
    if wrong.any():
        at = int(np.argmax(wrong))
        raise UnreadableFile(
            f"{what} in column {one.column.heading}: {one.values[at]:g}; expected {expected}; "
            "correct the line, or name the column with --columns",
            line=int(grid.line_numbers[at]),
        )
