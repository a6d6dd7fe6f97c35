"""The next sweep to take, for spans of any size."""

from __future__ import annotations

import math

import pytest

from sweepkit.kit import Analyzer
from sweepkit.reviews.next_sweep import STEPS_ACROSS_SPAN, sweep_across


@pytest.mark.parametrize("power", range(4, 9))
@pytest.mark.parametrize("factor", [1.0, 2.0, 5.0])
def test_spans_next_to_round_numbers_are_rounded_too(power, factor):
    """A logarithm may be rounded up where its argument is a hair below a power of ten."""
    step_hz = factor * 10.0**power
    for near_hz in (math.nextafter(step_hz, 0), step_hz, math.nextafter(step_hz, math.inf)):
        low_hz, high_hz = 1e6, 1e6 + STEPS_ACROSS_SPAN * near_hz
        sweep = sweep_across(low_hz, high_hz, width_hz=high_hz / 10)
        assert sweep.start_hz <= low_hz
        assert sweep.stop_hz >= high_hz - 1


def test_a_sweep_stays_within_the_spans_and_points_of_the_analyzer():
    analyzer = Analyzer(points=(51, 101), spans_hz=(200e3, 1e6, 500e3))
    narrow = sweep_across(7.0e6, 7.3e6, width_hz=100e3, analyzer=analyzer)
    assert narrow.stop_hz - narrow.start_hz == 500e3
    assert narrow.start_hz <= 7.0e6
    assert narrow.stop_hz >= 7.3e6
    assert narrow.points == 51
    wide = sweep_across(3e6, 8e6, width_hz=100e3, analyzer=analyzer)
    assert wide.stop_hz - wide.start_hz == 1e6
    assert wide.start_hz < 5.5e6 < wide.stop_hz
    assert wide.points == 101
