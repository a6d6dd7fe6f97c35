"""The time domain: reference transforms, resolution and range, and its traps."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.feedline import echoes as time_domain
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.echoes import find_echoes, impulse_response, range_m, refuse_uneven, resolution_m
from sweepkit.feedline.plane import add_chain
from sweepkit.lines import LinePiece

ROOT = Path(__file__).resolve().parents[2]


# TDR-27 and 28: reference transform of a national institute (METAS) for an ideal short 10 ps away, five
# points from 10 to 50 GHz: band-pass impulse of size 1 at 20 ps. Without a window, as theirs; the data
# are the formula.
@pytest.mark.published
def test_reference_transform_of_a_short(expected, monkeypatch):
    monkeypatch.setattr(time_domain, "_kaiser", np.ones)
    f_hz = np.arange(1, 6) * 10e9
    t_s, response = impulse_response(f_hz, -np.exp(-2j * np.pi * f_hz * 20e-12))
    peak = int(np.argmax(np.abs(response)))
    time_ps, tolerance = expected("TDR-27")
    assert t_s[peak] * 1e12 == pytest.approx(time_ps.real, abs=tolerance)
    size, tolerance = expected("TDR-28")
    assert abs(response[peak]) == pytest.approx(size.real, abs=tolerance)
    assert response[peak] == pytest.approx(-1, abs=1e-9)  # a short turns the wave over


# TDR-02 to 06: width of a bin and alias-free range.
@pytest.mark.derived
@pytest.mark.parametrize(
    ("row_id", "velocity_factor", "span_hz"),
    [("TDR-02", 0.66, 59e6), ("TDR-03", 0.85, 59e6), ("TDR-04", 0.66, 199e6), ("TDR-05", 1.0, 1000e6)],
)
def test_resolution(expected, row_id, velocity_factor, span_hz):
    value, tolerance = expected(row_id)
    f_hz = np.linspace(1e6, 1e6 + span_hz, 11)
    assert resolution_m(f_hz, velocity_factor) == pytest.approx(value.real, abs=tolerance)


@pytest.mark.derived
def test_range(expected):
    value, tolerance = expected("TDR-06")
    assert range_m(np.linspace(1e6, 60e6, 1001), 0.66) == pytest.approx(value.real, abs=tolerance)


# TDR-08: 100 ns round trip at velocity factor 0.66 are 9.8932 m. Without loss the peak must stand there.
@pytest.mark.derived
def test_distance_of_an_open(expected):
    length_m = expected("TDR-08")[0].real
    line = LinePiece("ideal", 50.0, 0.66, 0.0, 0.0, length_m)
    f_hz = np.linspace(1e6, 60e6, 201)
    gamma = add_chain(f_hz, np.ones(201), LineChain([line]).nominal)[0]
    (echo,) = find_echoes(f_hz, gamma, least=0.05, longest_s=1e-6)
    assert echo.delay_s == pytest.approx(100e-9, abs=0.1e-9)
    assert echo.size == pytest.approx(1, abs=0.005)
    assert abs(echo.phase_rad) < 0.05


# TDR-31 to 33: faults of |Γ| = 0.2, seen at the near end of a line without loss.
@pytest.mark.derived
@pytest.mark.parametrize(("row_id", "z_ohm"), [("TDR-31", 100 / 3), ("TDR-32", 75.0), ("TDR-33", 75.0)])
def test_size_and_sign_of_a_fault(expected, row_id, z_ohm):
    value, _ = expected(row_id)
    line = LinePiece("ideal", 50.0, 0.66, 0.0, 0.0, 12.0)
    f_hz = np.linspace(1e6, 60e6, 201)
    rho = (z_ohm - 50) / (z_ohm + 50)
    gamma = add_chain(f_hz, np.full(201, rho), LineChain([line]).nominal)[0]
    (echo,) = find_echoes(f_hz, gamma, least=0.05, longest_s=1e-6)
    assert echo.size == pytest.approx(value.real, abs=0.002)
    assert np.sign(np.cos(echo.phase_rad)) == np.sign(rho)


def test_two_echoes_of_different_size_are_both_found():
    f_hz = np.linspace(1e6, 120e6, 401)
    gamma = 0.9 * np.exp(-2j * np.pi * f_hz * 200e-9) - 0.05 * np.exp(-2j * np.pi * f_hz * 80e-9)
    far, near = find_echoes(f_hz, gamma, least=0.02, longest_s=1e-6)
    assert (far.delay_s, near.delay_s) == pytest.approx((200e-9, 80e-9), abs=0.3e-9)
    assert near.size == pytest.approx(0.05, abs=0.005)
    assert np.cos(near.phase_rad) < 0


def test_an_echo_in_the_second_half_of_the_range_keeps_its_place():
    f_hz = np.linspace(1e6, 60e6, 101)  # range 1.69 µs
    (echo,) = find_echoes(f_hz, np.exp(-2j * np.pi * f_hz * 1.3e-6), least=0.1, longest_s=1.7e-6)
    assert echo.delay_s == pytest.approx(1.3e-6, abs=1e-9)
    assert abs(echo.phase_rad) < 0.1


@pytest.mark.parametrize(
    "f_hz",
    [np.geomspace(10e6, 13e6, 101), np.linspace(1e6, 60e6, 101) * (1 + 0.02 * np.sin(np.arange(101)))],
    ids=["logarithmic", "warped"],
)
def test_an_uneven_grid_is_refused(f_hz):
    with pytest.raises(BadInput, match="off an even grid; distances need even steps"):
        refuse_uneven(np.sort(f_hz))


def test_frequencies_rounded_to_a_kilohertz_are_even_enough():
    refuse_uneven(np.round(np.linspace(1e6, 60e6, 401), -3))


def test_the_window_does_not_load_a_signal_library():
    code = (
        "import sys, numpy as np; from sweepkit.feedline.echoes import impulse_response; "
        "impulse_response(np.linspace(1e6, 60e6, 51), np.ones(51, dtype=complex)); "
        "sys.exit('scipy.signal' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0
