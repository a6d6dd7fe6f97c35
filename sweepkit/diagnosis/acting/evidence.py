"""How well a story fits what was swept, summed over all that it leaves open.

Near each best guess the story is taken as linear, so that the sum over healthy ways and its own parameters is that
of normal distributions (Laplace; MacKay, Information Theory, Inference, and Learning Algorithms, Cambridge 2003,
chapter 27); guesses apart from each other add, and so do the calibrations that may lie between. Rungs of the ladder are
kept apart: which of them lies between is told or not, and no formula's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.climb import Peak, Predict, climb
from sweepkit.diagnosis.acting.healthy import Condition
from sweepkit.diagnosis.acting.starts import find_loosest, from_one
from sweepkit.diagnosis.acting.walk import Values

# What is told of one cause by a table that is rough, read by an analyzer that is not independent from point to
# point: evidence counts for less than the formulas say. Set beforehand; docs/diagnose.md shows what weights mean.
TEMPER = 3.0
IMPOSSIBLE = -1e6  # logarithm of the evidence of a story that cannot be acted out
HOPELESS = 60.0  # stories so far below the best count for nothing: a weight of exp(-20) once it is tempered
SAME_PEAK = 0.3  # parameters nearer than that, in standard deviations of what is known before, are one guess


@dataclass(frozen=True, eq=False)
class Fitted:
    """A story after the sweep was seen."""

    by_rung: FloatArray  # logarithm of the evidence on each rung, but for a constant common to all stories
    peaks: tuple[Peak, ...]  # best guesses, heaviest first
    shares: FloatArray  # their weights
    # how far the parameters spread about each, over all conditions, shape (p, p), where it is asked for
    spreads: tuple[Callable[[], FloatArray], ...]
    misfit: float  # mean square of what is left over at the best guess, in units of what is expected


class Judge:
    """Weighs stories of one scene under all conditions that may lie between."""

    def __init__(self, now: ComplexArray, conditions: Sequence[Condition], *, bands: float) -> None:
        """``bands``: how many of them tell as much as one."""
        self.now = now
        self.bands = bands
        self.conditions = conditions
        self.widest = np.max([one.sigmas for one in conditions], axis=0)
        rungs = list(dict.fromkeys(one.rung for one in conditions))
        self._of_rung = np.array([rungs.index(one.rung) for one in conditions])
        chances = np.array([one.chance for one in conditions])
        self.rungs = tuple(rungs)
        self.rung_chances = np.bincount(self._of_rung, chances)
        factors = np.linalg.cholesky([one.covariance for one in conditions])
        self._whiten = np.sqrt(2 / bands) * np.linalg.solve(factors, np.eye(now.size))
        self._log_sizes = _log_sizes(factors)
        self._log_chances = np.log(np.maximum(chances / self.rung_chances[self._of_rung], 1e-9))
        self._shrink = np.maximum([one.sigmas / np.maximum(self.widest, 1e-30) for one in conditions], 1e-6)
        self._lowest = np.inf
        self._loosest = find_loosest(conditions)

    def fit(self, predict: Predict, own: FloatArray, *, fixed: int = 0) -> Fitted:
        """The evidence of a story with one rough guess of its own parameters, shape (1, p + fixed)."""
        return self.climb_each(predict, [from_one(own, self.widest.size)], fixed=fixed)[0]

    def climb_each(self, predict: Predict, starts: Sequence[FloatArray], *, fixed: int = 0) -> list[Fitted]:
        """The evidence of stories of one act, each from rough guesses of all parameters.

        ``predict`` takes batches of shape (members, h + p + fixed), healthy ways first; stories part by what their
        guesses keep, the last ``fixed`` columns.
        """
        whiten = self._whiten[self._loosest]
        found = climb(
            predict,
            self.now,
            whiten,
            np.concatenate(starts),
            fixed=fixed,
            lowest=self._lowest,
            reach=2 * HOPELESS,
        )
        ends = np.cumsum([len(own) for own in starts])
        owners = np.searchsorted(ends, [peak.start for peak in found], side="right")
        own = [
            [peak for peak, owner in zip(found, owners, strict=True) if owner == k]
            for k in range(len(starts))
        ]
        return [self._fitted(_distinct(peaks)) for peaks in own]

    def _fitted(self, peaks: list[Peak]) -> Fitted:
        """A story from its best guesses, the best first."""
        if not peaks or peaks[0].cost > self._lowest + 2 * HOPELESS:  # leads to no sweep, or to quite another
            return Fitted(np.full(len(self.rungs), IMPOSSIBLE), (), np.zeros(0), (), np.inf)
        weighed = [self._weigh(peak) for peak in peaks]
        by_rung = np.array([one[0] for one in weighed])
        logs = np.logaddexp.reduce(by_rung + np.log(self.rung_chances), axis=1)
        order = np.argsort(-logs)
        best = peaks[int(order[0])]
        self._lowest = min(self._lowest, best.cost)
        return Fitted(
            np.logaddexp.reduce(by_rung, axis=0),
            tuple(peaks[k] for k in order),
            np.exp(logs[order] - np.logaddexp.reduce(logs)),
            tuple(weighed[k][1] for k in order),
            self.bands * float(best.cost - best.theta @ best.theta) / (2 * best.left.size),
        )

    def with_added(self, peak: Peak, added: Values) -> FloatArray:
        """Logarithm of the evidence on each rung of what is left over at a peak of healthy ways, where ``added``, shape
        (n, n), is allowed beside every condition."""
        factors = np.linalg.cholesky([one.covariance + added for one in self.conditions])
        columns = np.column_stack([peak.left, peak.slopes])
        white = np.sqrt(2 / self.bands) * np.linalg.solve(factors, columns[None])
        logs = _summed(white, peak.theta, self._shrink).logs
        return self._on_rungs(logs + self._log_chances - _log_sizes(factors) / self.bands)

    def _weigh(self, peak: Peak) -> tuple[FloatArray, Callable[[], FloatArray]]:
        """Logarithm of the evidence near a peak on each rung, and how far parameters spread about it."""
        own = peak.theta.size - self.widest.size
        shrink = np.hstack([self._shrink, np.ones((len(self._shrink), own))])
        white = self._whiten @ np.column_stack([peak.left, peak.slopes])
        found = _summed(white, peak.theta, shrink)
        logs = found.logs + self._log_chances - self._log_sizes / self.bands

        def spread() -> FloatArray:
            weights = np.exp((logs - logs.max()) / TEMPER)
            off = found.moved * shrink - peak.theta  # where each condition has its own best guess
            spreads = shrink[:, :, None] * np.linalg.inv(found.curves) * shrink[:, None, :]
            spreads = spreads + off[:, :, None] * off[:, None]
            return np.asarray(np.tensordot(weights / weights.sum(), spreads, axes=1))

        return self._on_rungs(logs), spread

    def _on_rungs(self, logs: FloatArray) -> FloatArray:
        """Sums over the conditions of each rung."""
        return np.array([np.logaddexp.reduce(logs[self._of_rung == k]) for k in range(len(self.rungs))])


class _Summed(NamedTuple):
    """Of each condition: logarithm of the sum over parameters, their best guess, and the curvature there."""

    logs: FloatArray  # shape (conditions,)
    moved: FloatArray  # best guess, in units of the spread, shape (conditions, p)
    curves: FloatArray  # shape (conditions, p, p)


def _summed(white: ComplexArray, theta: FloatArray, shrink: FloatArray) -> _Summed:
    """Sum over parameters of normal spread ``shrink``, shape (conditions, p), near ``theta``.

    ``white``, shape (conditions, n, 1 + p): what is left over there and its slopes.
    """
    both = np.concatenate([white.real, white.imag], axis=1)
    r, j = both[..., 0] + both[..., 1:] @ theta, both[..., 1:]  # left over where every parameter is zero
    scaled = j * shrink[:, None, :]
    across = np.swapaxes(scaled, 1, 2)
    curves = across @ scaled + np.eye(theta.size)
    taken = (across @ r[..., None])[..., 0]
    moved = np.linalg.solve(curves, taken[..., None])[..., 0]
    _, log_sizes = np.linalg.slogdet(curves)
    logs = -(np.sum(r**2, axis=1) - np.sum(taken * moved, axis=1)) / 2 - log_sizes / 2
    return _Summed(np.asarray(logs), np.asarray(moved), np.asarray(curves))


def _log_sizes(factors: Values) -> FloatArray:
    """Logarithm of the determinant of each covariance from its triangular factor."""
    return np.asarray(2 * np.sum(np.log(np.diagonal(factors, axis1=1, axis2=2).real), axis=1))


def _distinct(peaks: list[Peak]) -> list[Peak]:
    """Each guess once, the best first."""
    kept: list[Peak] = []
    for peak in sorted(peaks, key=lambda one: one.cost):
        if np.isfinite(peak.cost) and all(
            np.max(np.abs(peak.theta - other.theta)) > SAME_PEAK for other in kept
        ):
            kept.append(peak)
    return kept
