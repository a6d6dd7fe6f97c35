"""Lines in sweeps that were told as taken at the feedpoint, on antennas that set no limit of the guess."""

import pytest

from sweepkit.feedline.likely import guess_line
from tests.models import planes_study, wide_antennas

# Frozen: 69, 91, 94 and 89 of 96.
SEEN = {"under 5 m": 0.65, "5 to 15 m": 0.9, "15 to 30 m": 0.93, "75 ohm": 0.88}


def likely(line_class, span, count, *, seed=6):
    antennas = wide_antennas.read()
    drawn = planes_study.sweeps(antennas, seed, span, line_class, count)
    return [guess_line(one.f_hz, one.gamma).answer == "likely" for one in drawn]


@pytest.mark.slow
def test_sound_sweeps_of_all_spans_keep_their_resonance():
    """Frozen: 2 of 360; two of a hundred are allowed."""
    seen = [one for span in planes_study.SPANS for one in likely("none", span, 60)]
    assert sum(seen) <= 0.02 * len(seen)


@pytest.mark.slow
@pytest.mark.parametrize("line_class", SEEN)
def test_lines_are_seen_in_sweeps_of_all_spans(line_class):
    seen = [one for span in planes_study.SPANS for one in likely(line_class, span, 16)]
    assert sum(seen) >= SEEN[line_class] * len(seen)


@pytest.mark.slow
def test_short_lines_are_seen_in_most_wide_sweeps():
    """Frozen: 53 of 64 of 1 to 5 m; those of 1 m look like a choke or a box."""
    wide = [one for span in ("1 to 30 MHz", "1 to 60 MHz") for one in likely("under 5 m", span, 32)]
    assert sum(wide) >= 0.75 * len(wide)


def test_lines_are_seen_inside_one_band():
    """Frozen: 29 of 32; where no dip lies in the band, size and turn of the reflection tell."""
    assert sum(likely("5 to 15 m", "one band", 16) + likely("15 to 30 m", "one band", 16)) >= 27


def test_a_few_of_each():
    assert sum(likely("none", "1 to 30 MHz", 8) + likely("none", "round a dip", 8)) <= 1
    assert sum(likely("15 to 30 m", "round a dip", 8)) >= 6
    assert sum(likely("under 5 m", "1 to 60 MHz", 12)) >= 7
