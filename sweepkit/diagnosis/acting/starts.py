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

    def begin(
        self, predict: Predict, owns: Sequence[FloatArray], *, fixed: int = 0
    ) -> list[tuple[FloatArray, float]]:
        """Of each story guesses to climb from, healthy ways first, and the least that is left over there.

        ``owns``, each of shape (starts, p + fixed): of a story's own parameters, and what it keeps.
        """
        if max(len(own) for own in owns) > KEPT_STARTS:
            return self._best(predict, owns, fixed)
        full = [
            from_one(own, self.ways) if len(own) == 1 else _with_healthy(np.zeros(self.ways), own)
            for own in owns
        ]
        costs = self._cost(predict, full, fixed)
        return [(guesses, float(cost.min())) for guesses, cost in zip(full, costs, strict=True)]

    def _best(
        self, predict: Predict, owns: Sequence[FloatArray], fixed: int
    ) -> list[tuple[FloatArray, float]]:
        """From healthy ways as they were, or from where they explain most with nothing wrong."""
        places = [np.zeros(self.ways)] + [self.healthy] * bool(np.abs(self.healthy).max(initial=0.0) > FAR)
        tried = [[_with_healthy(h, own) for own in owns] for h in places]
        costs = [self._cost(predict, full, fixed) for full in tried]
        begun = []
        for k in range(len(owns)):
            full = np.concatenate([each[k] for each in tried])
            cost = np.concatenate([each[k] for each in costs])
            begun.append((full[_apart(full[:, self.ways :], cost)], float(cost.min())))
        return begun

    def _cost(self, predict: Predict, full: Sequence[FloatArray], fixed: int) -> list[FloatArray]:
        """Of each start of each story after one step of its healthy ways, whose slopes are those at its best start."""
        counts = [len(own) for own in full]
        white = self._white(self.now - predict(np.concatenate(full)))
        left = np.split(np.sum(white**2, axis=1), np.cumsum(counts)[:-1])
        best = np.stack([own[int(np.argmin(each))] for own, each in zip(full, left, strict=True)])
        healthy = np.repeat(best[:, None], self.ways + 1, axis=1)
        healthy[:, 1:, : self.ways] += 1e-3 * np.eye(self.ways)
        moved = predict(healthy.reshape(-1, healthy.shape[2])).reshape(len(full), self.ways + 1, -1)
        slopes = self._white((moved[:, 1:] - moved[:, :1]) / 1e-3)
        costs = []
        for own, r, j, each in zip(full, np.split(white, np.cumsum(counts)[:-1]), slopes, left, strict=True):
            downhill = r @ j.T - own[:, : self.ways]
            gained = np.sum((downhill @ np.linalg.inv(j @ j.T + np.eye(self.ways))) * downhill, axis=1)
            cost = each - gained + np.sum(own[:, : own.shape[1] - fixed] ** 2, axis=1)
            costs.append(np.where(np.isfinite(cost), cost, np.inf))
        return costs

    def _white(self, values: ComplexArray) -> FloatArray:
        """White and real along the last axis."""
        white = values @ self.whiten.T
        return np.concatenate([white.real, white.imag], axis=-1)


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
