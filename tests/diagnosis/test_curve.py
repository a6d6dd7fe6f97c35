"""The curve that causes are acted out on, and the sweep without its noise."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from sweepkit.diagnosis.acting.curve import Curve, without_noise
from sweepkit.diagnosis.acting.priors import log_of_sum, normal_at, share_below
from tests.coverage.antennas import series

F_HZ = np.linspace(6.5e6, 7.7e6, 121)
Z_OHM = series(40.0, 30.0, 7.1e6)


def gamma(f_hz):
    z_ohm = Z_OHM(f_hz)
    return (z_ohm - 50) / (z_ohm + 50)


@pytest.mark.identity
def test_the_curve_goes_through_its_points_and_is_exact_for_parabolas():
    x = np.array([0.0, 0.7, 1.1, 2.0, 3.5])
    y = (1 + 2j) + (3 - 1j) * x + (0.5 + 0.2j) * x**2
    at = np.linspace(0, 3.5, 36).reshape(4, 9)
    np.testing.assert_allclose(Curve(x, y)(x), y, atol=1e-13)
    np.testing.assert_allclose(Curve(x, y)(at), (1 + 2j) + (3 - 1j) * at + (0.5 + 0.2j) * at**2, atol=1e-12)
    np.testing.assert_allclose(Curve(x, y)(np.array([-1.0, 9.0])), y[[0, -1]], atol=1e-13)


def test_between_the_points_of_a_sweep_it_is_as_near_as_a_spline():
    """Twelve points in the 2:1 width of a resonance; 0.0005 is what no line of the healthy model holds."""
    between = np.linspace(6.6e6, 7.6e6, 997)
    curve = Curve(np.log(F_HZ), gamma(F_HZ))(np.log(between))
    spline = CubicSpline(np.log(F_HZ), gamma(F_HZ))(np.log(between))
    assert np.abs(spline - gamma(between)).max() < 1e-4
    assert np.abs(curve - gamma(between)).max() < 5e-4


@pytest.mark.derived
@pytest.mark.parametrize("window", [7, 13, 31])
def test_noise_is_taken_out_as_savitzky_and_golay_do(window):
    from scipy.signal import savgol_filter

    dice = np.random.default_rng(window)
    y = dice.standard_normal(60) + 1j * dice.standard_normal(60)
    both = savgol_filter(y.real, window, 3) + 1j * savgol_filter(y.imag, window, 3)  # scipy's own
    np.testing.assert_allclose(without_noise(y, window), both, atol=1e-12)


@pytest.mark.identity
def test_shares_and_normal_numbers_lead_back_to_each_other():
    shares = np.array([0.001, 0.025, 0.5, 0.8, 0.999])
    np.testing.assert_allclose(share_below(normal_at(shares)), shares, rtol=1e-12)
    known = share_below(np.array([[0.0], [1.959963984540054]]))
    np.testing.assert_allclose(known, [[0.5], [0.975]], rtol=1e-12)
    assert log_of_sum([np.log(2.0), np.log(3.0), -np.inf]) == pytest.approx(np.log(5.0))
