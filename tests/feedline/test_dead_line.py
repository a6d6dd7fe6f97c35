"""A bare line at the radio is seen as one; an antenna on it is not."""

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.dead_line import find_dead_line, find_likely_dead_line
from sweepkit.lines import parse_piece
from sweepkit.reviews.review import review
from sweepkit.sweep import Sweep
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


NARROW_HZ = np.linspace(5e6, 9e6, 201)
METRES = 7.5


@pytest.mark.parametrize(("reflection", "word"), [(1.0, "ends open"), (-1.0, "ends in a short")])
def test_a_broken_line_in_a_narrow_sweep_is_said_to_look_like_one_and_no_finer_sweep_is_asked_for(
    reflection, word
):
    sweep = swept_line([parse_piece(f"RG-58 {METRES} m")], reflection, f_hz=NARROW_HZ)
    found = review(sweep, draws=0)
    (finding,) = [one for one in found.findings if one.code == "no-antenna-seen"]
    assert word in finding.text
    assert finding.distance_m.low < METRES < finding.distance_m.high
    assert found.adequate
    assert "too-coarse" not in {one.code for one in found.findings}


@pytest.mark.parametrize("q", [30, 100, 300, 700])
@pytest.mark.parametrize("r_ohm", [8.0, 36.0, 120.0])
def test_a_narrow_dip_between_two_points_is_not_taken_for_a_bare_line(q, r_ohm):
    f0_hz = float(NARROW_HZ[90] + NARROW_HZ[91]) / 2
    z = r_ohm * (1 + 1j * q * (NARROW_HZ / f0_hz - f0_hz / NARROW_HZ))
    sweep = Sweep.from_gamma(NARROW_HZ, (z - 50) / (z + 50))
    assert find_likely_dead_line(sweep.f_hz, sweep.gamma) is None
    assert "no-antenna-seen" not in {one.code for one in review(sweep, draws=0).findings}


@pytest.mark.parametrize("end_ohm", [1e7, 0.05], ids=["open", "short"])
@pytest.mark.parametrize("seed", [1, 3])
def test_a_bare_line_of_75_ohm_dips_all_along_and_is_no_antenna(seed, end_ohm):
    """Its impedance alone makes dips down to SWR 3; frozen: 12 of 12, and 0 of 34 antennas with as many such dips."""
    from sweepkit.reviews import review
    from sweepkit.sweep import Sweep
    from tests.models.set_ups import make_coax, read_off

    dice, f_hz = np.random.default_rng([5, seed]), np.linspace(1e6, 60e6, 201)
    line = make_coax("RG-59", dice.uniform(18, 26), dice)
    z_ohm = line.seen_through(f_hz, np.full(f_hz.size, end_ohm + 0j))
    gamma = read_off(f_hz, (z_ohm - 50) / (z_ohm + 50), 0.001, dice, in_ohms=False)
    answer = review(Sweep.from_gamma(f_hz, gamma), draws=0, bands=())
    (found,) = [one for one in answer.findings if one.code in ("open-line", "shorted-line")]
    assert found.code == ("open-line" if end_ohm > 1 else "shorted-line")
    assert found.distance_m.low <= line.length_m <= found.distance_m.high
