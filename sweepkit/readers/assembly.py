"""Rows of one file to one Sweep: order, duplicates and sizes are checked here, whatever the format was.

Repairs that lose nothing are done and reported; anything that would lose something is refused.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.readers.order import Rows, merged, on_one_grid, ordered
from sweepkit.sweep import FREQUENCY_RANGE_HZ, Place, Source, Sweep

LEAST_TOP_HZ = 1e3  # a sweep that ends below 1 kHz has its unit wrong; common practice, no source
LOWEST_BAND_HZ = 1e5  # the lowest amateur band begins at 135.7 kHz (ITU Radio Regulations 2020, art. 5)
WORTH_SAYING = 10 ** (0.1 / 20)  # 0.1 dB: seen at full reflection on calibrated sweeps (94 published files)
NOT_CALIBRATED = 10 ** (1.3 / 20)  # 1.3 dB: the most seen on uncalibrated ones (the same files)
NO_DECIBELS = 400.0  # an exact match in double precision is 320 dB; beyond it a mark was lost
NO_REFLECTION = 10.0  # above it the numbers are percent, dB or ohm, whatever the heading says; our own choice


def assemble(rows: Rows, *, source: Source, measured_at: Place) -> Sweep:
    """Check and order the rows of one file and make them a sweep."""
    refuse_frequencies(rows.f_hz, rows.line_numbers)
    size = np.abs(rows.values)
    usual = bool(size.max() <= WORTH_SAYING)
    if not usual:
        _check_sizes(rows, size)
    if not (rows.f_hz[1:] > rows.f_hz[:-1]).all():
        rows = merged(ordered(rows))
    rows = on_one_grid(rows)
    findings = rows.findings if usual else rows.findings + _size_findings(rows)
    if rows.f_hz[-1] < LOWEST_BAND_HZ and not any(one.code == "unit-doubtful" for one in findings):
        findings += (_unit_finding(rows),)
    known = {
        "reference_ohm": rows.reference_ohm,
        "measured_at": measured_at,
        "source": source,
        "findings": findings,
        "printed_step": rows.printed_step,
    }
    if rows.phase == "signed":
        return Sweep.from_gamma(rows.f_hz, rows.values, **known)
    if rows.phase == "unsigned":
        return Sweep.from_folded(rows.f_hz, rows.values, **known)
    return Sweep.from_magnitude(rows.f_hz, np.real(rows.values), **known)


def refuse_frequencies(f_hz: FloatArray, line_numbers: NDArray[np.int64]) -> None:
    """Refuse frequencies that no sweep has: negative, not finite, or in a wrong unit."""
    low, high = float(f_hz.min()), float(f_hz.max())  # NaN wherever one is
    if low >= 0 and LEAST_TOP_HZ <= high <= FREQUENCY_RANGE_HZ[1]:
        return
    wrong = ~np.isfinite(f_hz) | (f_hz < 0)
    if wrong.any():
        at = int(np.argmax(wrong))
        raise UnreadableFile(
            f"frequency {f_hz[at]:g} Hz; expected 0 or more; export the sweep again",
            line=int(line_numbers[at]),
        )
    raise UnreadableFile(
        f"highest frequency is {high:g} Hz; expected {LEAST_TOP_HZ:g} to {FREQUENCY_RANGE_HZ[1]:g} Hz; "
        "the unit is wrong - correct it in the file, or pass --unit where the file states none",
        line=int(line_numbers[int(np.argmax(f_hz))]),
    )


def _check_sizes(rows: Rows, size: FloatArray) -> None:
    wrong = ~np.isfinite(size) | (size > NO_REFLECTION)
    if wrong.any():
        at = int(np.argmax(wrong))
        raise UnreadableFile(
            f"reflection of size {size[at]:g}; expected at most 1; "
            "the numbers are in another unit (percent, dB, ohm?) than the file says - correct its heading",
            line=rows.line(at),
        )
    if np.quantile(size, 0.5) > NOT_CALIBRATED * 1.1:
        at = int(np.argmax(size > 1))
        raise UnreadableFile(
            f"half of the reflections are above {np.quantile(size, 0.5):.3g}; expected at most 1; "
            "the numbers are in another unit than the file says, or the device amplifies - no antenna does",
            line=rows.line(at),
        )


def refuse_no_size(decibels: FloatArray, line_numbers: NDArray[np.int64]) -> None:
    """Refuse decibels that no reflection has."""
    wrong = np.isfinite(decibels) & (np.abs(decibels) > NO_DECIBELS)
    if wrong.any():
        at = int(np.argmax(wrong))
        raise UnreadableFile(
            f"{decibels[at]:.10g} dB; expected decibels of a reflection; correct the line",
            line=int(line_numbers[at]),
        )


def refuse_lone_turn(radians: FloatArray, line_numbers: NDArray[np.int64]) -> None:
    """Refuse an angle beyond a full turn of which its neighbours know nothing; one that goes on turning is theirs."""
    size = np.abs(radians)
    if not size.max() > 2 * np.pi + 1e-6 or radians.size < 3:
        return
    step = np.abs(np.diff(radians))
    before, behind = np.append(step[:1], step), np.append(step, step[-1:])
    lone = (size > 2 * np.pi + 1e-6) & (np.minimum(before, behind) > np.pi)
    if lone.any():
        at = int(np.argmax(lone))
        raise UnreadableFile(
            f"an angle of {np.degrees(radians[at]):.10g} degrees among angles within a turn; expected one like them; "
            "the row looks damaged - correct it, or export the sweep again",
            line=int(line_numbers[at]),
        )


def left_out_finding(lines: list[int]) -> tuple[Finding, ...]:
    """Say that lines marked as remarks look like rows of the sweep."""
    if not lines:
        return ()
    names = ", ".join(map(str, lines[:5])) + (", ..." if len(lines) > 5 else "")
    text = f"line {names} is marked as a remark and looks like a row of the sweep; it was left out"
    return (Finding("row-left-out", "warning", text, "look at the line: remove the mark if the row is good"),)


def _unit_finding(rows: Rows) -> Finding:
    text = f"the highest frequency is {rows.f_hz[-1] / 1e3:.6g} kHz, below every amateur band"
    return Finding("unit-doubtful", "warning", text, "check the unit of the frequencies in the file")


def _size_findings(rows: Rows) -> tuple[Finding, ...]:
    size = np.abs(rows.values)
    at = int(np.argmax(size))
    if size[at] <= WORTH_SAYING:
        return ()
    excess_db = 20 * np.log10(size[at])
    share = float((size > WORTH_SAYING).mean())
    text = (
        f"reflection is up to {excess_db:.2g} dB above total reflection (at {rows.f_hz[at] / 1e6:.6g} MHz), "
        f"and above it by more than 0.1 dB at {share:.0%} of the points"
    )
    next_step = "calibrate the analyzer with the same adapters and sweep again"
    return (
        Finding("reflection-above-one", "warning" if size[at] <= NOT_CALIBRATED else "stop", text, next_step),
    )
