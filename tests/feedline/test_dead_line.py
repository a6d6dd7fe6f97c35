"""A bare line at the radio is seen as one; an antenna on it is not."""

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.dead_line import find_dead_line
from sweepkit.lines import parse_piece
from tests.feedline.modelled import antenna, measured, swept_line

WIDE_HZ = np.linspace(1e6, 30e6, 201)


def told(*specs):
    return draw_chain(LineChain([parse_piece(spec) for spec in specs]), np.random.default_rng(0), 200)


@pytest.mark.parametrize(("reflection", "code"), [(1.0, "open-line"), (-1.0, "shorted-line")])
def test_the_antenna_came_off(reflection, code):
    sweep = swept_line([parse_piece("RG-58 15 m")], reflection, f_hz=WIDE_HZ)
    finding = find_dead_line(sweep.f_hz, sweep.gamma, told("RG-58 15 m"))
    assert finding.code == code
    assert "the end of the line told: no antenna is seen on it" in finding.text
    assert finding.distance_m.low < 15 < finding.distance_m.high


def test_a_break_short_of_the_end():
    sweep = swept_line([parse_piece("RG-58 11 m")], 1.0, f_hz=WIDE_HZ)
    finding = find_dead_line(sweep.f_hz, sweep.gamma, told("RG-58 10 m", "RG-58 10 m"))
    assert finding.distance_m.value == pytest.approx(11, abs=0.1)
    assert "no antenna is seen" not in finding.text


def test_without_a_told_line_the_distance_is_as_wide_as_velocity_factors_go():
    sweep = swept_line([parse_piece("RG-58 11 m")], 1.0, f_hz=WIDE_HZ)
    finding = find_dead_line(sweep.f_hz, sweep.gamma)
    assert finding.distance_m.low < 11 < finding.distance_m.high


@pytest.mark.parametrize(
    "name",
    [
        "dipole_40m",
        "dipole_20m_low",
        "dipole_40m_wide",
        "vee_80m",
        "whip_40m",
        "end_fed_40m",
        "end_fed_40m_wide",
    ],
)
@pytest.mark.parametrize("specs", [(), ("RG-58 15 m",), ("RG-213 30 m",)])
def test_an_antenna_is_not_taken_for_a_bare_line(name, specs):
    f_hz, gamma = antenna(name)
    pieces = [parse_piece(spec) for spec in specs]
    assert find_dead_line(f_hz, measured(f_hz, gamma, pieces)) is None


def test_a_narrow_sweep_says_nothing():
    sweep = swept_line([parse_piece("RG-58 11 m")], 1.0, f_hz=np.linspace(14e6, 14.35e6, 101))
    assert find_dead_line(sweep.f_hz, sweep.gamma) is None
