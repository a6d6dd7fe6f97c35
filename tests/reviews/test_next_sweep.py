"""The next sweep to take, for spans of any size."""

from __future__ import annotations

import math

import pytest

from sweepkit.reviews.next_sweep import STEPS_ACROSS_SPAN, sweep_across


@pytest.mark.parametrize("power", range(4, 9))
@pytest.mark.parametrize("factor", [1.0, 2.0, 5.0])
def test_spans_next_to_round_numbers_are_rounded_too(power, factor):
    """A logarithm may be rounded up where its argument is a hair below a power of ten."""
    step_hz = factor * 10.0**power
    for near_hz in (math.nextafter(step_hz, 0), step_hz, math.nextafter(step_hz, math.inf)):
        low_hz, high_hz = 1e6, 1e6 + STEPS_ACROSS_SPAN * near_hz
        sweep = sweep_across(low_hz, high_hz, width_hz=high_hz / 10, points_choices=None)
        assert sweep.start_hz <= low_hz
        assert sweep.stop_hz >= high_hz - 1
