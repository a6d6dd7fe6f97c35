"""The frequencies of a table in Hz: the unit from heading, cells, remarks or hint, or where only one is possible."""

from __future__ import annotations

import re

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.assembly import LOWEST_BAND_HZ
from sweepkit.readers.hints import UNIT_HZ, Hints
from sweepkit.readers.tables.grid import PARTLY_PREFIXED, PREFIXED, Grid
from sweepkit.readers.tables.headings import FREQUENCY_UNITS, Column
from sweepkit.readers.tables.layout import Layout
from sweepkit.readers.tables.vocabulary import plain

TABLE_RANGE_HZ = (1e3, 1e11)  # outside it a table has its unit wrong; common practice, no source
ONLY_UNIT_RANGE_HZ = (1e4, 2e10)  # a unit may be taken for granted only where it alone gives this; our choice
# A unit told for a sweep that lies beyond it is doubted where another gives short waves; our choice
MICROWAVES_HZ = 3e9
SHORT_WAVES_HZ = (1e6, 6e7)  # 160 m to 6 m with room at the ends; our choice

_FREQUENCY_UNIT = re.compile(r"^\W*(?:freq\w*|x)[ _-]*(?:unit|in|units)?\W*(?:in\b)?\W*(hz|khz|mhz|ghz)\W*$")


def table_frequencies(
    column: Column, grid: Grid, layout: Layout, hints: Hints
) -> tuple[FloatArray, tuple[Finding, ...]]:
    """Frequencies in Hz; the unit from heading, cells, remarks or hint, or where only one is possible."""
    values = grid.values[column.index]
    line = int(grid.line_numbers[0])
    if np.iscomplexobj(values):
        raise UnreadableFile(
            "complex numbers as frequency; expected real ones; correct the column", line=line
        )
    in_cells = grid.units.get(column.index, "")
    unit = "hz" if in_cells == PREFIXED else column.unit or in_cells or _remark_frequency_unit(layout)
    findings: tuple[Finding, ...] = ()
    if in_cells == PARTLY_PREFIXED:
        raise UnreadableFile(
            "some frequencies have a metric prefix stuck to them and some have none; expected one way of writing; "
            "correct the column",
            line=line,
        )
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
        findings = _doubt_of_told(values, unit_hz)
    else:
        unit_hz, findings = _only_unit(values, layout, line)
    f_hz = values * unit_hz
    if unit_hz <= 1e3 and hints.decimal is None and _may_be_thousands(f_hz, column, grid):
        printed = next(name for name, in_hz in UNIT_HZ.items() if in_hz == unit_hz).replace("hz", "Hz")
        raise NeedsHint(
            f"frequencies such as {values[-1]:.3f} {printed} below every amateur band, each with three digits behind "
            "the point; expected a decimal point, or one between thousands; pass --decimal comma or --decimal point",
            hint="decimal",
            line=line,
        )
    if not _in_range(f_hz, TABLE_RANGE_HZ):
        at = int(np.argmax((f_hz > TABLE_RANGE_HZ[1]) | (f_hz < 0))) if f_hz.size else 0
        raise UnreadableFile(
            f"frequency {f_hz[at]:.6g} Hz; expected 1 kHz to 100 GHz; the unit is likely wrong - pass --unit",
            line=int(grid.line_numbers[at]),
        )
    return f_hz, findings


def _may_be_thousands(f_hz: FloatArray, column: Column, grid: Grid) -> bool:
    """Whether 7.100 kHz may mean 7100 kHz."""
    three_decimals = grid.steps[column.index].decimals == 3
    return bool(three_decimals and grid.style.decimal == "." and f_hz.max() < LOWEST_BAND_HZ)


def _in_range(f_hz: FloatArray, low_high: tuple[float, float]) -> bool:
    """All at or below the top, none negative, and the highest not below the bottom."""
    return bool(f_hz.min() >= 0 and low_high[0] <= f_hz.max() <= low_high[1])


def _doubt_of_told(values: FloatArray, unit_hz: float) -> tuple[Finding, ...]:
    """Say that another unit than the told one makes short waves of frequencies beyond 3 GHz or below every band."""
    if values.max() * unit_hz >= LOWEST_BAND_HZ and values.min() * unit_hz <= MICROWAVES_HZ:
        return ()
    low, high = SHORT_WAVES_HZ
    for name, other_hz in UNIT_HZ.items():
        if low <= values.min() * other_hz and values.max() * other_hz <= high:
            ends = f"{values.min() * other_hz / 1e6:.3f} to {values.max() * other_hz / 1e6:.3f} MHz"
            unit = name.replace("hz", "Hz")
            text = f"the unit that was told puts this sweep far from the short waves; in {unit} it would be {ends}"
            return (Finding("unit-doubtful", "warning", text, f"pass --unit {unit}"),)
    return ()


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
