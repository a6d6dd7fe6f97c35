"""The ensemble: reproducible whatever is asked for, in short and in very long sweeps, and of the size it was told."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sweepkit.instrument import LONG_SWEEP_POINTS, TURN_HZ, Draws, ErrorModel, draw_error, error_waves
from sweepkit.kit.analyzer import rms_of


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
    f_hz = np.linspace(6e6, 8e6, points)
    together = Draws(gamma, model, n=7, seed=seed, f_hz=f_hz).at(index)
    again = Draws(gamma, model, n=7, seed=seed, f_hz=f_hz)
    one_by_one = [again.at(index[k : k + 1])[:, 0] for k in range(index.size)][::-1]
    np.testing.assert_allclose(together, np.stack(one_by_one[::-1], axis=1), rtol=0, atol=1e-14)
    np.testing.assert_array_equal(together[0], gamma[index])


def test_another_seed_is_another_ensemble():
    gamma = np.full(50, 0.2 + 0.1j)
    model = ErrorModel(noise=0.003)  # the other errors of an ordinary analyzer
    one, other = (Draws(gamma, model, n=10, seed=seed).at(np.arange(50)) for seed in (1, 2))
    assert np.abs(one[1:] - other[1:]).min() > 0


def test_no_draws_is_the_measured_curve_alone():
    gamma = np.full(9, 0.2 + 0.1j)
    alone = Draws(gamma, ErrorModel(noise=0.003), n=0, seed=1).at(np.array([2, 3]))
    np.testing.assert_array_equal(alone, [[0.2 + 0.1j] * 2])


def test_noise_is_new_at_every_point_and_on_every_draw():
    for points in (300, LONG_SWEEP_POINTS + 1):
        model = ErrorModel(directivity=0.0, noise=0.004, tracking=0.0, source_match=0.0)
        off = Draws(np.zeros(points, complex), model, n=500, seed=3).at(np.arange(100, 300, 2))[1:]
        assert np.sqrt(np.mean(np.abs(off) ** 2)) == pytest.approx(0.004, rel=0.02)
        assert np.var(off.real) == pytest.approx(np.var(off.imag), rel=0.05)
        along = np.mean(off[:, 1:] * off[:, :-1].conj()) / 0.004**2
        across = np.mean(off[1:] * off[:-1].conj()) / 0.004**2
        assert max(abs(along), abs(across)) < 0.02


# Source: JCGM 101:2008, 6.4.9: what is known from a sample has the spread of Student's t, sqrt(v/(v - 2)) wider.
@pytest.mark.derived
def test_an_estimated_noise_has_the_tails_of_students_t():
    model = ErrorModel(directivity=0.0, noise=0.004, tracking=0.0, source_match=0.0, noise_freedom=10)
    off = Draws(np.zeros(400, complex), model, n=4000, seed=3).at(np.arange(40))[1:]
    assert np.sqrt(np.mean(np.abs(off) ** 2)) == pytest.approx(0.004 * np.sqrt(10 / 8), rel=0.03)
    size = np.sqrt(np.mean(np.abs(off) ** 2, axis=1))
    assert np.std(size) > 0.1 * np.mean(size), "one draw is noisier than another, all along the sweep"


# The measured reflection of a true one is D + G (1 + T) / (1 - M G), cg-12: the draws undo it.
@pytest.mark.identity
def test_draws_undo_the_error_model():
    measured = np.array([0.3 + 0.2j, -0.5j, 0.9 + 0.0j])
    sizes, f_hz = (0.02, 0.03, 0.04), np.array([7e6, 7.1e6, 29e6])
    model = ErrorModel(directivity=sizes[0], tracking=sizes[1], source_match=sizes[2])
    free = Draws(measured, model, n=4000, seed=4, f_hz=f_hz).at(np.arange(3))[1:]
    dice = np.random.default_rng([4, 0])  # the ensemble's own stream
    d, t, m = (draw_error(dice, size, 4000) @ error_waves(f_hz) for size in sizes)
    np.testing.assert_allclose(d + free * (1 + t) / (1 - m * free), np.tile(measured, (4000, 1)), atol=1e-12)
    for error, size in zip((d, t, m), sizes, strict=True):
        np.testing.assert_allclose(np.sqrt(np.mean(np.abs(error) ** 2, axis=0)), size, rtol=0.05)


# Correlation over a difference d of frequency: exp(-(d/TURN_HZ)²/2), exact to the order of the quadrature.
@pytest.mark.identity
@pytest.mark.parametrize("apart", [0.0, 0.02, 0.5, 1.0])
def test_errors_drift_slowly_along_frequency(apart):
    error = draw_error(np.random.default_rng(2), 0.01, 40_000) @ error_waves(
        np.array([14e6, 14e6 + apart * TURN_HZ])
    )
    along = np.mean(error[:, 0] * error[:, 1].conj()) / 0.01**2
    assert along == pytest.approx(np.exp(-(apart**2) / 2), abs=0.03)


def test_an_untold_size_is_anything_in_its_range():
    error = np.abs(draw_error(np.random.default_rng(5), (0.005, 0.018), 40_000) @ error_waves(np.zeros(1)))
    assert np.sqrt(np.mean(error**2)) == pytest.approx(rms_of((0.005, 0.018)), rel=0.02)
    assert rms_of((0.005, 0.018)) == pytest.approx(0.0108, abs=1e-4)
    assert rms_of(0.01) == 0.01


@pytest.mark.parametrize("freedom", [0.0, -1.0])
def test_a_noise_without_freedom_is_refused(freedom):
    with pytest.raises(ValueError, match=f"noise_freedom is {freedom}; it must be above 0"):
        ErrorModel(noise_freedom=freedom)
