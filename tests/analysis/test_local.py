"""Local fits: which points they take, when they are narrowed, and what is left when nothing helps."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.analysis import moebius
from sweepkit.analysis.delay import without_delay
from sweepkit.analysis.dips import find_dip_samples, fit_dip, matched_width_hz
from sweepkit.analysis.fits import fit_windows
from sweepkit.analysis.local import fit_near
from sweepkit.analysis.moebius import LEAST_POINTS
from sweepkit.analysis.noise import estimate_noise, noise_freedom
from sweepkit.analysis.windows import MOST_POINTS, Measured
from tests.coverage.antennas import parallel, series, side_by_side


def reflection(z_ohm, f_hz):
    z = z_ohm(f_hz)
    return (z - 50) / (z + 50)


def noise_of(dice, points, rms):
    return rms / np.sqrt(2) * (dice.standard_normal(points) + 1j * dice.standard_normal(points))


def quiet(f_hz, gamma, noise=0.0):
    return Measured(f_hz, gamma, np.ones(f_hz.size), np.full(f_hz.size, noise))


def fit_window(curve, centre_hz, half_width_hz):
    return fit_windows(curve.alone, [0], [centre_hz], [half_width_hz]).one(0, curve.alone)


def test_a_window_takes_what_lies_in_it_and_never_too_few_nor_too_many():
    f_hz = np.linspace(10e6, 20e6, 2001)
    curve = quiet(f_hz, reflection(series(40.0, 10.0, 14e6), f_hz))
    inside = fit_window(curve, 14e6, 0.25e6).points
    assert f_hz[inside].min() == pytest.approx(13.75e6)
    assert f_hz[inside].max() == pytest.approx(14.25e6, abs=5e3)
    assert fit_window(curve, 14e6, 1.0).points.size == 7
    assert fit_window(curve, 14e6, 1e9).points.size <= MOST_POINTS
    at_the_end = fit_window(curve, 20e6, 1.0).points
    assert at_the_end.tolist() == list(range(1994, 2001))


def test_points_without_trust_do_not_move_the_fit():
    f_hz = np.linspace(13e6, 15e6, 101)
    gamma = reflection(series(40.0, 10.0, 14e6), f_hz)
    hit, trust = gamma.copy(), np.ones(101)
    hit[45:52] += 0.5
    trust[45:52] = 0.0
    clean, round_it = (
        fit_window(quiet(f_hz, g)._replace(trust=trust), 14e6, 1e6).model for g in (gamma, hit)
    )
    np.testing.assert_allclose(np.array(round_it), np.array(clean), atol=1e-9)


def test_a_window_is_narrowed_until_one_resonance_describes_it():
    two = side_by_side(series(45.0, 14.0, 7.1e6), series(60.0, 12.0, 14.15e6))
    f_hz = np.linspace(6e6, 16e6, 801)
    fit = fit_near(quiet(f_hz, reflection(two, f_hz), noise=1e-4), 7.1e6, 4e6)
    assert np.ptp(f_hz[fit.points]) < 2e6
    assert fit.residual < 1.2
    assert not fit.excess.any()


def test_a_misfit_that_no_window_removes_widens_the_draws():
    two = side_by_side(series(45.0, 25.0, 7.1e6), series(60.0, 20.0, 14.15e6))
    f_hz = np.linspace(6e6, 16e6, 31)
    gamma = reflection(two, f_hz)
    fit = fit_near(quiet(f_hz, gamma, noise=1e-5), 7.1e6, 1e6)
    assert fit.points.size <= LEAST_POINTS  # the tightest ones would be narrower by chance alone
    assert fit.excess.max() > 1e-3

    def steady(index):
        return np.repeat(gamma[np.newaxis, index], 200, axis=0)

    drawn = fit.on(steady)
    np.testing.assert_allclose(drawn.p0[0], fit.model.p0)  # the measured member stays as it is
    assert np.std(np.abs(drawn.p0[1:])) > 0.1 * fit.excess.max()
    np.testing.assert_array_equal(fit.on(steady).p0, drawn.p0)


# A resonator takes in power as 1/(1 + (u/h)^2) of what it takes at its bottom; a ninth less is at u = h sqrt(1/8).
@pytest.mark.identity
@pytest.mark.parametrize("delay_s", [0.0, 40e-9, -60e-9])
@pytest.mark.parametrize(("kind", "load"), [(series, 1 + 50 / 30), (parallel, 1 + 30 / 50)])
def test_the_matched_width_is_that_of_the_resonator_whatever_the_delay(kind, load, delay_s):
    f_hz = np.linspace(13.7e6, 14.3e6, 201)
    gamma = without_delay(f_hz, reflection(kind(30.0, 30.0, 14e6), f_hz), delay_s)
    fit = fit_window(quiet(f_hz, gamma), 14e6, 0.3e6)
    exact_hz = 14e6 * load / 30.0 * np.sqrt(1 / 8)
    # A delay is only nearly a Möbius function; the loaded width of the same fits is off by up to a fifth.
    assert matched_width_hz(fit) == pytest.approx(exact_hz, rel=1e-3 if delay_s == 0 else 0.05)


def test_the_scatter_of_the_estimated_noise_is_what_its_freedom_says():
    for points in (51, 201, 801):
        values = [noise_of(np.random.default_rng([k, points]), points, 0.004) for k in range(300)]
        found = np.array([estimate_noise(v) for v in values]) / 0.004
        told = 1 / np.sqrt(2 * noise_freedom(values[0].size, has_phase=True))
        quarters = np.ptp(np.quantile(found, (0.25, 0.75))) / 1.349
        assert 0.6 * told < quarters < 1.7 * told
        assert noise_freedom(100, has_phase=False) == noise_freedom(100, has_phase=True) / 2


def test_the_fit_of_a_dip_settles_on_it_from_a_poor_start():
    f_hz = np.linspace(12e6, 16e6, 401)
    dice = np.random.default_rng(2)
    gamma = reflection(series(40.0, 20.0, 14e6), f_hz) + noise_of(dice, 401, 0.003)
    noise = np.full(401, 0.003)
    (place,) = find_dip_samples(np.abs(gamma), noise=noise)
    shifted = (place[0] + 8, place[1], place[2])
    for start in (place, shifted):
        fit = fit_dip(Measured(f_hz, gamma, np.ones(401), noise), start).fit
        found_hz = moebius.frequency(moebius.smallest_magnitude(fit.model), fit.centre_hz)
        assert found_hz == pytest.approx(14e6, abs=5e3)
