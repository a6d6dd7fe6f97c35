"""Rows of one file to one Sweep: order, duplicates and sizes are checked here, whatever the format was.

Repairs that lose nothing are done and reported; anything that would lose something is refused.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_step import PrintedStep
from sweepkit.sweep import FREQUENCY_RANGE_HZ, Phase, Place, Source, Sweep

LEAST_TOP_HZ = 1e3  # a sweep that ends below 1 kHz has its unit wrong; common practice, no source
LOWEST_BAND_HZ = 1e5  # the lowest amateur band begins at 135.7 kHz (ITU Radio Regulations 2020, art. 5)
DUPLICATE_TOLERANCE = 0.01  # five times the usual noise on the reflection; common practice, no source
WORTH_SAYING = 10 ** (0.1 / 20)  # 0.1 dB: seen at full reflection on calibrated sweeps (94 published files)
NOT_CALIBRATED = 10 ** (1.3 / 20)  # 1.3 dB: the most seen on uncalibrated ones (the same files)
NO_REFLECTION = 10.0  # above it the numbers are percent, dB or ohm, whatever the heading says; our own choice
SECOND_SWEEP_ROWS = (
    3  # fewer rows than this after a step back are disorder, not a second sweep; our own choice
)
RESTARTS = 8  # largest steps back that are looked at: where a second sweep would begin; our own choice
SECOND_SWEEP_STEP = 0.1  # typical disagreement of two different sweeps in one file; our own choice


@dataclass(frozen=True)
class Rows:
    """What a reader found, in the file's order.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency. [Hz]
    values : complex or float array, shape (n,)
        Reflection coefficient (``signed``), the same with every reactance positive (``unsigned``), or its
        magnitude (``none``). [-]
    phase : {"signed", "unsigned", "none"}
        Which of the three.
    line_numbers : int array, shape (n,)
        Line of each row in the file.
    reference_ohm : float
        Reference resistance of the values. [ohm]
    findings : tuple of Finding
        What the reader has to say.
    printed_step : PrintedStep, optional
        What the file prints and in which steps.
    """

    f_hz: FloatArray
    values: NDArray[np.complex128] | FloatArray
    phase: Phase
    line_numbers: NDArray[np.int64]
    reference_ohm: float
    findings: tuple[Finding, ...] = field(default_factory=tuple)
    printed_step: PrintedStep | None = None


def assemble(rows: Rows, *, source: Source, measured_at: Place) -> Sweep:
    """Check and order the rows of one file and make them a sweep.

    Raises
    ------
    UnreadableFile
        Frequencies or values that no sweep has, naming the first line.
    """
    _check_frequencies(rows)
    size = np.abs(rows.values)
    usual = bool(size.max() <= WORTH_SAYING)
    if not usual:
        _check_sizes(rows, size)
    if not (rows.f_hz[1:] > rows.f_hz[:-1]).all():
        rows = _merged(_ordered(rows))
    findings = rows.findings if usual else rows.findings + _size_findings(rows)
    if rows.f_hz[-1] < LOWEST_BAND_HZ:
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


def _check_frequencies(rows: Rows) -> None:
    f_hz = rows.f_hz
    low, high = float(f_hz.min()), float(f_hz.max())  # NaN wherever one is
    if low >= 0 and LEAST_TOP_HZ <= high <= FREQUENCY_RANGE_HZ[1]:
        return
    wrong = ~np.isfinite(f_hz) | (f_hz < 0)
    if wrong.any():
        at = int(np.argmax(wrong))
        raise UnreadableFile(
            f"frequency {f_hz[at]:g} Hz; expected 0 or more; export the sweep again",
            line=int(rows.line_numbers[at]),
        )
    raise UnreadableFile(
        f"highest frequency is {high:g} Hz; expected {LEAST_TOP_HZ:g} to {FREQUENCY_RANGE_HZ[1]:g} Hz; "
        "the unit is wrong - correct it in the file, or pass --unit where the file states none",
        line=int(rows.line_numbers[int(np.argmax(f_hz))]),
    )


def _check_sizes(rows: Rows, size: FloatArray) -> None:
    wrong = ~np.isfinite(size) | (size > NO_REFLECTION)
    if wrong.any():
        at = int(np.argmax(wrong))
        raise UnreadableFile(
            f"reflection of size {size[at]:g}; expected at most 1; "
            "the numbers are in another unit (percent, dB, ohm?) than the file says - correct its heading",
            line=int(rows.line_numbers[at]),
        )
    if np.quantile(size, 0.5) > NOT_CALIBRATED * 1.1:
        at = int(np.argmax(size > 1))
        raise UnreadableFile(
            f"half of the reflections are above {np.quantile(size, 0.5):.3g}; expected at most 1; "
            "the numbers are in another unit than the file says, or the device amplifies - no antenna does",
            line=int(rows.line_numbers[at]),
        )


def _ordered(rows: Rows) -> Rows:
    """Rising frequency; a second sweep in the same file is refused."""
    step = np.diff(rows.f_hz)
    if (step >= 0).all():
        return rows
    if (step <= 0).all():
        return _taken(rows, np.arange(rows.f_hz.size)[::-1], _reordered("frequencies fell from line to line"))
    first_back = int(np.argmax(step < 0)) + 1
    _refuse_second_sweep(rows, step)
    order = np.argsort(rows.f_hz, kind="stable")
    line = int(rows.line_numbers[first_back])
    return _taken(rows, order, _reordered(f"the frequency steps back at line {line}"))


def _refuse_second_sweep(rows: Rows, step: FloatArray) -> None:
    """Two runs over the same range that do not agree are two sweeps."""
    largest = np.argsort(step, kind="stable")[:RESTARTS]
    for at in np.sort(largest[step[largest] < 0]) + 1:
        first, second = slice(None, at), slice(at, None)
        f_one, f_two = rows.f_hz[first], rows.f_hz[second]
        if min(f_one.size, f_two.size) < SECOND_SWEEP_ROWS:
            continue
        low, high = max(f_one.min(), f_two.min()), min(f_one.max(), f_two.max())
        if high - low <= 0.5 * min(np.ptp(f_one), np.ptp(f_two)):
            continue
        inside = (f_two >= low) & (f_two <= high)
        order = np.argsort(f_one, kind="stable")
        expected = np.interp(f_two[inside], f_one[order], rows.values[first][order])
        off = np.abs(expected - rows.values[second][inside])
        if off.size and np.quantile(off, 0.5) > SECOND_SWEEP_STEP:
            raise UnreadableFile(
                f"the frequency steps back to {f_two[0]:.10g} Hz and a different sweep begins; "
                "expected one sweep in the file; put each into a file of its own",
                line=int(rows.line_numbers[at]),
            )


def _reordered(what: str) -> Finding:
    return Finding(
        "reordered",
        "note",
        f"{what}; the points were sorted by frequency",
        "nothing to do; no number changed",
    )


def _merged(rows: Rows) -> Rows:
    """One point per frequency: equal ones are merged, different ones refused."""
    same = np.diff(rows.f_hz) == 0
    if not same.any():
        return rows
    gap = np.abs(np.diff(rows.values))
    clash = same & (gap > DUPLICATE_TOLERANCE)
    if clash.any():
        at = int(np.argmax(clash))
        first, second = sorted(int(n) for n in rows.line_numbers[at : at + 2])
        raise UnreadableFile(
            f"{rows.f_hz[at]:.10g} Hz stands here and in line {first} with reflections that differ by "
            f"{gap[at]:.3g}; expected one value per frequency; remove one of the two lines",
            line=second,
        )
    text = f"{int(same.sum())} frequencies stood twice; the first of each was kept"
    if (largest := float(gap[same].max())) > 0:
        text += f" (they differ by at most {largest:.2g} in reflection)"
    finding = Finding("duplicates-merged", "note", text, "nothing to do; the values agreed within the noise")
    return _taken(rows, np.flatnonzero(np.concatenate([[True], ~same])), finding)


def left_out_finding(lines: list[int]) -> tuple[Finding, ...]:
    """Say that lines marked as remarks look like rows of the sweep."""
    if not lines:
        return ()
    names = ", ".join(map(str, lines[:5])) + (", ..." if len(lines) > 5 else "")
    text = f"line {names} is marked as a remark and looks like a row of the sweep; it was left out"
    return (Finding("row-left-out", "warning", text, "look at the line: remove the mark if the row is good"),)


def _taken(rows: Rows, order: NDArray[np.int64], finding: Finding) -> Rows:
    return replace(
        rows,
        f_hz=rows.f_hz[order],
        values=rows.values[order],
        line_numbers=rows.line_numbers[order],
        findings=(*rows.findings, finding),
    )


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
