"""Sweeps of a piece of line made ready to be measured; a refusal says what to sweep instead."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.feedline.echoes import refuse_uneven, step_hz
from sweepkit.feedline.section_fit import SweptEnd
from sweepkit.feedline.sections import OPEN, SHORT
from sweepkit.quantities import count_text, frequency_text
from sweepkit.sweep import Sweep

End = Literal["open", "short", "unknown"]
REFLECTION: dict[End, float | None] = {"open": OPEN, "short": SHORT, "unknown": None}
LEAST_POINTS = 21
# A line shorter than this share of a cell turns the phase too little; common practice, no source
LEAST_CELLS = 0.5
GOOD_CELLS = 2.0  # what a proposed sweep is to reach
MOST_OF_RANGE = 0.8  # a line that fills more of the unambiguous range may as well be a longer one
PROPOSED_POINTS = (101, 201, 401, 801, 1601)


def parse_ends(words: Sequence[str], sweeps: int, *, like: str) -> list[End]:
    """The far end in each sweep, unknown for one alone without a word; ``like`` shows how two are told."""
    if not words and sweeps == 1:
        return ["unknown"]
    if len(words) != sweeps:
        told = f"{count_text(sweeps, 'sweep')} and {count_text(len(words), 'far end')}"
        raise BadInput(f"{told}; each sweep needs one; write {like}")
    return [_parse_end(word) for word in words]


def _parse_end(text: str) -> End:
    for end in REFLECTION:
        if text.strip().lower() == end:
            return end
    raise BadInput(
        f"--end is {text!r}; open, short or unknown was expected (through for one two-port file alone); "
        "say what the far end was"
    )


def prepare_sweeps(sweeps: Sequence[tuple[Sweep, End]]) -> list[SweptEnd]:
    """Arrays for the fit, all on one grid, without the point at zero frequency.

    Raises ``BadInput``: no phase, another reference or span than the first, too few points, or an uneven grid.
    """
    if not sweeps:
        raise BadInput("no sweep of the line; sweep it with its far end open, and name the file")
    first = sweeps[0][0]
    points = int(np.count_nonzero(first.f_hz > 0))
    if points < LEAST_POINTS:
        raise BadInput(
            f"{points} points are too few to measure a line; {LEAST_POINTS} are needed; sweep again with 201",
            path=first.source.path or None,
        )
    ready = []
    for sweep, end in sweeps:
        _refuse_unlike(sweep, first)
        assert sweep.gamma is not None  # refused above
        kept = sweep.f_hz > 0
        ready.append(SweptEnd(sweep.f_hz[kept], sweep.gamma[kept], REFLECTION[end]))
    try:
        refuse_uneven(ready[0].f_hz)
    except BadInput as error:
        error.path = first.source.path or None
        raise
    return ready


def _refuse_unlike(sweep: Sweep, first: Sweep) -> None:
    """A sweep that cannot be fitted together with the first."""
    path = sweep.source.path or None
    if sweep.gamma is None:
        raise BadInput(
            f"the sweep has no signed phase (phase: {sweep.phase}), which a length needs; "
            "export it with phase",
            path=path,
        )
    if sweep.reference_ohm != first.reference_ohm:
        raise BadInput(
            f"reference {sweep.reference_ohm:g} ohm, where the first sweep has {first.reference_ohm:g}; "
            "export both at one reference",
            path=path,
        )
    if sweep.f_hz.size != first.f_hz.size or np.abs(sweep.f_hz - first.f_hz).max() > 0.1 * step_hz(
        first.f_hz
    ):
        raise BadInput(
            f"spans {_span_text(sweep.f_hz)}, where the first sweep spans {_span_text(first.f_hz)}; "
            "sweep open and short with the same start, stop and points",
            path=path,
        )


def refuse_unfit(f_hz: FloatArray, delay_s: float, *, what: str) -> None:
    """Refuse a sweep too narrow or too coarse for a line of this one-way delay, naming the sweep to take instead."""
    span_hz = float(f_hz[-1] - f_hz[0])
    if 2 * delay_s * span_hz < LEAST_CELLS:
        raise BadInput(
            f"{_span_text(f_hz)} is too narrow for {what}, which turns the reflection by "
            f"{720 * delay_s * span_hz:.0f} degrees; {360 * LEAST_CELLS:.0f} are needed; "
            f"{sweep_to_take(delay_s)}"
        )
    filled = 2 * delay_s * step_hz(f_hz)
    if filled > MOST_OF_RANGE:
        raise BadInput(
            f"steps of {step_hz(f_hz) / 1e3:.0f} kHz are too coarse for {what}, which fills {filled:.0%} of "
            f"their unambiguous range; {MOST_OF_RANGE:.0%} at most are safe; {sweep_to_take(delay_s)}"
        )


def sweep_to_take(delay_s: float) -> str:
    """The sweep that measures a line well, in words."""
    stop_mhz = max(60, math.ceil(GOOD_CELLS / (2 * delay_s) / 1e6) + 1)
    for points in PROPOSED_POINTS:
        if 2 * delay_s * (stop_mhz - 1) * 1e6 / (points - 1) <= 0.25:
            break
    return f"sweep 1 to {stop_mhz} MHz with {points} points"


def _span_text(f_hz: FloatArray) -> str:
    return f"{frequency_text(float(f_hz[0]))} to {frequency_text(float(f_hz[-1]))} with {f_hz.size} points"
