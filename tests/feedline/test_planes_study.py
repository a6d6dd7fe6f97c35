"""Lines in sweeps that were told as taken at the feedpoint, on antennas that set no limit of the guess."""

import pytest

from sweepkit.feedline.likely import guess_line
from tests.models import planes_study, wide_antennas

SEEN = {
    "5 to 15 m": 0.7,
    "15 to 30 m": 0.85,
    "75 ohm": 0.7,
}  # frozen: 0.84, 0.92 and 0.85 of 144 when this was written


def likely(line_class, span, count, *, seed=6):
    antennas = wide_antennas.read()
    drawn = planes_study.sweeps(antennas, seed, span, line_class, count)
    return [guess_line(one.f_hz, one.gamma).answer == "likely" for one in drawn]


@pytest.mark.slow
@pytest.mark.parametrize("span", planes_study.SPANS)
def test_sound_sweeps_of_all_spans_keep_their_resonance(span):
    assert sum(likely("none", span, 60)) <= 2


@pytest.mark.slow
@pytest.mark.parametrize("line_class", SEEN)
def test_lines_are_seen_in_sweeps_of_all_spans(line_class):
    seen = [one for span in planes_study.SPANS for one in likely(line_class, span, 16)]
    assert sum(seen) >= SEEN[line_class] * len(seen)


def test_a_few_of_each():
    assert sum(likely("none", "1 to 30 MHz", 8) + likely("none", "round a dip", 8)) <= 1
    assert sum(likely("15 to 30 m", "round a dip", 8)) >= 6
