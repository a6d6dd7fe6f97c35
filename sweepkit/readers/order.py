"""Rows in the order of their frequencies: what was disorder is mended and said, two sweeps in one are refused."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.errors import UnreadableFile
from sweepkit.findings import Finding
from sweepkit.printed_step import PrintedStep
from sweepkit.sweep import Phase

DUPLICATE_TOLERANCE = 0.01  # five times the usual noise on the reflection; common practice, no source
SECOND_SWEEP_ROWS = 3  # fewer rows after a step back are disorder, not a second sweep; our own choice
RESTARTS = 8  # largest steps back that are looked at: where a second sweep would begin; our own choice
SECOND_SWEEP_STEP = 0.1  # typical disagreement of two different sweeps in one file; our own choice
FEWEST_FOR_A_GRID = 8  # points; fewer show no grid; our own choice
EVEN_SHARE = 0.8  # of the steps that are alike in an even grid; our own choice
LEAST_JUMPING = 0.2  # of the steps are jumps where each third to sixth point is of another sweep
FEWEST_TURNS = 4  # in which they are; our own choice
FAR, FEWEST_APART = 10.0, 2  # steps of the grid, and points, that stand apart from it; our own choice
MIXED_RATIO = 3.0  # neighbours this much further apart than next neighbours jump to and fro; our own choice


@dataclass(frozen=True)
class PrintedNumber:
    """A number of a row as it prints."""

    text: str
    heading: str = ""


@dataclass(frozen=True)
class PrintedRow:
    """A row as it prints, and what it says with other numbers in it."""

    # the frequency first, then those that give the reflection, then others that were read
    numbers: tuple[PrintedNumber, ...]
    used: int  # how many of them give frequency and reflection
    decimal: str
    f_hz: Callable[[FloatArray], FloatArray]  # of printed frequencies
    reflection: Callable[[FloatArray], NDArray[Any]]  # of rows of printed numbers, shape (m, used)

    @property
    def values(self) -> FloatArray:
        """The numbers; not a number where one is none."""
        found = np.full(len(self.numbers), np.nan)
        for at, number in enumerate(self.numbers):
            with contextlib.suppress(ValueError):
                found[at] = float(number.text.replace(self.decimal, "."))
        return found


@dataclass(frozen=True)
class Rows:
    """What a reader found, in the file's order, shape (n,)."""

    f_hz: FloatArray
    # reflection coefficient (signed), the same with every reactance positive (unsigned), or its magnitude (none)
    values: NDArray[np.complex128] | FloatArray
    phase: Phase  # which of the three
    line_numbers: NDArray[np.int64]  # of each row in the file
    reference_ohm: float  # of the values
    findings: tuple[Finding, ...] = field(default_factory=tuple)  # what the reader has to say
    printed_step: PrintedStep | None = None  # what the file prints and in which steps
    # the row in a line of the file, as it prints
    printed_row: Callable[[int], PrintedRow | None] | None = None

    def line(self, at: int) -> int:
        """Line of a row in the file."""
        return int(self.line_numbers[at])

    def as_printed(self, at: int) -> PrintedRow | None:
        """A row as it prints, where that is known."""
        return self.printed_row(self.line(at)) if self.printed_row else None


def ordered(rows: Rows) -> Rows:
    """Rising frequency; a second sweep in the same file is refused."""
    step = np.diff(rows.f_hz)
    if (step >= 0).all():
        return rows
    if (step <= 0).all():
        return _taken(rows, np.arange(rows.f_hz.size)[::-1], _reordered("frequencies fell from line to line"))
    first_back = int(np.argmax(step < 0)) + 1
    _refuse_second_sweep(rows, step)
    order = np.argsort(rows.f_hz, kind="stable")
    line = rows.line(first_back)
    return _taken(rows, order, _reordered(f"the frequency steps back at line {line}"))


def _refuse_second_sweep(rows: Rows, step: FloatArray) -> None:
    """Two runs over the same range that do not agree are two sweeps."""
    largest = np.argsort(step, kind="stable")[:RESTARTS]
    for at in np.sort(largest[step[largest] < 0]) + 1:
        first, second = slice(None, at), slice(at, None)
        f_one, f_two = rows.f_hz[first], rows.f_hz[second]
        if min(f_one.size, f_two.size) < SECOND_SWEEP_ROWS:
            continue
        runs = all(_is_run(f) for f in (f_one, f_two))
        low, high = max(f_one.min(), f_two.min()), min(f_one.max(), f_two.max())
        if high - low <= 0.5 * min(np.ptp(f_one), np.ptp(f_two)):
            continue
        inside = (f_two >= low) & (f_two <= high)
        order = np.argsort(f_one, kind="stable")
        expected = np.interp(f_two[inside], f_one[order], rows.values[first][order])
        off = np.abs(expected - rows.values[second][inside])
        new = ~np.isin(f_two[inside], f_one)
        if off.size and (np.quantile(off, 0.5) > SECOND_SWEEP_STEP or (runs and new.mean() > 0.5)):
            raise UnreadableFile(
                f"the frequency steps back to {f_two[0]:.10g} Hz and a different sweep begins; "
                "expected one sweep in the file; put each into a file of its own",
                line=rows.line(at),
            )


def _is_run(f_hz: FloatArray) -> bool:
    """Whether frequencies only rise or only fall."""
    step = np.diff(f_hz)
    return bool((step > 0).all() or (step < 0).all())


def _reordered(what: str) -> Finding:
    return Finding(
        "reordered",
        "note",
        f"{what}; the points were sorted by frequency",
        "nothing to do; no number changed",
    )


