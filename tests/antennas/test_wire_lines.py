"""Formulas of wires as lines against published tables and against their own equations."""

import numpy as np
import pytest

from sweepkit.antennas.wire_lines import (
    monopole_impedance_ohm,
    monopole_reactance_ohm,
    shared_wire_slope,
    short_monopole_resistance_ohm,
    wire_over_soil,
)
from tests.published.check_values import expected

EIGHT_FEET_M = 8 * 0.3048
RADIUS_M = 3e-3  # the table's coils belong to a whip of about 6 mm diameter


# Source: ARRL Antenna Book, table "Approximate values for 8-foot mobile whip", base loading (from memory). The
# rows' tolerance is 9 %: the table is rounded and its whip diameter is not stated.
@pytest.mark.derived
@pytest.mark.parametrize(
    ("row", "f_hz"),
    [("ANT-56", 1.8e6), ("ANT-58", 3.8e6), ("ANT-60", 7.2e6), ("ANT-62", 10.1e6), ("ANT-64", 14.2e6)],
)
def test_base_coils_are_those_of_the_handbook_table(row, f_hz):
    angle = 2 * np.pi * f_hz * EIGHT_FEET_M / 299_792_458.0
    z0_ohm = float(monopole_impedance_ohm(EIGHT_FEET_M, RADIUS_M))
    coil_uh = z0_ohm / np.tan(angle) / (2 * np.pi * f_hz) * 1e6  # 2 pi f L = Z0 cot(kh)
    assert coil_uh == expected(row).matches(unit="uH")


# Source: the same table. Its last row, 5.7 ohm at 14.2 MHz, is left out: eight feet are 0.115 wavelengths
# there, where the current is no longer triangular and the formula gives 5.3 ohm, 7 % less.
@pytest.mark.derived
@pytest.mark.parametrize(
    ("row", "f_hz"), [("ANT-57", 1.8e6), ("ANT-59", 3.8e6), ("ANT-61", 7.2e6), ("ANT-63", 10.1e6)]
)
def test_radiation_resistance_of_a_short_whip_is_that_of_the_handbook_table(row, f_hz):
    assert float(short_monopole_resistance_ohm(f_hz, EIGHT_FEET_M)) == expected(row).matches(unit="ohm")


# Source: Balanis, Antenna Theory, 4th ed., sections 4.3 and 4.7; only rounding is allowed.
@pytest.mark.derived
def test_radiation_resistance_of_a_short_monopole():
    assert float(short_monopole_resistance_ohm(3.8e6, 2.4384)) == expected("ANT-66").matches(unit="ohm")


@pytest.mark.identity
def test_two_equal_quarter_waves_share_the_tuning_in_halves():
    angle = np.array([np.pi / 2])
    assert shared_wire_slope(angle, np.array([1.0]))[0] == pytest.approx(-0.5, abs=1e-12)


@pytest.mark.identity
def test_many_radials_leave_all_of_the_tuning_to_the_radiator():
    angle = np.array([np.pi / 2])
    assert shared_wire_slope(angle, np.array([1e-6]))[0] == pytest.approx(-1.0, abs=1e-5)


@pytest.mark.identity
def test_the_slope_of_a_vertical_over_radials_is_that_of_its_own_resonance():
    ratio, other_m = 0.3, 5.4
    speed = 299_792_458.0

    def resonance_hz(h_m):
        low, high = 12e6, 16e6
        for _ in range(60):
            middle = (low + high) / 2
            k = 2 * np.pi * middle / speed
            below = 1 / np.tan(k * h_m) + ratio / np.tan(k * other_m) > 0
            low, high = (middle, high) if below else (low, middle)
        return low

    height_m, step = 5.2, 1e-4
    by_hand = np.log(resonance_hz(height_m * (1 + step)) / resonance_hz(height_m * (1 - step))) / (2 * step)
    angle = np.array([2 * np.pi * resonance_hz(height_m) * height_m / speed])
    assert shared_wire_slope(angle, np.array([ratio]))[0] == pytest.approx(by_hand, abs=1e-6)


# Where current and charge are mirrored alike, the wire is a line in vacuum: 60 ln(2h/a), waves at the speed of light.
@pytest.mark.identity
def test_a_wire_over_an_ideal_mirror_is_a_line_in_vacuum():
    ohm, slowing = wire_over_soil(np.array([0.1, 2.0]), 1e-3, np.zeros(2))
    assert ohm == pytest.approx(60 * np.log([200.0, 4000.0]), rel=1e-12)
    assert slowing == pytest.approx([1.0, 1.0], rel=1e-12)


def test_soil_slows_the_lower_wire_more():
    _, slowing = wire_over_soil(np.array([0.03, 0.3, 3.0]), 1e-3, np.full(3, 1.0))
    assert slowing[0] > slowing[1] > slowing[2] > 1.0
    assert 1.2 < slowing[0] < 1.4


# Source: Balanis, Antenna Theory, section 4.6 (from memory): 42.5 ohm of a half-wave dipole; half over a mirror.
@pytest.mark.derived
def test_a_quarter_wave_over_a_mirror_has_half_the_reactance_of_a_dipole():
    ohm = monopole_reactance_ohm(np.array([10e6]), np.array([299_792_458.0 / 40e6]), 1e-4)
    assert ohm[0] == pytest.approx(42.5 / 2, abs=0.1)
