"""The next sweep to take, in numbers a person can key in."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sweepkit.kit.analyzer import Analyzer

COMMON_POINTS = (101, 201, 401, 801)  # tried in turn where the kit does not say what the analyzer can do
LEAST_START_HZ = 100e3  # below it no antenna of interest and few analyzers
STEPS_ACROSS_SPAN = 40  # start and stop are rounded to about this share of the span
POINTS_IN_WIDTH = 10  # wanted inside the SWR-2 width of a dip; common practice, no source


@dataclass(frozen=True)
class NextSweep:
    """Start, stop and number of points."""

    start_hz: float
    stop_hz: float
    points: int


def sweep_across(
    low_hz: float, high_hz: float, *, width_hz: float, analyzer: Analyzer | None = None
) -> NextSweep:
    """A sweep from one frequency to another that puts enough points into a width, within what the analyzer can do.

    Where not told, it offers the common numbers of points and any span. Rounded outward to numbers that are easily
    keyed in. Where no number of points has enough, the one with the most; where no span is wide enough, the widest,
    round the same middle.
    """
    unit_hz = _round_step_hz((high_hz - low_hz) / STEPS_ACROSS_SPAN)
    start_hz = max(math.floor(low_hz / unit_hz) * unit_hz, LEAST_START_HZ)
    stop_hz = math.ceil(high_hz / unit_hz) * unit_hz
    if analyzer is not None and analyzer.spans_hz:
        needed_hz = stop_hz - start_hz
        span_hz = next((span for span in analyzer.spans_hz if span >= needed_hz), analyzer.spans_hz[-1])
        middle_hz = round((start_hz + stop_hz) / 2 / unit_hz) * unit_hz
        start_hz = max(middle_hz - span_hz / 2, LEAST_START_HZ)
        stop_hz = start_hz + span_hz
    needed = (stop_hz - start_hz) / (width_hz / POINTS_IN_WIDTH) + 1
    choices = sorted((analyzer.points if analyzer is not None else None) or COMMON_POINTS)
    points = next((choice for choice in choices if choice >= needed), choices[-1])
    return NextSweep(float(round(start_hz)), float(round(stop_hz)), points)


def _round_step_hz(step_hz: float) -> float:
    """The largest of 1, 2 and 5 times a power of ten that is not above a step; at least 1 kHz."""
    power = 10.0 ** math.floor(math.log10(max(step_hz, 1e3)))
    fitting = (m * power for m in (5, 2, 1) if m * power <= max(step_hz, 1e3))
    return max(1e3, next(fitting, power / 2))  # a hair below a power of ten its logarithm is rounded up
