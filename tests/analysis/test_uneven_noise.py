"""Noise that is not the same everywhere, printed digits, and fits that neither may narrow."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import find_dip_samples, fit_dip, fit_dips, is_resolved
from sweepkit.analysis.edges import Wanted, find_edges
from sweepkit.analysis.local import fit_near
from sweepkit.analysis.noise import noise_along
from sweepkit.analysis.windows import Measured
from sweepkit.printed_step import PrintedStep, Step
from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import series, side_by_side
from tests.coverage.sound import CODES, WAYS, run_sound

POINTS = 401
F_HZ = np.linspace(13.4e6, 14.6e6, POINTS)
Z_OHM = series(42.0, 25.0, 14.0e6)(F_HZ)
CLEAN = (Z_OHM - 50) / (Z_OHM + 50)


def scatter(seed, rms):
    dice = np.random.default_rng(seed)
    return rms / np.sqrt(2) * (dice.standard_normal(POINTS) + 1j * dice.standard_normal(POINTS))


def in_ohms(seed, rms):
    z_ohm = Z_OHM + scatter(seed, rms)
    return (z_ohm - 50) / (z_ohm + 50)


# dz of an impedance moves the reflection by (1 - gamma)^2 / (2 z0) dz: 1 ohm at 50 ohm is 0.01 of it.
def test_noise_even_in_ohms_is_found_as_such():
    exact = 0.8 / 100 * np.abs(1 - CLEAN) ** 2
    found = np.array([noise_along(g, g) for g in (in_ohms(seed, 0.8) for seed in range(40))])
    ratio = np.median(found / exact, axis=0)
    near = np.abs(CLEAN) < 0.6  # farther out the reflection hardly feels ohms
    assert ratio[near] == pytest.approx(1.0, abs=0.25)


def test_noise_even_in_reflection_stays_one_number():
    found = [noise_along(g, g) for g in (CLEAN + scatter(seed, 0.003) for seed in range(60))]
    assert sum(np.ptp(noise) > 0 for noise in found) <= 2
    assert np.mean(found) == pytest.approx(0.003, rel=0.05)


def test_a_short_sweep_has_one_noise():
    assert np.ptp(noise_along(CLEAN[::10], CLEAN[::10])) == 0


def test_uneven_noise_does_not_narrow_a_window():
    noise = np.full(POINTS, 2e-3)  # a quarter of what the points near a short really have
    sizes = []
    for seed in range(20):
        gamma = in_ohms(seed, 0.8)
        sizes.append(fit_near(Measured(F_HZ, gamma, np.ones(POINTS), noise), 14e6, 0.25e6).points.size)
    assert np.median(sizes) > 100
    assert min(sizes) > 30


def test_what_narrowing_does_not_lower_becomes_noise_of_the_figure():
    noise = np.full(POINTS, 1e-3)
    fit = fit_near(Measured(F_HZ, CLEAN + scatter(3, 0.004), np.ones(POINTS), noise), 14e6, 0.25e6)
    assert fit.excess == pytest.approx(np.sqrt(0.004**2 - 0.001**2), rel=0.15)


def test_two_close_dips_are_kept_apart():
    two = side_by_side(series(60.0, 60.0, 13.85e6), series(60.0, 60.0, 14.15e6))
    gamma = (two(F_HZ) - 50) / (two(F_HZ) + 50)
    exact = (
        np.flatnonzero((np.abs(gamma)[1:-1] < np.abs(gamma)[:-2]) & (np.abs(gamma)[1:-1] < np.abs(gamma)[2:]))
        + 1
    )
    noisy = gamma + scatter(4, 0.003)
    curve = Measured(F_HZ, noisy, np.ones(POINTS), np.full(POINTS, 0.003))
    places = find_dip_samples(np.abs(noisy), noise=curve.noise)
    found = [fit_dip(curve, place).fit for place in places]
    dips_hz = [
        float(moebius.frequency(moebius.smallest_magnitude(fit.model), fit.centre_hz)) for fit in found
    ]
    assert dips_hz == pytest.approx(F_HZ[exact], abs=2 * (F_HZ[1] - F_HZ[0]))


def test_a_dip_no_wider_than_its_valley_has_edges():
    # The curve never rises by what SWR 2 costs; it must not have to stay above a limit for longer than there is sweep.
    z_ohm = series(40.0, 3.0, 14.0e6)(F_HZ)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    curve = Measured(F_HZ, gamma, np.ones(POINTS), np.full(POINTS, 1e-4))
    dips = fit_dips(curve.alone, [0], find_dip_samples(np.abs(gamma), curve.noise))
    assert dips.width_hz[0] < 14e6 / 2
    limit = 0.5 * (np.abs(gamma).min() + np.abs(gamma[[0, -1]]).min())
    wanted = Wanted(np.array([0, 0]), np.array([limit, limit]), np.array([False, True]))
    assert find_edges(curve.alone, dips, wanted).found.tolist() == [0, 1]


@pytest.mark.parametrize(
    ("every", "noise", "resolved"), [(1, 0.005, True), (40, 1e-4, True), (40, 0.05, False)]
)
def test_the_interval_decides_whether_points_are_enough(every, noise, resolved):
    gamma = CLEAN[::every] + scatter(5, noise)[::every]
    curve = Measured(F_HZ[::every], gamma, np.ones(gamma.size), np.full(gamma.size, noise))
    fit = fit_near(curve, 14e6, 0.3e6)
    assert is_resolved(fit, curve, 14e6 / 25 / np.sqrt(8) * (1 + 50 / 42)) == resolved


def test_a_table_rounded_to_one_ohm_is_not_taken_for_certain():
    z_ohm = np.round(Z_OHM.real) + 1j * np.round(Z_OHM.imag)
    sweep = Sweep.from_gamma(
        F_HZ, (z_ohm - 50) / (z_ohm + 50), printed_step=PrintedStep(("r", "x"), (Step(1.0), Step(1.0)), 50.0)
    )
    view = review(sweep, draws=0, bands=()).planes.measured
    rounding = np.sqrt(2 / 12) / 100  # two parts, each off by up to half a step
    assert 0.99 * rounding < view.noise[POINTS // 2] < 2 * rounding


@pytest.mark.parametrize("way", sorted(WAYS))
def test_a_sound_sweep_is_not_blamed(way):
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # a divide by zero never reaches the user
        score = run_sound(2, seed=62, ways={way: WAYS[way]})[way]
    blamed = {code: sum(score[code]) for code in ("no dip", *CODES, "no width")}
    assert not any(blamed.values()), blamed