def on_one_grid(rows: Rows) -> Rows:
    """Say a hole in an even grid; refuse points that jump to and fro between two curves."""
    if rows.f_hz.size < FEWEST_FOR_A_GRID:
        return rows
    _refuse_jumping(rows)
    step = rows.f_hz[1:] - rows.f_hz[:-1]
    if step.max() <= 1.25 * step.min():
        return rows
    usual = float(np.partition(step, step.size // 2)[step.size // 2])
    even = np.abs(step - usual) <= 0.25 * usual
    if not even.all() and even.mean() < EVEN_SHARE:
        _refuse_two_grids(rows)
    ratio = step / usual
    apart = _standing_apart(ratio)
    holes = (ratio > 1.75) & (np.abs(ratio - np.round(ratio)) < 0.25) & (ratio < 0.5 * rows.f_hz.size)
    if even.mean() < EVEN_SHARE or not (holes.any() or apart):
        return rows
    at = int(np.argmax(holes))
    missing = int(np.round(ratio[holes] - 1).sum())
    first = "the first above" if holes.sum() > 1 else "above"
    text = (
        f"{missing} point{'s' if missing > 1 else ''} missing from a grid of {usual / 1e3:.6g} kHz, {first} "
    )
    text += f"{rows.f_hz[at] / 1e6:.6g} MHz"
    if not holes.any():
        text = f"{apart} of {rows.f_hz.size} points far from all others, on a grid of {usual / 1e3:.6g} kHz"
    step_text = "sweep again, unless they were left out on purpose"
    return replace(rows, findings=(*rows.findings, Finding("hole-in-grid", "note", text, step_text)))


def _standing_apart(ratio: FloatArray) -> int:
    """How many points stand far from the others at an end: a row of another sweep, or one that was damaged."""
    ends = (*ratio[:FEWEST_APART], *ratio[-FEWEST_APART:])
    below = [at + 1 for at, gap in enumerate(ends[:FEWEST_APART]) if gap > FAR]
    above = [FEWEST_APART - at for at, gap in enumerate(ends[FEWEST_APART:]) if gap > FAR]
    return max(below, default=0) + max(above, default=0)


def _refuse_jumping(rows: Rows) -> None:
    """Two curves taken in turn: neighbours lie far apart, next neighbours close together."""
    v = rows.values
    near = np.abs(v[1:] - v[:-1])
    if near.max() <= 3 * DUPLICATE_TOLERANCE:
        return
    middle = near.size // 2
    apart = float(np.partition(near, middle)[middle])
    unlike = (near > MIXED_RATIO * apart, MIXED_RATIO * near < apart)
    if max(map(np.count_nonzero, unlike)) > LEAST_JUMPING * near.size:
        _refuse_every_other(rows, near)
    if apart <= 3 * DUPLICATE_TOLERANCE:
        return
    next_near = np.abs(v[2:] - v[:-2])
    if apart > MIXED_RATIO * float(np.partition(next_near, next_near.size // 2)[next_near.size // 2]):
        raise _two_sweeps(rows, 1)


def _refuse_every_other(rows: Rows, near: FloatArray) -> None:
    """Each third to sixth point off a curve that the others are on, and on one with its like."""
    for turn in range(3, 7):
        turns = near.size // turn
        if turns < FEWEST_TURNS:
            return
        usual = np.median(near[: turns * turn].reshape(turns, turn), axis=0)
        order = np.argsort(usual)
        least_jump, most_step = float(usual[order[-2]]), float(usual[order[-3]])
        like = float(np.median(np.abs(rows.values[turn:] - rows.values[:-turn])))
        together = (order[-1] - order[-2]) % turn in (1, turn - 1)  # there and back
        if together and least_jump > max(MIXED_RATIO * max(most_step, like), 3 * DUPLICATE_TOLERANCE):
            raise _two_sweeps(rows, int(np.argmax(near > MIXED_RATIO * most_step)) + 1)


def _two_sweeps(rows: Rows, at: int) -> UnreadableFile:
    return UnreadableFile(
        "the points belong to two curves by turns, so two sweeps are mixed; expected one sweep in the file; put each "
        "into a file of its own (a line far too long for the step looks the same: sweep with more points)",
        line=rows.line(at),
    )


def _refuse_two_grids(rows: Rows) -> None:
    """Two even grids laid over each other, of which one does not continue what the other measured."""
    f_hz, v = rows.f_hz, rows.values
    for second in range(2, min(6, f_hz.size)):
        step = f_hz[second] - f_hz[0]
        place = (f_hz - f_hz[0]) / step
        first = np.abs(place - np.round(place)) < 0.02
        rest = f_hz[~first]
        if (
            min(first.sum(), rest.size) < FEWEST_FOR_A_GRID // 2
            or np.round(place[first]).max() != first.sum() - 1
        ):
            continue
        apart = np.diff(rest)
        if apart.size and np.ptp(apart) > 0.1 * apart.mean():
            continue
        inside = (rest > f_hz[first][0]) & (rest < f_hz[first][-1])
        off = np.abs(np.interp(rest[inside], f_hz[first], v[first]) - v[~first][inside])
        own = np.abs(np.interp(f_hz[first][1:-1:2], f_hz[first][::2], v[first][::2]) - v[first][1:-1:2])
        if off.size and np.quantile(off, 0.5) > DUPLICATE_TOLERANCE + 2 * np.quantile(own, 0.5):
            raise _two_sweeps(rows, int(np.argmin(first)))


def merged(rows: Rows) -> Rows:
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


def _taken(rows: Rows, order: NDArray[np.int64], finding: Finding) -> Rows:
    return replace(
        rows,
        f_hz=rows.f_hz[order],
        values=rows.values[order],
        line_numbers=rows.line_numbers[order],
        findings=(*rows.findings, finding),
    )
