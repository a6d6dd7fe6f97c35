"""An ensemble that is kept says at each point what it says without being kept, and is asked once for each."""

import numpy as np
import pytest

from sweepkit.analysis import kept, moebius
from sweepkit.analysis.fits import LocalFit
from sweepkit.analysis.kept import KeptEnsemble
from sweepkit.instrument import Draws, ErrorModel

DRAWS, POINTS = 30, 101


def curves():
    dice = np.random.default_rng(4)
    return dice.standard_normal((DRAWS, POINTS)) + 1j * dice.standard_normal((DRAWS, POINTS))


class Counted:
    """An ensemble that remembers which points it was asked for."""

    def __init__(self):
        self.gamma, self.asked = curves(), []

    def __call__(self, index):
        self.asked += index.tolist()
        return self.gamma[:, index]


@pytest.mark.identity
@pytest.mark.parametrize(
    "index", [np.arange(20, 60), np.arange(3, 99, 4), np.array([7, 8, 30, 31, 90]), np.array([5])]
)
def test_points_and_sums_are_those_of_the_ensemble(index):
    ensemble = KeptEnsemble(Counted(), curves()[0])
    gamma = curves()[:, index]
    np.testing.assert_array_equal(ensemble(index), gamma)
    factors = np.random.default_rng(1).standard_normal((3, index.size))
    parts = np.stack([gamma.real, gamma.imag, np.abs(gamma) ** 2])
    np.testing.assert_allclose(
        ensemble.sums(index, factors), np.einsum("km,pdm->kpd", factors, parts), atol=1e-12
    )


@pytest.mark.identity
@pytest.mark.parametrize("index", [np.arange(20, 60), np.array([7, 8, 30, 31, 90])])
def test_a_turned_ensemble_is_that_of_turned_points(index):
    turn_rad = np.linspace(0, 9, POINTS)
    ensemble = KeptEnsemble(Counted(), curves()[0]).turned(turn_rad)
    gamma = (curves() * np.exp(1j * turn_rad))[:, index]
    np.testing.assert_allclose(ensemble(index), gamma, rtol=1e-14)
    factors = np.random.default_rng(1).standard_normal((3, index.size))
    parts = np.stack([gamma.real, gamma.imag, np.abs(gamma) ** 2])
    np.testing.assert_allclose(
        ensemble.sums(index, factors), np.einsum("km,pdm->kpd", factors, parts), atol=1e-12
    )


def test_a_point_is_computed_once_until_it_is_forgotten():
    counted = Counted()
    ensemble = KeptEnsemble(counted, curves()[0])
    for index in (np.arange(10, 40), np.arange(30, 50), np.arange(10, 40)):
        ensemble(index)
    looked_at = counted.asked[1:]  # the first call asks how many draws there are
    assert len(looked_at) == len(set(looked_at))
    assert max(looked_at) < 64  # what no figure looks at is not computed
    ensemble.forget()
    np.testing.assert_array_equal(ensemble(np.arange(10, 40)), counted.gamma[:, 10:40])


def test_one_that_is_too_large_is_asked_every_time(monkeypatch):
    monkeypatch.setattr(kept, "MOST_VALUES", DRAWS * POINTS)
    counted = Counted()
    ensemble = KeptEnsemble(counted, curves()[0])
    index = np.arange(5, 25)
    for _ in range(2):
        np.testing.assert_array_equal(ensemble(index), counted.gamma[:, index])
    assert ensemble.sums(index, np.ones((3, 20))) is None
    assert counted.asked.count(7) == 2


@pytest.mark.identity
def test_a_fit_by_sums_is_the_fit_of_the_points():
    index = np.arange(10, 50)
    u = np.linspace(-0.2, 0.5, index.size)
    weights = np.random.default_rng(2).uniform(0, 1, index.size)
    model = moebius.Moebius(0.1 + 0.2j, 0.9 - 0.3j, -1.5j)
    exact = moebius.value(model, u)
    gamma = np.zeros((DRAWS, POINTS), dtype=complex)
    gamma[:, index] = exact + 0.01 * curves()[:, index]
    fit = LocalFit(7e6, index, u, weights, model, 1.0, np.zeros(index.size))
    by_points, by_sums = (
        fit.on(each) for each in (lambda k: gamma[:, k], KeptEnsemble(lambda k: gamma[:, k], gamma[0]))
    )
    for one, other in zip(by_points, by_sums, strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-10)


def test_layers_of_cells_make_room_for_one_another(monkeypatch):
    gamma = 0.3 * np.exp(1j * np.linspace(0, 1, 201))
    draws = Draws(gamma, ErrorModel(noise=0.01), n=30, seed=1)
    windows = [np.arange(0, 180), np.arange(20, 160), np.arange(5, 25), np.arange(10, 190)]

    def sums(ensemble):
        return [ensemble.sums(index, np.ones((1, index.size))) for index in (*windows, *windows)]

    ample = sums(KeptEnsemble(draws, gamma, cells=draws.cells))
    monkeypatch.setattr(kept, "MOST_VALUES", 201 * 3 * 31)
    exact = KeptEnsemble(draws, gamma, cells=draws.cells)
    for one, other in zip(ample, sums(exact), strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-12)
    monkeypatch.setattr(kept, "MOST_VALUES", 55 * 3 * 31)  # of cells; points are computed every time
    tight = KeptEnsemble(draws, gamma, cells=draws.cells)
    assert tight.sums(windows[2], np.ones((1, 20))) is None
    for index, one in zip(windows, ample, strict=False):
        if index.size >= 40:
            np.testing.assert_allclose(tight.sums(index, np.ones((1, index.size))), one, rtol=1e-12)
            rows = sum(np.count_nonzero(layer.has) for layer in tight._layers.values())
            assert rows <= 55
