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
ENOUGH = 2.0  # gain of the sum of squares below which a climb ends; the evidence follows what is left of it
LOOK_AFTER = 2  # steps before a guess that stays behind is given up
AHEAD = 4.0  # gains like the last one that a guess is still given: steps of a climb gain less and less
HOPELESS = 1e4  # damping from which on no step leads on


@dataclass(frozen=True, eq=False)
class Peak:
    """A best guess: the parameters, what is left over and its slopes, shape (p,), (n,), (n, p), and the sum of squares
    of the first two, what is left white."""

    theta: FloatArray
    left: ComplexArray
    slopes: ComplexArray
    cost: float
    start: int  # which of the starts it was climbed from


def climb(
    predict: Predict,
    now: ComplexArray,
    whiten: ComplexArray,
    starts: FloatArray,
    *,
    fixed: int = 0,
    lowest: float = np.inf,
    reach: float = np.inf,
) -> list[Peak]:
    """The best guess near each start, shape (starts, p + fixed); parameters are standard normal before anything is
    seen, but for the last, ``fixed`` in number, which each start keeps.

    ``predict`` gives the reflection of every member of a batch; ``whiten``, shape (n, n), makes what is left over
    white, of variance 1 in each part. ``lowest``: sum of squares that another story has; a guess that gains too little
    to come within ``reach`` of it, or of the best guess here, is given up.
    """
    free = starts.shape[1] - fixed
    theta, kept = starts[:, :free].copy(), starts[:, free:]
    damping = np.full(starts.shape[0], 1e-2)
    left, slopes, white, cost = _seen(predict, now, whiten, theta, kept)
    going = np.isfinite(cost)
    for step in range(STEPS):
        at = np.flatnonzero(going)
        if not at.size:
            break
        move, promised = _step(white[at], theta[at], damping[at])
        leads_on = promised > ENOUGH
        going[at] = leads_on
        last, rest = at[~leads_on], move[~leads_on]  # the last bit of the way, along the slopes
        theta[last] += rest
        left[last] -= (slopes[last] @ rest[..., None])[..., 0]
        cost[last] -= promised[~leads_on]
        at, move, promised = at[leads_on], move[leads_on], promised[leads_on]
        if not at.size:
            break
        trial = theta[at] + move
        *seen, trial_cost = _seen(predict, now, whiten, trial, kept[at])
        gain = cost[at] - trial_cost
        better = gain > 0
        damping[at] = np.where(better, damping[at] / 5, damping[at] * 10)
        moved = at[better]
        theta[moved] = trial[better]
        left[moved], slopes[moved], white[moved] = (part[better] for part in seen)
        cost[moved] -= gain[better]
        gains = np.where(better, gain, promised)
        going[at] = (gains > ENOUGH) & (damping[at] < HOPELESS)
        if step >= LOOK_AFTER:
            near = min(lowest, float(cost.min())) + reach
            going[at] &= cost[at] - AHEAD * gains <= near
    counts = cost <= cost.min() + reach
    return [Peak(theta[k], left[k], slopes[k], float(cost[k]), int(k)) for k in np.flatnonzero(counts)]


def _seen(
    predict: Predict, now: ComplexArray, whiten: ComplexArray, theta: FloatArray, kept: FloatArray
) -> tuple[ComplexArray, ComplexArray, FloatArray, FloatArray]:
    """What is left over and its slopes, both white and real, shape (members, 2 n, 1 + p), and the sum of squares."""
    here, slopes = slopes_of(predict, theta, kept)
    left = now - here
    both = whiten @ np.concatenate([left[..., None], slopes], axis=2)
    white = np.concatenate([both.real, both.imag], axis=1)
    cost = np.sum(white[..., 0] ** 2, axis=1) + np.sum(theta**2, axis=1)
    return left, slopes, white, np.where(np.isfinite(cost), cost, np.inf)


def _step(white: FloatArray, theta: FloatArray, damping: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where each member goes next, and what it gains there if the story is linear."""
    r, j = white[..., 0], white[..., 1:]
    curve = np.swapaxes(j, 1, 2) @ j + np.eye(theta.shape[1])
    downhill = (np.swapaxes(j, 1, 2) @ r[..., None])[..., 0] - theta
    damped = curve + damping[:, None, None] * curve * np.eye(theta.shape[1])
    move = np.linalg.solve(damped, downhill[..., None])[..., 0]
    move = move * np.minimum(1.0, LONGEST / np.maximum(np.abs(move).max(axis=1), 1e-12))[:, None]
    bent = (curve @ move[..., None])[..., 0]
    return move, np.asarray(np.sum(move * (2 * downhill - bent), axis=1))


def slopes_of(predict: Predict, theta: FloatArray, kept: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """The prediction at ``theta``, shape (members, n), and how it answers to each parameter, (members, n, p).

    ``kept``, shape (members, fixed), comes after ``theta``.
    """
    count, p = theta.shape
    steps = np.concatenate([np.zeros((1, p)), STEP * np.eye(p)])
    tried = np.dstack([theta[:, None, :] + steps, np.repeat(kept[:, None, :], p + 1, axis=1)])
    ahead = predict(tried.reshape(count * (p + 1), -1)).reshape(count, p + 1, -1)
    here = ahead[:, 0]
    return here, np.swapaxes((ahead[:, 1:] - here[:, None, :]) / STEP, 1, 2)
