"""Columns of a table as named quantities in SI units: each number meaning is settled here, or asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.tables.grid import PARTLY_PREFIXED, PREFIXED, Grid
from sweepkit.readers.tables.headings import Column
from sweepkit.readers.tables.ranges import Measured, refuse_overflow, settled
from sweepkit.readers.tables.reflection import PIECE_ROWS

SURELY_DEGREES = 3.2  # no angle in radians between -pi and pi is larger
LIKELY_NORMALISED = 5.0  # median |R + jX| below it may be ohm or divided by the reference; our own choice

SCALES = {"kohm": 1e3, "ms": 1e-3, "percent": 1e-2, "nh": 1e-9, "uh": 1e-6, "pf": 1e-12, "nf": 1e-9}


@dataclass(frozen=True)
class Quantities:
    """Named quantities of a table, and what had to be said while reading them.

    By name: ``r x x_abs z z_abs z_phase z_phase_abs rn xn rp xp g b y y_abs y_phase l c re im gamma mag db s_phase
    swr rl``; ``any_phase`` for an angle without an owner. The findings are repairs that lost nothing.
    """

    by_name: dict[str, Measured]
    findings: tuple[Finding, ...]


def name_quantities(columns: list[Column], grid: Grid, remark_unit: tuple[str, int] | None) -> Quantities:
    """Settle what the numbers of each column mean.

    ``remark_unit``: unit that a remark above the table gives its values, and the line of that remark. ``NeedsHint``:
    a meaning that the file leaves open.
    """
    found: dict[str, Measured] = {}
    findings: list[Finding] = []
    beside_impedance = any(column.quantity in ("z", "r", "x") for column in columns)
    for column in columns:
        one = Measured(grid.values[column.index], grid.steps[column.index], column)
        name = _name(one, grid, remark_unit, beside_impedance=beside_impedance)
        one = _scaled(one, name, grid)
        name, one, said = settled(name, one, grid)
        findings += said
        if name in found:
            if np.array_equal(found[name].values, one.values):
                continue
            raise NeedsHint(
                f"columns {found[name].column.heading!r} and {column.heading!r} hold the same quantity of "
                "different traces; expected one; pass --trace with words of the wanted one's name",
                hint="trace",
                line=int(grid.line_numbers[0]),
            )
        found[name] = one
    refuse_overflow(found, grid)
    _refuse_likely_normalised(found, grid)
    return Quantities(found, tuple(findings))


def _name(one: Measured, grid: Grid, remark_unit: tuple[str, int] | None, *, beside_impedance: bool) -> str:
    """Name of the quantity in a column."""
    column = one.column
    unit = column.unit or grid.units.get(column.index, "")
    is_complex = np.iscomplexobj(one.values)
    if column.quantity in ("gamma", "part"):
        return _reflection_name(one, unit, is_complex, grid, remark_unit)
    if column.quantity == "theta":
        if beside_impedance:
            return "z_phase_abs" if "abs" in column.part else "z_phase"
        return "any_phase_abs" if "abs" in column.part else "any_phase"
    if column.quantity in ("z", "y"):
        if is_complex:
            return column.quantity
        series = {"re": "r", "im": "x"} if column.quantity == "z" else {"re": "g", "im": "b"}
        parts = {"": "abs", "abs": "abs", "phase": "phase", "phase abs": "phase_abs"}
        name = series.get(column.part) or f"{column.quantity}_{parts.get(column.part, 'abs')}"
    else:
        name = (
            f"{column.quantity}_abs" if column.quantity == "x" and "abs" in column.part else column.quantity
        )
    if is_complex:
        raise _no_meaning(column, "complex numbers where one number belongs", grid)
    return {"r": "rn", "x": "xn"}.get(name, name) if column.normalised else name


def _reflection_name(
    one: Measured, unit: str, is_complex: bool, grid: Grid, remark_unit: tuple[str, int] | None
) -> str:
    column, part = one.column, one.column.part
    if is_complex:
        return "gamma"
    if column.quantity == "part":
        return _ownerless(one, unit, grid)
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
    raise NeedsHint(
        f"column {column.heading!r} does not say what it holds (dB, magnitude, phase, real part?); expected one "
        "of them; pass --columns f,s11_db or f,mag",
        hint="columns",
        line=int(grid.line_numbers[0]),
    )


def _ownerless(one: Measured, unit: str, grid: Grid) -> str:
    """A part without a quantity: "Re", "Phase", "dB". Real, imaginary and magnitude prove a reflection by size."""
    part = one.column.part
    if part.startswith("phase"):
        return "any_phase_abs" if "abs" in part else "any_phase"
    if part in ("re", "im", "abs") and np.abs(one.values).max() <= 1.1 and unit in ("", "percent"):
        return {"re": "re", "im": "im", "abs": "mag"}[part]
    raise NeedsHint(
        f"column {one.column.heading!r} does not say of what it is; expected S11 or Z with it; "
        "pass --columns, such as f,s11_db or f,r,x",
        hint="columns",
        line=int(grid.line_numbers[0]),
    )


def _scaled(one: Measured, name: str, grid: Grid) -> Measured:
    """The same in SI units; angles in radians."""
    column = one.column
    unit = column.unit or grid.units.get(column.index, "")
    stands = grid.units.get(column.index)
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
        raise NeedsHint(
            f"column {column.heading!r} has no unit; expected siemens or millisiemens; "
            "pass --columns with g_ms,b_ms or g (S),b (S)",
            hint="columns",
            line=int(grid.line_numbers[0]),
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
    raise NeedsHint(
        f"column {one.column.heading!r} stays within 3.2 and has no unit; expected degrees or radians; "
        "pass --columns with deg or rad in its place",
        hint="columns",
        line=int(grid.line_numbers[0]),
    )


def _refuse_likely_normalised(found: dict[str, Measured], grid: Grid) -> None:
    """R and X without a unit and near 1 may be divided by the reference."""
    if not {"r", "x"} <= found.keys() and not {"r", "x_abs"} <= found.keys():
        return
    r, x = found["r"], found.get("x") or found["x_abs"]
    has_unit = any(one.column.unit or grid.units.get(one.column.index) for one in (r, x))
    some = slice(None, None, max(1, r.values.size // PIECE_ROWS))  # of a long table enough to tell
    if not has_unit and np.quantile(np.hypot(r.values[some], x.values[some]), 0.5) < LIKELY_NORMALISED:
        raise NeedsHint(
            "R and X have no unit and are near 1; expected ohm, or values divided by the reference; pass "
            "--columns 'f,R (ohm),X (ohm)' or --columns f,r_norm,x_norm with --reference-ohm",
            hint="columns",
            line=int(grid.line_numbers[0]),
        )


def _no_meaning(column: Column, found: str, grid: Grid) -> UnreadableFile:
    return UnreadableFile(
        f"column {column.heading!r} has {found}; expected what its heading says; correct the heading",
        line=int(grid.line_numbers[0]),
    )
