"""Where a story is climbed from: of all rough guesses those that leave least, seen on some of the points."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.climb import Predict
from sweepkit.diagnosis.acting.healthy import Condition

KEPT_STARTS = 3
FEW_STARTS = 25  # with so few all lie in reach of the best
FAR = 1.0  # healthy ways that far off, in standard deviations, are a place of their own to climb from


class Starts:
    """Ranks rough guesses by what each leaves of a sweep, one point of ``every`` so many, once healthy ways have taken
    their part; ``bands`` of them tell as much as one, ``healthy`` is where these explain most with nothing wrong."""

    def __init__(
        self,
        now: ComplexArray,
        conditions: Sequence[Condition],
        *,
        every: int,
        bands: float,
        healthy: FloatArray,
    ) -> None:
        self.now = now[::every]
        loosest = conditions[find_loosest(conditions)].covariance[::every, ::every]
        self.whiten = np.sqrt(2 / bands) * np.linalg.inv(np.linalg.cholesky(loosest))
        self.ways = conditions[0].sigmas.size
        self.healthy = healthy

    def begin(self, predict: Predict, own: FloatArray) -> tuple[FloatArray, float]:
        """Guesses to climb from, healthy ways first, and the least that is left over there.

        ``own``, shape (starts, p): of the story's own parameters.
        """
        if own.shape[0] > KEPT_STARTS:
            return self._best(predict, own)
        full = from_one(own, self.ways) if own.shape[0] == 1 else _with_healthy(np.zeros(self.ways), own)
        return full, float(np.min(self._cost(predict, full)))

    def _best(self, predict: Predict, own: FloatArray) -> tuple[FloatArray, float]:
        """From healthy ways as they were, or from where they explain most with nothing wrong."""
        tried: list[tuple[FloatArray, FloatArray]] = []
        for h in (np.zeros(self.ways), self.healthy):
            if not tried or np.abs(h).max() > FAR:
                full = _with_healthy(h, own)
                tried.append((full, self._cost(predict, full)))
        full = np.concatenate([full for full, _ in tried])
        costs = np.concatenate([cost for _, cost in tried])
        return full[_apart(full[:, self.ways :], costs)], float(costs.min())

    def _cost(self, predict: Predict, full: FloatArray) -> FloatArray:
        """Of each start after one step of its healthy ways."""
        white = (self.now - predict(full)) @ self.whiten.T
        r = np.concatenate([white.real, white.imag], axis=1)
        left = np.sum(r**2, axis=1)
        healthy = np.tile(full[int(np.argmin(left))], (self.ways + 1, 1))
        healthy[1:, : self.ways] += 1e-3 * np.eye(self.ways)
        moved = predict(healthy)
        slopes = ((moved[1:] - moved[0]) / 1e-3) @ self.whiten.T
        j = np.concatenate([slopes.real, slopes.imag], axis=1).T
        inner = np.linalg.inv(j.T @ j + np.eye(self.ways))
        downhill = r @ j - full[:, : self.ways]
        cost = left - np.sum((downhill @ inner) * downhill, axis=1) + np.sum(full**2, axis=1)
        return np.where(np.isfinite(cost), cost, np.inf)


def find_loosest(conditions: Sequence[Condition]) -> int:
    """Which of them allows most."""
    return int(np.argmax([np.trace(one.covariance).real for one in conditions]))


def from_one(own: FloatArray, ways: int) -> FloatArray:
    """Guesses from one of a story's own parameters: a dip that has slid by its width is out of reach of its slope."""
    full = np.repeat(_with_healthy(np.zeros(ways), own), 3, axis=0)
    full[1:, 0] = (1.0, -1.0)
    return full


def _with_healthy(h: FloatArray, own: FloatArray) -> FloatArray:
    return np.concatenate([np.tile(h, (own.shape[0], 1)), own], axis=1)


def _apart(own: FloatArray, cost: FloatArray) -> list[int]:
    """The cheapest starts of which no two are neighbours in the first parameter."""
    kept: list[int] = []
    first = own[:, 0]
    values = np.unique(first)
    near = 1.5 * float(np.max(np.diff(values), initial=0.0)) if values.size > 6 else 0.0
    for k in np.argsort(cost):
        if all(abs(first[k] - first[other]) > near or (near == 0.0 and k != other) for other in kept):
            kept.append(int(k))
        if len(kept) == (KEPT_STARTS if cost.size > FEW_STARTS else 1):
            break
    return kept
