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
from sweepkit.diagnosis.acting.starts import find_loosest, from_one
from sweepkit.diagnosis.acting.walk import Values

IMPOSSIBLE = -1e6  # logarithm of the evidence of a story that cannot be acted out
HOPELESS = 80.0  # stories so far below the best one count for nothing
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

    def __init__(self, now: ComplexArray, conditions: Sequence[Condition], *, bands: float) -> None:
        """``bands``: how many of them tell as much as one."""
        self.now = now
        self.bands = bands
        self.conditions = conditions
        self.widest = np.max([one.sigmas for one in conditions], axis=0)
        self._best_log = -np.inf
        self._whiten = []
        self._constants = []
        self._shrink = []
        identity = np.eye(now.size)
        for one in conditions:
            factor = np.linalg.cholesky(one.covariance)
            self._whiten.append(np.sqrt(2 / bands) * np.linalg.solve(factor, identity))
            log_size = 2 * float(np.sum(np.log(np.diag(factor).real)))
            self._constants.append(np.log(max(one.chance, 1e-9)) - log_size / bands)
            self._shrink.append(np.maximum(one.sigmas / np.maximum(self.widest, 1e-30), 1e-6))
        self._lowest = np.inf
        self._loosest = find_loosest(conditions)

    def fit(self, predict: Predict, own: FloatArray) -> Fitted:
        """The evidence of a story with one rough guess of its own parameters, shape (1, p)."""
        return self.climb_from(predict, from_one(own, self.widest.size))

    def climb_from(self, predict: Predict, starts: FloatArray) -> Fitted:
        """The evidence of a story from rough guesses of all parameters; ``predict`` takes batches of shape
        (members, h + p), healthy ways first.
        """
        whiten = self._whiten[self._loosest]
        found = climb(predict, self.now, whiten, starts, lowest=self._lowest, reach=2 * HOPELESS)
        peaks = _distinct(found)
        if not peaks:  # the story leads to no sweep at all here
            return Fitted(IMPOSSIBLE, (), np.zeros(0), (), np.inf)
        weighed = [self._weigh(peak) for peak in peaks]
        logs = np.array([one[0] for one in weighed])
        order = np.argsort(-logs)
        log_evidence = float(log_of_sum(logs))
        best = peaks[int(order[0])]
        self._lowest = min(self._lowest, best.cost)
        return Fitted(
            log_evidence,
            tuple(peaks[k] for k in order),
            np.exp(logs[order] - log_evidence),
            tuple(weighed[k][1] for k in order),
            self.bands * float(best.cost - best.theta @ best.theta) / (2 * best.left.size),
        )

    def log_probability(self, left: ComplexArray, added: Values, slopes: ComplexArray) -> float:
        """Of what is left over at a peak where more of a covariance is allowed, healthy ways summed over.

        ``added``, shape (n, n), is allowed beside every condition.
        """
        total = []
        for k, whiten in enumerate(self._whiten):
            wider = np.linalg.cholesky(self.conditions[k].covariance + added)
            root = np.sqrt(2 / self.bands)
            own = root * np.linalg.solve(wider, np.eye(left.size))
            sizes = np.log(np.diag(wider).real) + np.log(np.diag(whiten).real / root)
            change = 2 * float(np.sum(sizes)) / self.bands
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


def _summed(
    whiten: ComplexArray, left: ComplexArray, slopes: ComplexArray, theta: FloatArray, shrink: FloatArray
) -> tuple[float, FloatArray]:
    """Logarithm of the sum over parameters of normal spread ``shrink``, and their covariance."""
    white = whiten @ np.column_stack([left, slopes])
    both = np.concatenate([white.real, white.imag])
    r, j = both[:, 0], both[:, 1:]
    r = r + j @ theta  # left over where every parameter is zero
    scaled = j * shrink
    curve = scaled.T @ scaled + np.eye(shrink.size)
    taken = scaled.T @ r
    moved = np.linalg.solve(curve, taken)
    _, log_size = np.linalg.slogdet(curve)
    covariance = shrink[:, None] * np.linalg.inv(curve) * shrink
    return float(-(r @ r - taken @ moved) / 2 - log_size / 2), np.asarray(covariance)


def _distinct(peaks: list[Peak]) -> list[Peak]:
    """Each guess once, the best first."""
    kept: list[Peak] = []
    for peak in sorted(peaks, key=lambda one: one.cost):
        if np.isfinite(peak.cost) and all(
            np.max(np.abs(peak.theta - other.theta)) > SAME_PEAK for other in kept
        ):
            kept.append(peak)
    return kept
