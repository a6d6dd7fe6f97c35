"""What a picture of the trimming shows: the dips so far, and the learned line through them and onwards."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sweepkit.antennas.kind import Move
from sweepkit.conversions import FloatArray
from sweepkit.figures import COVERAGE_QUANTILES, Figure
from sweepkit.trim.move import FirstMove, after_hz
from sweepkit.trim.particles import Particles
from sweepkit.trim.wire import History, WireState

STEPS = 16  # of the line from one sweep to the next
BEYOND = 1.15  # the line goes on past the change that is needed by this factor
LEAST_REACH = 0.01  # of the part, and at least so far
NO_DIP = "the dip is in too few of the believable sweeps"


@dataclass(frozen=True)
class PastDip:
    """The dip in one earlier sweep."""

    name: str  # file; text of a user
    length_m: float  # each part then, feed to turning point
    dip_hz: Figure
    by: Move  # how it got from there to the next
    is_learned_from: bool  # False where it contradicts the others


@dataclass(frozen=True, eq=False)
class Trail:
    """The way of the wire; its line is worked out when it is asked for."""

    earlier: tuple[PastDip, ...]  # oldest first
    history: History  # the wire at each of them and now
    particles: Particles  # how the dip answers, as learned
    by: Move  # how the change is made
    change_m: float  # of each part, to the target; negative shortens
    with_interval: bool

    @property
    def present_m(self) -> float:
        """Each part now, feed to turning point. [m]"""
        return self.history.present.length_m

    def line(self) -> tuple[FloatArray, FloatArray]:
        """The learned line: from the first sweep to the present one as the wire went, then to the target.

        Length of each part, shape (n,) [m], and low, middle and high end of the dip there, shape (3, n) [Hz]; all the
        middle without intervals.
        """
        lengths, dips = [], []
        for then, after in pairwise((*self.history.states, self.history.present)):
            for share in np.linspace(0, 1, STEPS, endpoint=False):
                state = _between(then, after, float(share))
                acting_m = state.acting_m(self.particles.folds) * self.particles.tape
                lengths.append(state.length_m)
                dips.append(self._ends(np.exp(self.particles.ln_f_at(acting_m))))
        for step_m in np.linspace(0, self._reach_m(), STEPS):
            dice = np.random.default_rng(0)  # the same at every length, so that the line is one
            move = FirstMove(self.by, float(step_m))
            lengths.append(self.present_m + float(step_m))
            dips.append(self._ends(after_hz(self.particles, self.history.present, move, dice=dice)))
        return np.array(lengths), np.array(dips).T

    def _reach_m(self) -> float:
        """How far from the present length the line goes."""
        least_m = LEAST_REACH * self.present_m
        return float(np.copysign(max(BEYOND * abs(self.change_m), least_m), self.change_m))

    def _ends(self, f_hz: FloatArray) -> list[float]:
        if not self.with_interval:
            return 3 * self.particles.quantile(f_hz, (0.5,))
        return self.particles.quantile(f_hz, (COVERAGE_QUANTILES[0], 0.5, COVERAGE_QUANTILES[1]))


def _between(then: WireState, after: WireState, share: float) -> WireState:
    """The wire on its way from one state to the next."""
    return WireState(
        then.length_m + share * (after.length_m - then.length_m),
        max(then.tail_m + share * (after.tail_m - then.tail_m), 0.0),
    )
