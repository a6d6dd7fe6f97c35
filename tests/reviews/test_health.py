"""Bursts, steps and wrong turning: seeded faults are found, healthy sweeps are left alone."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.findings import Finding
from sweepkit.kit import Kit
from sweepkit.kit.analyzer import Analyzer
from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import NARROW_TABLES, parallel, series, table
from tests.coverage.healthy import FAMILIES, run_healthy

SIZES = pytest.mark.parametrize("trials", [15, pytest.param(60, marks=pytest.mark.slow)])


def reflection(z_ohm):
    return (z_ohm - 50) / (z_ohm + 50)


def sweep_of(name, dice, *, points=201, noise=0.002):
    case = table(name)
    f_hz = np.linspace(case.low_hz, case.high_hz, points)
    gamma = reflection(case.z_ohm(f_hz)) + 0.01 * np.exp(2j * np.pi * dice.random())
    return f_hz, gamma + noise / np.sqrt(2) * (
        dice.standard_normal(points) + 1j * dice.standard_normal(points)
    )


def codes(sweep):
    return {finding.code for finding in review(sweep, draws=0, bands=()).findings}


HEALTH_CODES = {"jagged", "interference", "loose-joint", "wrong-plane"}


@SIZES
def test_healthy_sweeps_raise_nothing(trials):
    raised = []
    for trial in range(trials):
        dice = np.random.default_rng([11, trial])
        name = NARROW_TABLES[trial % len(NARROW_TABLES)]
        points, noise = int(dice.choice([51, 101, 401, 801])), float(dice.choice([0.001, 0.003, 0.01]))
        f_hz, gamma = sweep_of(name, dice, points=points, noise=noise)
        raised += [
            (name, points, noise, code) for code in codes(Sweep.from_gamma(f_hz, gamma)) & HEALTH_CODES
        ]
    assert raised == []


@pytest.mark.parametrize("n", [4, pytest.param(15, marks=pytest.mark.slow)])
@pytest.mark.parametrize("has_phase", [True, False])
def test_coarse_and_wide_sweeps_of_several_dips_raise_nothing(has_phase, n):
    said = run_healthy(n, seed=19, has_phase=has_phase)
    assert {family: dict(codes) for family, codes in said.items()} == {
        family: {"n": n} for family in FAMILIES
    }


# Common practice, no source: a healthy narrow sweep may run anticlockwise about the origin where R is above 50.
@pytest.mark.parametrize("z_ohm", [series(90.0, 12.0, 14.1e6), parallel(120.0, 10.0, 14.2e6)])
def test_a_narrow_sweep_with_high_resistance_turns_the_right_way(z_ohm):
    dice = np.random.default_rng(5)
    f_hz = np.linspace(14.0e6, 14.35e6, 101)
    gamma = reflection(z_ohm(f_hz)) + 0.002 * (dice.standard_normal(101) + 1j * dice.standard_normal(101))
    about_origin = np.angle(gamma[1:] / gamma[:-1]).sum()
    assert "wrong-plane" not in codes(Sweep.from_gamma(f_hz, gamma))
    assert about_origin != 0


@pytest.mark.parametrize("name", NARROW_TABLES)
def test_a_mirrored_phase_turns_the_wrong_way(name):
    f_hz, gamma = sweep_of(name, np.random.default_rng(6))
    assert "wrong-plane" in codes(Sweep.from_gamma(f_hz, gamma.conj()))


def test_a_plane_set_far_beyond_the_connector_turns_the_wrong_way():
    f_hz, gamma = sweep_of("dipole_40m", np.random.default_rng(7))
    assert "wrong-plane" in codes(Sweep.from_gamma(f_hz, gamma * np.exp(2j * np.pi * f_hz * 900e-9)))


def bursts(trial, *, where):
    """A sweep with a burst of 2 to 6 % of its points, and without."""
    dice = np.random.default_rng([12, trial])
    name = NARROW_TABLES[trial % len(NARROW_TABLES)]
    f_hz, gamma = sweep_of(name, dice, points=301, noise=0.002)
    length = int(dice.integers(6, 18))
    start = int(np.clip(where(gamma) - length // 2 + dice.integers(-10, 11), 5, 300 - length - 5))
    hit = gamma.copy()
    hit[start : start + length] += dice.uniform(0.1, 0.5, length) * np.exp(2j * np.pi * dice.random(length))
    return f_hz, gamma, hit


@SIZES
def test_bursts_are_found_and_do_not_move_the_dip(trials):
    found, moved = 0, []
    for trial in range(trials):
        f_hz, clean, hit = bursts(trial, where=lambda gamma: int(np.argmin(np.abs(gamma))))
        true = review(Sweep.from_gamma(f_hz, clean), bands=(), measured_at="feedpoint").feedpoint.dips[0]
        answer = review(Sweep.from_gamma(f_hz, hit), draws=0, bands=(), measured_at="feedpoint")
        dip = answer.feedpoint.dips[0]
        found += "interference" in {finding.code for finding in answer.findings}
        half_width_hz = (true.f_hz.high - true.f_hz.low) / 2
        moved.append(abs(dip.f_hz.value - true.f_hz.value) / half_width_hz)
    assert found >= 0.9 * trials
    assert np.quantile(moved, 0.9) < 1.0  # within the interval of the sweep without the burst


def test_a_burst_is_not_taken_for_a_dip():
    for trial in range(20):
        f_hz, clean, hit = bursts(trial, where=lambda gamma: 40)
        count = [
            len(review(Sweep.from_gamma(f_hz, gamma), draws=0, bands=()).radio.dips) for gamma in (clean, hit)
        ]
        assert count[1] <= count[0] + (trial == 0), trial


@pytest.mark.parametrize("width_in_steps", [0.3, 0.6, 1.0, 1.5, 2.5, 4.0])
@pytest.mark.parametrize("offset", [0.0, 0.3, 0.5])
def test_a_narrow_dip_with_few_points_is_no_burst(width_in_steps, offset):
    dice = np.random.default_rng(8)
    f_hz = np.linspace(3e6, 30e6, 101)
    step_hz = f_hz[1] - f_hz[0]
    f0_hz = f_hz[40] + offset * step_hz
    gamma = reflection(series(35.0, f0_hz / (width_in_steps * step_hz), f0_hz)(f_hz))
    gamma += 0.002 / np.sqrt(2) * (dice.standard_normal(101) + 1j * dice.standard_normal(101))
    answer = review(Sweep.from_gamma(f_hz, gamma), draws=0, bands=())
    assert not {finding.code for finding in answer.findings} & {"interference", "jagged", "loose-joint"}


@SIZES
def test_a_step_inside_a_sweep_is_a_loose_joint(trials):
    found = 0
    for trial in range(trials):
        dice = np.random.default_rng([13, trial])
        f_hz, gamma = sweep_of(NARROW_TABLES[trial % len(NARROW_TABLES)], dice, points=201, noise=0.001)
        at = int(dice.integers(20, 180))
        gamma[at:] += dice.uniform(0.05, 0.3) * np.exp(2j * np.pi * dice.random())
        found += "loose-joint" in codes(Sweep.from_gamma(f_hz, gamma))
    assert found >= 0.8 * trials


def test_single_points_off_are_jagged_and_leave_their_neighbours():
    f_hz, gamma = sweep_of("dipole_40m", np.random.default_rng(15), points=401)
    gamma[[80, 200, 300]] += 0.2j
    answer = review(Sweep.from_gamma(f_hz, gamma), draws=0, bands=())
    (finding,) = [finding for finding in answer.findings if finding.code in HEALTH_CODES]
    assert finding.code == "jagged"
    assert finding.level == "warning"
    assert "3 of 401 points" in finding.text
    assert np.flatnonzero(answer.planes.measured.trust == 0).tolist() == [80, 200, 300]


def test_bursts_do_not_spoil_sweeps_without_phase():
    """Nor are dips of such sweeps taken for bursts: most bursts are left out, no healthy sweep is blamed."""
    said, moved = 0, []
    for trial in range(30):
        f_hz, clean, hit = bursts(trial, where=lambda gamma: int(np.argmin(np.abs(gamma))) + 40)
        known = {"draws": 0, "bands": ()}
        calm, noisy = (review(Sweep.from_magnitude(f_hz, np.abs(gamma)), **known) for gamma in (clean, hit))
        assert not {finding.code for finding in calm.findings} & HEALTH_CODES
        said += "interference" in {finding.code for finding in noisy.findings}
        moved.append(abs(noisy.radio.dips[0].f_hz.value / calm.radio.dips[0].f_hz.value - 1))
    assert said >= 0.6 * 30
    assert np.quantile(moved, 0.7) < 0.001


def full_reflection(dice, *, scale=1.0, noise=0.002, points=201):
    """Far from resonance nearly everything comes back: the hardest case for a limit of 1."""
    f_hz = np.linspace(10e6, 12e6, points)
    z_ohm = series(0.3, 40.0, 20e6)(f_hz)
    scatter = noise / np.sqrt(2) * (dice.standard_normal(points) + 1j * dice.standard_normal(points))
    return f_hz, scale * reflection(z_ohm) + scatter


@pytest.mark.parametrize("noise", [0.0005, 0.003, 0.01])
def test_noise_and_directivity_alone_are_not_above_one(noise):
    for trial in range(40):
        dice = np.random.default_rng([16, trial])
        f_hz, gamma = full_reflection(dice, noise=noise)
        gamma = gamma + 10 ** (-dice.uniform(35, 46) / 20) * np.exp(2j * np.pi * dice.random())
        assert "reflection-above-one" not in codes(Sweep.from_gamma(f_hz, gamma))


def outer_errors(dice, gamma):
    """Tracking and source match of usual sizes, the terms of EURAMET cg-12 v3.0, one each for all points."""
    tracking, match = (
        10 ** (-dice.uniform(30, 40) / 20) * (dice.standard_normal(2) @ [1, 1j]) / np.sqrt(2)
        for _ in range(2)
    )
    return gamma * (1 + tracking) / (1 - match * gamma)


def test_an_ordinary_analyzer_is_seldom_above_one_and_a_good_one_that_is_says_so():
    said, good = 0, Kit(analyzer=Analyzer(directivity_db=40, tracking=0.005, source_match_db=40))
    for trial in range(60):
        dice = np.random.default_rng([19, trial])
        f_hz, gamma = full_reflection(dice, noise=0.001)
        free = 10 ** (-dice.uniform(35, 46) / 20) * np.exp(2j * np.pi * dice.random())
        said += "reflection-above-one" in codes(Sweep.from_gamma(f_hz, free + outer_errors(dice, gamma)))
    assert said <= 2  # a limit without these errors: 4 of 60
    f_hz, gamma = full_reflection(np.random.default_rng(17), scale=1.05)
    sweep = Sweep.from_gamma(f_hz, gamma)
    assert "reflection-above-one" not in codes(sweep)
    assert "reflection-above-one" in {f.code for f in review(sweep, kit=good, draws=0, bands=()).findings}


@pytest.mark.parametrize(("scale", "level"), [(1.08, "warning"), (1.1, "warning"), (1.3, "stop")])
def test_more_than_total_reflection_is_said(scale, level):
    f_hz, gamma = full_reflection(np.random.default_rng(17), scale=scale)
    for sweep in (Sweep.from_gamma(f_hz, gamma), Sweep.from_magnitude(f_hz, np.abs(gamma))):
        found = {f.code: f for f in review(sweep, draws=0, bands=()).findings}
        assert found["reflection-above-one"].level == level
        largest_db = 20 * np.log10(np.abs(gamma).max())
        assert f"up to {largest_db:.2g} dB above total reflection" in found["reflection-above-one"].text


def test_a_reader_that_knows_no_noise_is_overruled():
    f_hz, gamma = full_reflection(np.random.default_rng(18), noise=0.01)
    read = Finding("reflection-above-one", "warning", "up to 0.2 dB above total reflection", "calibrate")
    assert "reflection-above-one" not in codes(Sweep.from_gamma(f_hz, gamma, findings=(read,)))


def test_noise_all_over_stops():
    dice = np.random.default_rng(14)
    f_hz, gamma = sweep_of("dipole_40m", dice, noise=0.001)
    hit = dice.random(f_hz.size) < 0.6
    gamma[hit] += 0.3 * np.exp(2j * np.pi * dice.random(int(hit.sum())))
    found = {
        finding.code: finding.level for finding in review(Sweep.from_gamma(f_hz, gamma), draws=0).findings
    }
    assert found["jagged"] == "stop"
