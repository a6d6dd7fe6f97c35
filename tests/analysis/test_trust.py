"""Trust in each point: exactly the points that are off lose it, and no narrow dip does."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.analysis.noise import estimate_noise
from sweepkit.analysis.trust import bridged, find_trust_of_magnitude, find_trusts
from tests.coverage.antennas import NARROW_TABLES, series, table

NOISE = 0.002


def curve(name="dipole_40m", *, points=301, seed=1, noise=NOISE):
    case = table(name)
    f_hz = np.linspace(case.low_hz, case.high_hz, points)
    z_ohm = case.z_ohm(f_hz)
    return f_hz, (z_ohm - 50) / (z_ohm + 50) + scatter(np.random.default_rng(seed), points, noise)


def scatter(dice, points, noise):
    return noise / np.sqrt(2) * (dice.standard_normal(points) + 1j * dice.standard_normal(points))


def off(length, dice, low=0.1, high=0.5):
    return dice.uniform(low, high, length) * np.exp(2j * np.pi * dice.random(length))


def find_trust(f_hz, gamma, noise):
    return find_trusts(f_hz, gamma[None], np.full((1, f_hz.size), noise))[0]


def distrusted(f_hz, gamma):
    return np.flatnonzero(find_trust(f_hz, gamma, estimate_noise(gamma)).weights == 0)


@pytest.mark.parametrize("name", NARROW_TABLES)
@pytest.mark.parametrize("length", [1, 2, 5, 12, 30])
@pytest.mark.parametrize("where", ["start", "dip", "end"])
def test_exactly_the_points_of_a_burst_lose_trust(name, length, where):
    """The outermost two points may go with a burst next to them: the curve ends there, nothing tells."""
    f_hz, gamma = curve(name)
    dip = int(np.argmin(np.abs(gamma)))
    start = {"start": 2, "dip": dip - length // 2, "end": 299 - length}[where]
    gamma[start : start + length] += off(length, np.random.default_rng([2, length]))
    found = set(distrusted(f_hz, gamma).tolist())
    true = set(range(start, start + length))
    assert len(true - found) <= 0.1 * length
    assert len(found - true - {0, 1, 299, 300}) <= 1


def test_a_stretch_that_is_off_as_a_block_loses_trust():
    f_hz, gamma = curve()
    gamma[140:165] += 0.2j
    assert set(distrusted(f_hz, gamma).tolist()) == set(range(140, 165))


def test_a_lasting_step_takes_no_trust_and_is_said():
    f_hz, gamma = curve(noise=0.001)
    gamma[200:] += 0.15
    trust = find_trust(f_hz, gamma, estimate_noise(gamma))
    assert trust.weights.all()
    (step,) = trust.stretches
    assert step.kind == "step"
    assert step.size == pytest.approx(0.15, abs=0.02)
    assert 199 <= step.points.mean() <= 201


@pytest.mark.parametrize("width_in_steps", [0.2, 0.5, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("offset", [0.0, 0.25, 0.5])
@pytest.mark.parametrize("points", [101, 201, 801])
def test_a_narrow_dip_on_few_points_keeps_trust(width_in_steps, offset, points):
    """What a narrow whip is in a coarse sweep; then the sweep is said to be too coarse instead."""
    f_hz = np.linspace(13e6, 15e6, points)
    step_hz = f_hz[1] - f_hz[0]
    f0_hz = f_hz[points // 2] + offset * step_hz
    width_hz = width_in_steps * step_hz
    z_ohm = series(40.0, f0_hz / width_hz, f0_hz)(f_hz)
    gamma = (z_ohm - 50) / (z_ohm + 50) + scatter(np.random.default_rng(3), points, NOISE)
    believable = width_hz / f0_hz > 4e-4  # loaded Q below 2500
    if believable:
        assert distrusted(f_hz, gamma).size == 0


def test_a_pair_of_narrow_dips_keeps_trust():
    f_hz = np.linspace(3.5e6, 3.8e6, 101)
    z_ohm = 1 / (1 / series(40.0, 400.0, 3.62e6)(f_hz) + 1 / series(60.0, 400.0, 3.66e6)(f_hz))
    gamma = (z_ohm - 50) / (z_ohm + 50) + scatter(np.random.default_rng(4), 101, NOISE)
    assert distrusted(f_hz, gamma).size == 0


def test_a_burst_that_no_antenna_can_be_is_known_by_its_width_alone():
    """A point that lies lower than its neighbours, in a sweep so dense that a dip would have Q above 5000."""
    f_hz = np.linspace(14.0e6, 14.1e6, 801)
    z_ohm = series(50.0, 20.0, 14.4e6)(f_hz)
    gamma = (z_ohm - 50) / (z_ohm + 50) + scatter(np.random.default_rng(5), 801, 0.001)
    gamma[400] *= 0.6
    assert distrusted(f_hz, gamma).tolist() == [400]


def test_nothing_is_claimed_of_short_or_coarse_sweeps():
    for points, span_hz in ((15, (6.5e6, 7.6e6)), (101, (1e6, 6e6))):
        f_hz = np.linspace(*span_hz, points)
        z_ohm = series(60.0, 15.0, 3.5e6)(f_hz)
        gamma = (z_ohm - 50) / (z_ohm + 50)
        gamma[3] += 0.4
        assert find_trust(f_hz, gamma, NOISE).weights.all()


def test_too_many_to_leave_out_is_jagged():
    f_hz, gamma = curve(noise=0.001)
    dice = np.random.default_rng(6)
    for start in range(10, 290, 25):
        gamma[start : start + 9] += off(9, dice)
    trust = find_trust(f_hz, gamma, 0.001)
    assert trust.jagged
    assert trust.weights.all()


@pytest.mark.parametrize("share", [0.02, 0.05, 0.10])
def test_the_noise_is_blind_to_bursts(share):
    ratios = []
    for seed in range(40):
        f_hz, gamma = curve(NARROW_TABLES[seed % 6], points=201, seed=seed)
        clean = estimate_noise(gamma)
        length, dice = int(share * 201), np.random.default_rng([7, seed])
        start = int(dice.integers(2, 199 - length))
        gamma[start : start + length] += off(length, dice)
        believed = find_trust(f_hz, gamma, estimate_noise(gamma)).weights > 0
        ratios.append(estimate_noise(gamma, believed) / clean)
    assert np.median(ratios) == pytest.approx(1.0, abs=0.02)
    assert np.quantile(ratios, 0.9) < 1.15


def test_magnitudes_that_leap_lose_trust_and_dips_do_not():
    f_hz, gamma = curve("dipole_40m", points=401)
    magnitude = np.abs(gamma)
    assert find_trust_of_magnitude(f_hz, magnitude, NOISE / np.sqrt(2)).weights.all()
    hit = np.arange(150, 162)
    magnitude[hit] = np.abs(gamma[hit] + off(12, np.random.default_rng(8), 0.2, 0.5))
    weights = find_trust_of_magnitude(f_hz, magnitude, estimate_noise(magnitude)).weights
    assert np.count_nonzero(weights[hit] == 0) >= 9
    assert np.count_nonzero(weights == 0) <= 13


def test_a_bridge_spans_what_is_not_believed():
    f_hz = np.linspace(1.0, 2.0, 11)
    weights = np.ones(11)
    weights[4:7] = 0
    values = f_hz + 1j * f_hz
    hit = values.copy()
    hit[4:7] = 9.0
    np.testing.assert_allclose(bridged(f_hz, hit, weights), values)
    assert bridged(f_hz, hit, np.ones(11)) is hit
