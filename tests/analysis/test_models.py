"""Local fits, dips, noise, delay, curves: exact where the mathematics is, bounded where chance is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweepkit.analysis import moebius
from sweepkit.analysis.curve import smooth_curve
from sweepkit.analysis.delay import smoothest_delay_s, without_delay
from sweepkit.analysis.dips import find_dip_samples
from sweepkit.analysis.noise import estimate_noise
from sweepkit.analysis.share import lowest_point, share_within
from sweepkit.analysis.windows import Measured
from sweepkit.instrument import CHUNK_POINTS, Draws, ErrorModel
from tests.coverage.antennas import series, table

small = st.floats(-0.8, 0.8)
complexes = st.builds(complex, small, small)
turning = complexes.filter(lambda value: abs(value) > 0.01)  # without, the magnitude is the same everywhere


@pytest.mark.identity
@given(centre=st.floats(1e6, 1e9), ratio=st.floats(0.2, 5.0))
def test_the_coordinate_has_its_inverse(centre, ratio):
    f_hz = np.array([centre * ratio])
    assert moebius.frequency(moebius.coordinate(f_hz, centre), centre) == pytest.approx(f_hz, rel=1e-12)


@pytest.mark.identity
@given(p0=complexes, p1=complexes, q=complexes.filter(lambda q: abs(q.imag) > 0.05))
def test_the_fit_gives_back_any_moebius_function(p0, p1, q):
    u = np.linspace(-1, 1, 25)
    model = moebius.Moebius(np.asarray(p0), np.asarray(p1), np.asarray(q))
    gamma = moebius.value(model, u)
    found = moebius.fit(u, gamma, np.ones(25))
    np.testing.assert_allclose(moebius.value(found, u), gamma, atol=1e-9 * (1 + np.abs(gamma).max()))


@pytest.mark.identity
@given(p0=complexes, p1=turning, q=turning, level=st.floats(0.05, 0.95))
def test_roots_are_roots(p0, p1, q, level):
    model = moebius.Moebius(np.asarray(p0), np.asarray(p1), np.asarray(q))
    spread = moebius.Moebius(*(np.asarray(c)[None] for c in model))
    for u in moebius.magnitude_crossings(model, level):
        if np.isfinite(u) and abs(u) < 10 and abs(1 + q * u) > 1e-3:
            assert np.abs(moebius.value(spread, np.array([u])))[0] == pytest.approx(level, abs=1e-6)
    for u in moebius.reactance_zeros(model):
        if np.isfinite(u) and abs(u) < 10 and abs(1 + q * u) > 1e-3:
            assert abs(moebius.value(spread, np.array([u]))[0].imag) < 1e-6


@settings(max_examples=40)
@given(seed=st.integers(0, 10_000), points=st.integers(5, 300), noise=st.sampled_from([0.0, 0.002, 0.02]))
def test_a_dip_is_never_an_end_of_the_sweep(seed, points, noise):
    dice = np.random.default_rng(seed)
    magnitude = np.abs(np.cumsum(dice.normal(0, 0.05, points))) + noise * np.abs(dice.normal(size=points))
    for here, before, after in find_dip_samples(magnitude, noise=np.full(points, noise)):
        assert 0 <= before < here < after < points
        rise = max(6 * noise, 0.02)
        assert magnitude[before] - magnitude[here] >= rise
        assert magnitude[after] - magnitude[here] >= rise


@pytest.mark.parametrize("name", ["dipole_40m", "whip_40m", "end_fed_40m"])
@pytest.mark.parametrize("noise", [0.001, 0.003, 0.01])
@pytest.mark.parametrize("points", [51, 201, 801])
def test_the_noise_is_estimated_within_what_its_points_allow(name, noise, points):
    case = table(name)
    f_hz = np.linspace(case.low_hz, case.high_hz, points)
    z_ohm = case.z_ohm(f_hz)
    clean = (z_ohm - 50) / (z_ohm + 50)
    found = []
    for trial in range(30):
        dice = np.random.default_rng([trial, points])
        scatter = dice.standard_normal(points) + 1j * dice.standard_normal(points)
        found.append(estimate_noise(clean + noise / np.sqrt(2) * scatter) / noise)
    # A median of n independent magnitudes has a spread of about 0.8/sqrt(n); differences are not independent.
    assert np.mean(found) == pytest.approx(1.0, abs=0.12)
    assert np.std(found) < 3.0 / np.sqrt(points)


def test_a_burst_does_not_raise_the_noise():
    dice = np.random.default_rng(3)
    gamma = 0.003 / np.sqrt(2) * (dice.standard_normal(301) + 1j * dice.standard_normal(301))
    hit = gamma.copy()
    hit[100:115] += 0.4 * np.exp(2j * np.pi * dice.random(15))
    assert estimate_noise(hit) == pytest.approx(estimate_noise(gamma), rel=0.2)


def bending(gamma, stride):
    """Mean square second difference at the spacing that the search looks at."""
    ends = (
        gamma[: -2 * stride : stride] + gamma[2 * stride :: stride][: gamma[: -2 * stride : stride].size]
    ) / 2
    return float(np.mean(np.abs(ends - gamma[stride:-stride:stride][: ends.size]) ** 2))


@pytest.mark.parametrize("delay_s", [0.0, 60e-9, 150e-9, 300e-9, 600e-9])
@pytest.mark.parametrize("points", [101, 401, 1601])
def test_the_delay_of_a_line_is_taken_out(delay_s, points):
    """With the delay found, the curve bends no more than the antenna's own: what noise hides may stay in."""
    f_hz = np.linspace(10e6, 20e6, points)
    z_ohm = series(60.0, 8.0, 14.2e6)(f_hz)
    dice = np.random.default_rng(4)
    scatter = dice.standard_normal(points) + 1j * dice.standard_normal(points)
    alone = (z_ohm - 50) / (z_ohm + 50) + 0.002 * scatter
    behind = without_delay(f_hz, alone, -delay_s)
    found_s = smoothest_delay_s(f_hz, behind)
    stride = max(1, (points - 1) // 128)
    left = bending(without_delay(f_hz, behind, found_s), stride)
    assert left <= 1.45 * bending(alone, stride)  # a delay that explains less than 30 % is left alone
    if delay_s >= 150e-9:
        assert -10e-9 <= found_s - delay_s <= 80e-9  # the antenna's own stored energy delays too


@pytest.mark.identity
def test_taking_a_delay_out_leaves_magnitudes_alone():
    f_hz = np.linspace(1e6, 2e6, 50)
    gamma = np.full(50, 0.3 + 0.2j)
    np.testing.assert_allclose(np.abs(without_delay(f_hz, gamma, 1e-6)), np.abs(gamma), rtol=1e-14)


def test_a_smooth_curve_goes_through_the_antenna_not_through_the_noise():
    case = table("dipole_40m")
    f_hz = np.linspace(case.low_hz, case.high_hz, 201)
    z_ohm, dice = case.z_ohm(f_hz), np.random.default_rng(5)
    clean = (z_ohm - 50) / (z_ohm + 50)
    noise = 0.005
    gamma = clean + noise / np.sqrt(2) * (dice.standard_normal(201) + 1j * dice.standard_normal(201))
    curve = Measured(f_hz, gamma, np.ones(201), np.full(201, noise))
    smooth = smooth_curve(curve, f_hz, ensemble=lambda index: gamma[None, index])[0]
    assert np.sqrt(np.mean(np.abs(smooth - clean) ** 2)) < 0.5 * noise


@pytest.mark.identity
def test_lowest_point_and_share_of_a_parabola():
    grid = np.linspace(-1.0, 1.0, 21)
    curves = np.sqrt(np.stack([0.1 + (grid - 0.13) ** 2, 0.2 + (grid + 0.4) ** 2]))
    where, lowest = lowest_point(grid, curves)
    np.testing.assert_allclose(where, [0.13, -0.4], atol=1e-12)
    np.testing.assert_allclose(lowest**2, [0.1, 0.2], atol=1e-12)
    assert share_within(np.array([[0.0, 1.0, 2.0]]), 0.5) == pytest.approx([0.25])
    assert share_within(np.array([[0.0, 0.0], [2.0, 2.0]]), 1.0).tolist() == [1.0, 0.0]


def test_draws_are_the_same_whatever_is_asked_for_first():
    gamma = np.linspace(0.1, 0.5, 3 * CHUNK_POINTS) + 0.2j
    model = ErrorModel(directivity=0.01, noise=0.003)
    one, other = (Draws(gamma, model, n=20, seed=9) for _ in range(2))
    near, far = np.arange(5), np.array([7, 200, 301])
    first = one.at(near), one.at(far)
    second = other.at(far), other.at(near)
    np.testing.assert_array_equal(first[0], second[1])
    np.testing.assert_array_equal(first[1], second[0])
    np.testing.assert_array_equal(first[0][0], gamma[near])


def test_draws_scatter_as_told():
    gamma = np.full(CHUNK_POINTS, 0.3 + 0.0j)
    still = {"tracking": 0.0, "source_match": 0.0}
    noisy = Draws(gamma, ErrorModel(directivity=0.0, noise=0.004, **still), n=4000, seed=1).at(np.arange(10))
    away = np.abs(noisy[1:] - 0.3)
    assert np.sqrt(np.mean(away**2)) == pytest.approx(0.004, rel=0.1)
    steady = Draws(gamma, ErrorModel(directivity=0.02, **still), n=4000, seed=1).at(np.arange(10))
    assert np.sqrt(np.mean(np.abs(steady[1:] - 0.3) ** 2)) == pytest.approx(0.02, rel=0.05)
    assert np.ptp(steady[1:], axis=1).max() < 1e-12, "without frequencies directivity does not change"
    assert Draws(gamma, ErrorModel(), n=0, seed=1).at(np.arange(3)).shape == (1, 3)


@pytest.mark.parametrize("name", ["directivity", "noise", "tracking", "source_match"])
def test_impossible_errors_are_refused(name):
    with pytest.raises(ValueError, match=f"{name} is 1.5; it must be at least 0 and below 1"):
        ErrorModel(**{name: 1.5})
