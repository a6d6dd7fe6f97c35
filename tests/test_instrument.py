"""The ensemble: reproducible whatever is asked for, in short and in very long sweeps, and of the size it was told."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweepkit.instrument import LONG_SWEEP_POINTS, Draws, ErrorModel


@settings(deadline=None, max_examples=30)
@given(
    points=st.sampled_from([5, 129, 400, LONG_SWEEP_POINTS, LONG_SWEEP_POINTS + 1]),
    picks=st.lists(st.floats(0, 0.999), min_size=1, max_size=12),
    seed=st.integers(0, 5),
)
def test_a_point_has_the_same_draws_whenever_and_with_whatever_it_is_asked_for(points, picks, seed):
    gamma = np.linspace(0.1, 0.6, points) * np.exp(1j * np.linspace(0, 3, points))
    model = ErrorModel(0.01, noise=0.004, tracking=0.01, source_match=0.02, noise_freedom=30)
    index = np.array([int(pick * points) for pick in picks])
    together = Draws(gamma, model, n=7, seed=seed).at(index)
    again = Draws(gamma, model, n=7, seed=seed)
    one_by_one = [again.at(index[k : k + 1])[:, 0] for k in range(index.size)][::-1]
    np.testing.assert_array_equal(together, np.stack(one_by_one[::-1], axis=1))
    np.testing.assert_array_equal(together[0], gamma[index])


def test_another_seed_is_another_ensemble():
    gamma = np.full(50, 0.2 + 0.1j)
    model = ErrorModel(noise=0.003)
    one, other = (Draws(gamma, model, n=10, seed=seed).at(np.arange(50)) for seed in (1, 2))
    assert np.abs(one[1:] - other[1:]).min() > 0


def test_no_draws_is_the_measured_curve_alone():
    gamma = np.full(9, 0.2 + 0.1j)
    alone = Draws(gamma, ErrorModel(noise=0.003), n=0, seed=1).at(np.array([2, 3]))
    np.testing.assert_array_equal(alone, [[0.2 + 0.1j] * 2])


def test_noise_is_new_at_every_point_and_on_every_draw():
    for points in (300, LONG_SWEEP_POINTS + 1):
        model = ErrorModel(directivity=0.0, noise=0.004)
        off = Draws(np.zeros(points, complex), model, n=500, seed=3).at(np.arange(100, 300, 2))[1:]
        assert np.sqrt(np.mean(np.abs(off) ** 2)) == pytest.approx(0.004, rel=0.02)
        assert np.var(off.real) == pytest.approx(np.var(off.imag), rel=0.05)
        along = np.mean(off[:, 1:] * off[:, :-1].conj()) / 0.004**2
        across = np.mean(off[1:] * off[:-1].conj()) / 0.004**2
        assert max(abs(along), abs(across)) < 0.02


# Source: JCGM 101:2008, 6.4.9: what is known from a sample has the spread of Student's t, sqrt(v/(v - 2)) wider.
@pytest.mark.published
def test_an_estimated_noise_has_the_tails_of_students_t():
    model = ErrorModel(directivity=0.0, noise=0.004, noise_freedom=10)
    off = Draws(np.zeros(400, complex), model, n=4000, seed=3).at(np.arange(40))[1:]
    assert np.sqrt(np.mean(np.abs(off) ** 2)) == pytest.approx(0.004 * np.sqrt(10 / 8), rel=0.03)
    size = np.sqrt(np.mean(np.abs(off) ** 2, axis=1))
    assert np.std(size) > 0.1 * np.mean(size), "one draw is noisier than another, all along the sweep"


# The measured reflection of a true one is D + G (1 + T) / (1 - M G), cg-12: the draws undo it.
@pytest.mark.identity
def test_draws_undo_the_error_model():
    measured = np.array([0.3 + 0.2j, -0.5j, 0.9 + 0.0j])
    model = ErrorModel(directivity=0.02, tracking=0.03, source_match=0.04)
    draws = Draws(measured, model, n=200, seed=4)
    free = draws.at(np.arange(3))[1:]
    d, t, m = (draws._directivity, draws._tracking, draws._source_match)
    np.testing.assert_allclose(np.abs(np.hstack([d, t, m])), [[0.02, 0.03, 0.04]] * 200)
    np.testing.assert_allclose(d + free * (1 + t) / (1 - m * free), np.tile(measured, (200, 1)), atol=1e-12)


@pytest.mark.parametrize("freedom", [0.0, -1.0])
def test_a_noise_without_freedom_is_refused(freedom):
    with pytest.raises(ValueError, match=f"noise_freedom is {freedom}; it must be above 0"):
        ErrorModel(noise_freedom=freedom)
