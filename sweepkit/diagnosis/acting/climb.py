"""From rough guesses of what a story leaves open to the best ones near them: damped least squares, all at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray

Predict = Callable[[FloatArray], ComplexArray]  # (members, parameters) -> (members, n)
STEP = 1e-4  # of a standard normal parameter, for slopes by differences
STEPS = 10
LONGEST = 2.0  # move of a parameter in one step
ENOUGH = 0.1  # gain of half the sum of squares below which a climb ends


@dataclass(frozen=True, eq=False)
class Peak:
    """A best guess: the parameters, what is left over and its slopes, shape (p,), (n,), (n, p)."""

    theta: FloatArray
    left: ComplexArray
    slopes: ComplexArray


def climb(predict: Predict, now: ComplexArray, whiten: ComplexArray, starts: FloatArray) -> list[Peak]:
    """The best guess near each start; parameters are standard normal before anything is seen.

    Parameters
    ----------
    predict : callable
        Reflection of every member of a batch of parameters.
    now : complex array, shape (n,)
        What was swept. [-]
    whiten : complex array, shape (n, n)
        Makes what is left over white, of variance 1 in each part.
    starts : float array, shape (starts, p)
        Rough guesses.
    """
    count, p = starts.shape
    theta = starts.copy()
    damping = np.full(count, 1e-2)
    left, slopes = _left(predict, now, theta)
    cost = _cost(whiten, left, theta)
    for _ in range(STEPS):
        j = _real(whiten @ slopes)
        r = _real((left @ whiten.T)[..., None])[..., 0]
        curve = np.swapaxes(j, 1, 2) @ j + np.eye(p)
        curve += damping[:, None, None] * curve * np.eye(p)
        move = np.linalg.solve(curve, ((np.swapaxes(j, 1, 2) @ r[..., None])[..., 0] - theta)[..., None])[
            ..., 0
        ]
        trial = theta + move * np.minimum(1.0, LONGEST / np.maximum(np.abs(move).max(axis=1), 1e-12))[:, None]
        trial_left, trial_slopes = _left(predict, now, trial)
        trial_cost = _cost(whiten, trial_left, trial)
        better = trial_cost < cost
        gain = np.where(better, cost - trial_cost, 0.0)
        theta, cost = np.where(better[:, None], trial, theta), np.where(better, trial_cost, cost)
        left = np.where(better[:, None], trial_left, left)
        slopes = np.where(better[:, None, None], trial_slopes, slopes)
        damping = np.where(better, damping / 5, damping * 10)
        if gain.max() < ENOUGH and (better.all() or damping.min() > 1e3):
            break
    return [Peak(theta[k], left[k], slopes[k]) for k in range(count)]


def _left(predict: Predict, now: ComplexArray, theta: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """What is left over, and how the prediction answers to each parameter."""
    count, p = theta.shape
    moved = np.concatenate([np.zeros((1, p)), STEP * np.eye(p)])
    batch = (theta[:, None, :] + moved[None]).reshape(-1, p)
    predicted = predict(batch).reshape(count, p + 1, now.size)
    slopes = (predicted[:, 1:] - predicted[:, :1]) / STEP
    return now - predicted[:, 0], np.swapaxes(slopes, 1, 2)


def _cost(whiten: ComplexArray, left: ComplexArray, theta: FloatArray) -> FloatArray:
    white = left @ whiten.T
    cost = np.sum(np.abs(white) ** 2, axis=1) + np.sum(theta**2, axis=1)
    return np.where(np.isfinite(cost), cost, np.inf)


def _real(values: ComplexArray) -> FloatArray:
    """Real and imaginary part one after the other along the second axis."""
    return np.concatenate([values.real, values.imag], axis=1)
