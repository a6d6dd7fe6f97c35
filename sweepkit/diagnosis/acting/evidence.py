"""How well a story fits what was swept, summed over all that it leaves open.

Near each best guess the story is taken as linear, so that the sum over healthy ways and its own parameters is that
of normal distributions (Laplace; MacKay, Information Theory, Inference, and Learning Algorithms, Cambridge 2003,
chapter 27); guesses apart from each other add, and so do the ways in which two sweeps may lie apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.climb import Peak, Predict, climb
from sweepkit.diagnosis.acting.healthy import Condition
from sweepkit.diagnosis.acting.priors import log_of_sum
from sweepkit.diagnosis.acting.walk import Values

KEPT_STARTS = 3
FEW_STARTS = 25  # with so few all lie in reach of the best
IMPOSSIBLE = -1e6  # logarithm of the evidence of a story that cannot be acted out
HOPELESS = 80.0  # stories so far below the best one count for nothing
FAR = 1.0  # healthy ways that far off, in standard deviations, are a place of their own to climb from
SAME_PEAK = 0.3  # parameters nearer than that, in standard deviations of what is known before, are one guess


@dataclass(frozen=True, eq=False)
class Fitted:
    """A story after the sweep was seen."""

    log_evidence: float  # but for a constant common to all stories
    peaks: tuple[Peak, ...]  # best guesses, heaviest first
    shares: FloatArray  # their weights
    spreads: tuple[FloatArray, ...]  # covariance of the parameters at each, shape (p, p)
    misfit: float  # mean square of what is left over at the best guess, in units of what is expected


class Judge:
    """Weighs stories of one scene under all conditions that may lie between."""

    def __init__(self, now: ComplexArray, conditions: Sequence[Condition]) -> None:
        self.now = now
        self.widest = np.max([one.sigmas for one in conditions], axis=0)
        self._covariances = [one.covariance for one in conditions]
        self._best_log = -np.inf
        self._whiten = []
        self._constants = []
        self._shrink = []
        identity = np.eye(now.size)
        for one in conditions:
            factor = np.linalg.cholesky(one.covariance)
            self._whiten.append(np.sqrt(2) * np.linalg.solve(factor, identity))
            log_size = 2 * float(np.sum(np.log(np.diag(factor).real)))
            self._constants.append(np.log(max(one.chance, 1e-9)) - log_size)
            self._shrink.append(np.maximum(one.sigmas / np.maximum(self.widest, 1e-30), 1e-6))
        self._healthy: FloatArray | None = None
        self._lowest = np.inf
        self._loosest = int(np.argmax([np.trace(one.covariance).real for one in conditions]))

    def begin(self, predict: Predict, starts: FloatArray) -> tuple[FloatArray, float]:
        """Where a story is climbed from and the least that is left over there; ``predict`` takes batches of shape
        (members, h + p), healthy ways first.

        ``starts``, shape (starts, p), are rough guesses of its own parameters; none of its own: shape (1, 0).
        """
        whiten = self._whiten[self._loosest]
        count = self.widest.size
        full = np.concatenate([np.zeros((starts.shape[0], count)), starts], axis=1)
        if starts.shape[0] == 1:  # a dip that has slid by its own width is out of reach of its slope
            full = np.concatenate([full, full, full])
            full[1:, 0] = (1.0, -1.0)
            return full, float(np.min(self._cost(predict, whiten, full)))
        if starts.shape[0] > KEPT_STARTS:
            return self._best(predict, whiten, starts)
        return full, float(np.min(self._cost(predict, whiten, full)))

    def fit(self, predict: Predict, starts: FloatArray) -> Fitted:
        """The evidence of a story; parameters as of :meth:`begin`."""
        return self.climb_from(predict, self.begin(predict, starts)[0])

    def climb_from(self, predict: Predict, starts: FloatArray) -> Fitted:
        """The evidence of a story from rough guesses of all parameters, healthy ways first."""
        whiten = self._whiten[self._loosest]
        count = self.widest.size
        found = climb(predict, self.now, whiten, starts, lowest=self._lowest, reach=2 * HOPELESS)
        peaks = _distinct(found, whiten)
        if not peaks:  # the story leads to no sweep at all here
            return Fitted(IMPOSSIBLE, (), np.zeros(0), (), np.inf)
        weighed = [self._weigh(peak) for peak in peaks]
        logs = np.array([one[0] for one in weighed])
        order = np.argsort(-logs)
        log_evidence = float(log_of_sum(logs))
        best = peaks[int(order[0])]
        if self._healthy is None:
            self._healthy = best.theta[:count].copy()
        self._lowest = min(self._lowest, _cost_of(best, whiten))
        white = whiten @ best.left
        return Fitted(
            log_evidence,
            tuple(peaks[k] for k in order),
            np.exp(logs[order] - log_evidence),
            tuple(weighed[k][1] for k in order),
            float(np.mean(np.abs(white) ** 2) / 2),
        )

    def log_probability(self, left: ComplexArray, added: Values, slopes: ComplexArray) -> float:
        """Of what is left over at a peak where more of a covariance is allowed, healthy ways summed over.

        ``added``, shape (n, n), is allowed beside every condition.
        """
        total = []
        for k, whiten in enumerate(self._whiten):
            wider = np.linalg.cholesky(self._covariances[k] + added)
            own = np.sqrt(2) * np.linalg.solve(wider, np.eye(left.size))
            change = 2 * float(
                np.sum(np.log(np.diag(wider).real)) + np.sum(np.log(np.diag(whiten).real / np.sqrt(2)))
            )
            value, _ = _summed(own, left, slopes, np.zeros(slopes.shape[1]), self._shrink[k])
            total.append(self._constants[k] - change + value)
        return float(log_of_sum(total))

    def _weigh(self, peak: Peak) -> tuple[float, FloatArray]:
        """Logarithm of the evidence near a peak, and the covariance of its parameters."""
        own = peak.theta.size - self.widest.size
        order = [self._loosest, *(k for k in range(len(self._whiten)) if k != self._loosest)]
        logs: list[float] = []
        spreads = []
        for k in order:
            shrink = np.concatenate([self._shrink[k], np.ones(own)])
            log, spread = _summed(self._whiten[k], peak.left, peak.slopes, peak.theta, shrink)
            logs.append(log + self._constants[k])
            spreads.append(spread)
            self._best_log = max(self._best_log, logs[0])  # of the loosest condition, which comes first
            if len(logs) == 1 and logs[0] < self._best_log - HOPELESS:
                break
        return float(log_of_sum(logs)), spreads[int(np.argmax(logs))]

    def _best(self, predict: Predict, whiten: ComplexArray, starts: FloatArray) -> tuple[FloatArray, float]:
        """The starts to climb from, by what is left over once healthy ways have taken their part from where they
        were, or from where they explain most with nothing wrong."""
        count = self.widest.size
        tried: list[tuple[FloatArray, FloatArray]] = []
        for h in (np.zeros(count), self._healthy):
            if h is not None and (not tried or np.abs(h).max() > FAR):
                full = np.concatenate([np.tile(h, (starts.shape[0], 1)), starts], axis=1)
                tried.append((full, self._cost(predict, whiten, full)))
        full = np.concatenate([full for full, _ in tried])
        costs = np.concatenate([cost for _, cost in tried])
        return full[_apart(full[:, count:], costs)], float(costs.min())

    def _cost(self, predict: Predict, whiten: ComplexArray, full: FloatArray) -> FloatArray:
        """Of each start after one step of its healthy ways."""
        predicted = predict(full)
        white = (self.now - predicted) @ whiten.T
        r = np.concatenate([white.real, white.imag], axis=1)
        count = self.widest.size
        healthy = np.tile(full[int(np.argmin(np.sum(r**2, axis=1)))], (count + 1, 1))
        healthy[1:, :count] += 1e-3 * np.eye(count)
        moved = predict(healthy)
        slopes = ((moved[1:] - moved[0]) / 1e-3) @ whiten.T
        j = np.concatenate([slopes.real, slopes.imag], axis=1).T
        inner = np.linalg.inv(j.T @ j + np.eye(count))
        downhill = r @ j - full[:, :count]
        cost = np.sum(r**2, axis=1) - np.sum((downhill @ inner) * downhill, axis=1) + np.sum(full**2, axis=1)
        return np.where(np.isfinite(cost), cost, np.inf)


def _apart(own: FloatArray, cost: FloatArray) -> list[int]:
    """The cheapest starts of which no two are neighbours in the first parameter."""
    kept: list[int] = []
    first = own[:, 0]
    near = 1.5 * float(np.max(np.diff(np.unique(first)), initial=0.0)) if np.unique(first).size > 6 else 0.0
    for k in np.argsort(cost):
        if all(abs(first[k] - first[other]) > near or (near == 0.0 and k != other) for other in kept):
            kept.append(int(k))
        if len(kept) == (KEPT_STARTS if cost.size > FEW_STARTS else 1):
            break
    return kept


def _summed(
    whiten: ComplexArray, left: ComplexArray, slopes: ComplexArray, theta: FloatArray, shrink: FloatArray
) -> tuple[float, FloatArray]:
    """Logarithm of the sum over parameters of normal spread ``shrink``, and their covariance."""
    white_left, white_slopes = whiten @ left, whiten @ slopes
    r = np.concatenate([white_left.real, white_left.imag])
    j = np.concatenate([white_slopes.real, white_slopes.imag])
    r = r + j @ theta  # left over where every parameter is zero
    scaled = j * shrink
    curve = scaled.T @ scaled + np.eye(shrink.size)
    taken = scaled.T @ r
    moved = np.linalg.solve(curve, taken)
    _, log_size = np.linalg.slogdet(curve)
    covariance = shrink[:, None] * np.linalg.inv(curve) * shrink
    return float(-(r @ r - taken @ moved) / 2 - log_size / 2), np.asarray(covariance)


def _distinct(peaks: list[Peak], whiten: ComplexArray) -> list[Peak]:
    """Each guess once, the best first."""

    kept: list[Peak] = []
    costs = {id(peak): _cost_of(peak, whiten) for peak in peaks}
    for peak in sorted(peaks, key=lambda one: costs[id(one)]):
        if np.isfinite(costs[id(peak)]) and all(
            np.max(np.abs(peak.theta - other.theta)) > SAME_PEAK for other in kept
        ):
            kept.append(peak)
    return kept


def _cost_of(peak: Peak, whiten: ComplexArray) -> float:
    """Sum of squares of what is left over and of the parameters."""
    value = float(np.sum(np.abs(whiten @ peak.left) ** 2) + peak.theta @ peak.theta)
    return value if np.isfinite(value) else np.inf
