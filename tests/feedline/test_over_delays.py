"""The transform over delay and the delay fit: the same sums as the plain ones, in memory that grows with the points."""

import tracemalloc

import numpy as np
import pytest

from sweepkit.feedline import delay_fits
from sweepkit.feedline.delay_fits import fit_all_delays
from sweepkit.feedline.likely import guess_line, main_echo_s
from sweepkit.feedline.over_delays import sum_over_delays


def grids(points):
    even = np.linspace(1e6, 30e6, points)
    chance = np.sort(np.random.default_rng(points).uniform(1e6, 30e6, points))
    return {
        "even": even,
        "whole kHz": np.round(even, -3),
        "steps that grow": np.geomspace(1e6, 30e6, points),
        "chance": chance,
    }


def whip_behind_line(f_hz):
    z_ohm = 36 + 1j * 350 * (f_hz / 14e6 - 14e6 / f_hz)
    return (z_ohm - 50) / (z_ohm + 50) * 0.9 * np.exp(-2j * np.pi * f_hz * 150e-9)


@pytest.mark.identity
@pytest.mark.parametrize("grid", ["even", "whole kHz", "steps that grow", "chance"])
@pytest.mark.parametrize(
    ("points", "first", "count"), [(15, -5, 20), (201, -5, 1500), (401, 7, 3), (64, 0, 1)]
)
def test_sums_are_those_of_the_plain_matrix(grid, points, first, count):
    f_hz = grids(points)[grid]
    values = whip_behind_line(f_hz)
    turns = (f_hz - f_hz[0]) / (f_hz[-1] - f_hz[0]) / 10
    plain = np.exp(2j * np.pi * np.outer(first + np.arange(count), turns)) @ values
    fast = sum_over_delays(turns, values, first, count)
    np.testing.assert_allclose(fast, plain, rtol=0, atol=1e-11 * np.abs(values).sum())


@pytest.mark.identity
@pytest.mark.parametrize("grid", ["even", "steps that grow", "chance"])
def test_the_main_echo_is_that_of_the_plain_matrix(grid):
    f_hz = grids(301)[grid]
    gamma = whip_behind_line(f_hz)
    step_s = 0.1 / (f_hz[-1] - f_hz[0])
    trials_s = np.arange(-5 * step_s, 1e-6, step_s)
    weight = np.hanning(f_hz.size + 2)[1:-1] * np.gradient(f_hz)
    size = np.abs(np.exp(2j * np.pi * np.outer(trials_s, f_hz - f_hz[0])) @ (weight * gamma))
    plain_s = delay_fits.vertex(trials_s, -size)
    assert main_echo_s(f_hz, gamma, 1e-6) == pytest.approx(plain_s, rel=1e-9)


@pytest.mark.identity
def test_the_delay_fit_in_blocks_is_the_fit_of_all_at_once(monkeypatch):
    f_hz = np.linspace(13e6, 15e6, 401)
    gamma = whip_behind_line(f_hz)
    ((whole, *_),) = fit_all_delays(f_hz, gamma[None], 1e-6)
    monkeypatch.setattr(delay_fits, "BLOCK_VALUES", 1000)
    ((parts, *_),) = fit_all_delays(f_hz, gamma[None], 1e-6)
    for name in ("delay_s", "gain", "hides_s", "width", "detuned"):
        assert getattr(parts, name) == pytest.approx(getattr(whole, name), rel=1e-9)


def narrow_sweeps():
    """Resonators in sweeps round one band, with and without a line, quiet and noisy."""
    dice = np.random.default_rng(11)
    for k in range(60):
        middle_hz, points = dice.choice([3.6e6, 7.1e6, 14.2e6]), int(dice.choice([51, 201]))
        f_hz = middle_hz * np.linspace(0.96, 1.04, points)
        u = f_hz / middle_hz / 1.01 - 1.01 * middle_hz / f_hz
        z_ohm = dice.uniform(15, 110) * (1 + 1j * dice.uniform(8, 60) * u)
        gamma = (z_ohm - 50) / (z_ohm + 50) * np.exp(-2j * np.pi * f_hz * dice.uniform(0, 400e-9) * (k % 2))
        yield f_hz, gamma + 0.002 * (dice.standard_normal(points) + 1j * dice.standard_normal(points))


@pytest.mark.identity
def test_delays_that_are_left_out_change_no_fit(monkeypatch):
    found = [fit_all_delays(f_hz, gamma[None], 1e-6)[0] for f_hz, gamma in narrow_sweeps()]
    monkeypatch.setattr(delay_fits, "MOST_APART", 1)
    every = [fit_all_delays(f_hz, gamma[None], 1e-6)[0] for f_hz, gamma in narrow_sweeps()]
    assert sum(map(len, every)) > 30
    for some, whole in zip(found, every, strict=True):
        assert len(some) == len(whole)
        for one, other in zip(some, whole, strict=True):
            for name in ("delay_s", "gain", "hides_s", "width", "detuned"):
                assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-9)


def peak_bytes(points, grid):
    f_hz = grids(points)[grid]
    gamma = whip_behind_line(f_hz)
    tracemalloc.start()
    try:
        guess_line(f_hz, gamma)
        main_echo_s(f_hz, gamma, 1 / float(np.diff(f_hz).max()))
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("grid", ["even", "steps that grow"])
def test_memory_of_the_guess_grows_with_the_points_and_no_faster(grid):
    """Sizes of the transform are powers of two: from 4096 to 32 768 points they grow by exactly eight."""
    small, large = peak_bytes(4096, grid), peak_bytes(32_768, grid)
    assert large < 10 * small
    assert large < 1500 * 32_768  # bytes; the plain matrix takes 160 for each pair of point and point
