"""Cells of points: their noise is that of their points, and what fits rest on them says what fits on points say."""

import numpy as np
import pytest

from sweepkit.analysis import moebius
from sweepkit.analysis.cells import LEAST_CELLS, Cells
from sweepkit.analysis.dips import fit_dip
from sweepkit.analysis.kept import KeptEnsemble
from sweepkit.analysis.windows import Measured
from sweepkit.instrument import Draws, ErrorModel
from tests.coverage.antennas import series

STILL = {"directivity": 0.0, "tracking": 0.0, "source_match": 0.0}


@pytest.mark.identity
@pytest.mark.parametrize("points", [15, 39, 40, 100, 201, 1001])
def test_the_noise_of_a_cell_is_the_mean_of_that_of_its_points(points):
    drawn = Draws(np.zeros(points, complex), ErrorModel(noise=0.01, **STILL), n=20, seed=3)
    cells = drawn.cells
    noise = drawn.at(np.arange(points))
    for level in range(1, cells.top + 1):
        whole = points >> level
        of_cells = drawn.at(cells.starts[level] + np.arange(whole))
        means = noise[:, : whole << level].reshape(21, whole, -1).mean(axis=2)
        np.testing.assert_allclose(of_cells, means, atol=1e-8)  # single precision
    assert points < 2 * LEAST_CELLS or cells.top > 0


@pytest.mark.identity
def test_means_are_taken_over_the_points_there_are():
    cells = Cells(11, top=2)
    np.testing.assert_allclose(
        cells.means(np.arange(11.0)),
        [*range(11), 0.5, 2.5, 4.5, 6.5, 8.5, 10, 1.5, 5.5, 9],
    )
    np.testing.assert_allclose(cells.noise(np.ones(11))[[0, 11, 16, 17]], [1, 0.5**0.5, 0.5**0.5, 0.5])
    assert [cells.layer(k) for k in (3, 12, 18, 20 + 18)] == [(0, 11), (11, 6), (17, 3), (37, 3)]


@pytest.mark.parametrize("step", [1, 2, 3, 7])
def test_sums_over_cells_are_those_over_points(step):
    cells = Cells.over(4001)
    dice = np.random.default_rng(step)
    noise, where = cells.noise(np.ones(4001)), cells.means(np.arange(4001.0))
    for _ in range(50):
        size = int(dice.integers(200, 400)) if step > 1 else int(dice.integers(2 * LEAST_CELLS, 400))
        index = dice.integers(0, 4000 - size * step) + step * np.arange(size)
        v = np.linspace(-1, 1, size)
        weights = 1 / (1 + (dice.uniform(0, 2) * v - dice.uniform(-1, 1)) ** 2)
        factors = np.stack([weights, weights * v, weights * v * v])
        held = cells.gathered(index, factors)
        layer, place = np.divmod(held.cells, cells.size)
        assert LEAST_CELLS <= held.cells.size <= 2 * LEAST_CELLS + 2
        assert (layer == step - 1).all()
        np.testing.assert_allclose(held.factors.sum(axis=1), factors.sum(axis=1), rtol=1e-12)
        power = np.square(held.factors * noise[place]).sum(axis=1) * step
        np.testing.assert_allclose(power, np.square(factors).sum(axis=1), rtol=0.05)
        smooth = np.exp(1j * 1.5 * (where - where[place].mean()) / (size * step / 2))
        off = held.factors @ smooth[place] - factors @ smooth[index]
        assert (np.abs(off) < 0.01 * np.abs(factors).sum(axis=1)).all()


def test_points_stay_by_themselves_where_they_are_few_or_uneven():
    cells = Cells.over(401)
    for index in (np.arange(2 * LEAST_CELLS - 1), np.array([0, 1, 2, 4]), np.delete(np.arange(100), 50)):
        held = cells.gathered(index, np.ones((3, index.size)))
        np.testing.assert_array_equal(held.cells, index)


FIGURES = (
    lambda model: moebius.smallest_magnitude(model),
    lambda model: np.abs(moebius.value(model, moebius.smallest_magnitude(model))),
    lambda model: moebius.magnitude_crossings(model, 1 / 3).max(axis=1),
    lambda model: moebius.loaded_half_width(model),
)


def fitted(points, noise, n):
    """A fit round a dip by cells and by points, on every draw."""
    f_hz = np.linspace(6.8e6, 7.4e6, points)
    z_ohm = series(62, 12, 7.07e6)(f_hz)
    dice = np.random.default_rng(7)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    gamma = gamma + noise * dice.standard_normal((points, 2)).view(complex)[:, 0] / np.sqrt(2)
    draws = Draws(gamma, ErrorModel(noise=noise), n=n, seed=1, f_hz=f_hz)
    curve = Measured(f_hz, gamma, np.ones(points), np.full(points, noise))
    fit = fit_dip(curve, (int(np.argmin(np.abs(gamma))), 0, points - 1)).fit
    return fit.on(KeptEnsemble(draws, gamma, cells=draws.cells)), fit.on(draws)


@pytest.mark.parametrize(("points", "noise"), [(101, 0.001), (201, 0.005), (401, 0.002)])
def test_a_fit_on_cells_says_on_every_draw_what_one_on_points_says(points, noise):
    by_cells, by_points = fitted(points, noise, 400)
    for figure in FIGURES:
        one, other = figure(by_cells), figure(by_points)
        assert one[0] == pytest.approx(other[0], rel=1e-9)
        assert np.std(one - other) < 0.1 * np.std(other)
        assert np.std(one) == pytest.approx(np.std(other), rel=0.02)


def test_where_a_fit_rests_on_every_second_point_cells_have_the_noise_of_those():
    by_cells, by_points = fitted(1001, 0.02, 4000)  # so much that the analyzer's errors are little beside it
    for figure in FIGURES:
        one, other = figure(by_cells), figure(by_points)
        assert one[0] == pytest.approx(other[0], rel=1e-9)
        assert np.std(one) == pytest.approx(np.std(other), rel=0.05)


def test_points_on_both_sides_of_a_gap_make_no_cell():
    bands = np.concatenate([np.linspace(6.9e6, 7.3e6, 101), np.linspace(13.9e6, 14.4e6, 101)])
    for f_hz, has_cells in ((bands, False), (np.geomspace(1e6, 60e6, 202), True)):
        draws = Draws(np.zeros(202, complex), ErrorModel(noise=0.01), n=5, seed=1, f_hz=f_hz)
        assert (draws.cells.top > 0) == has_cells


@pytest.mark.parametrize(("delay_s", "top"), [(0.0, 4), (150e-9, 1), (2e-6, 0)])
def test_a_curve_that_turns_inside_a_cell_has_smaller_ones(delay_s, top):
    f_hz = np.linspace(1e6, 60e6, 401)
    gamma = 0.8 * np.exp(-2j * np.pi * f_hz * delay_s)
    assert Draws(gamma, ErrorModel(noise=0.001), n=5, seed=1, f_hz=f_hz).cells.top == top
