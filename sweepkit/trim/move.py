"""From the change that is needed to the first move, which must not go too far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.antennas.kind import Move
from sweepkit.conversions import FloatArray
from sweepkit.trim.folds import CUT_WITH_TAIL
from sweepkit.trim.particles import Particles
from sweepkit.trim.wire import WireState

CUT_CAP = 0.70  # of the computed cut, while no change of this wire is on record; common practice, no source
CUT_CAP_LEARNED = 0.90  # after one; common practice, no source
OVERSHOOT = 1.005  # a cut ends above this times the target ...
OVERSHOOT_CHANCE = 0.05  # ... with no more than this chance

By = Literal["fold", "cut", "slide", "add", "none"]


@dataclass(frozen=True)
class FirstMove:
    """What to do first: how, and by how much on each part; negative shortens. [m]"""

    by: By
    m: float


def change_m(
    particles: Particles, present: WireState, target_hz: float, *, by: Move, dice: np.random.Generator
) -> FloatArray:
    """Change of each part, shape (n,), that brings the dip to a frequency; more of a fold than of a cut."""
    acting_change = particles.acting_m_for(target_hz) - particles.acting_m
    if by == "fold":
        value_m = particles.folds.value_m(present.tail_m) - acting_change
        # Where letting out the whole tail is not enough, new wire counts in full.
        beyond_m = np.minimum(value_m, 0.0)
        return np.asarray(present.tail_m - particles.folds.tail_worth_m(value_m) - beyond_m)
    return np.asarray(acting_change / _cut_worth(particles, present, by, dice))


def after_hz(
    particles: Particles, present: WireState, move: FirstMove, *, dice: np.random.Generator
) -> FloatArray:
    """Frequency of the dip after a move, shape (n,)."""
    if move.by == "fold":
        tail_m = present.tail_m - move.m
        gain_m = particles.folds.value_m(max(tail_m, 0.0)) - particles.folds.value_m(present.tail_m)
        acting_m = particles.acting_m - gain_m + max(-tail_m, 0.0)
    else:
        worth = _cut_worth(particles, present, "cut" if move.by in ("cut", "add") else "slide", dice)
        acting_m = particles.acting_m + np.asarray(move.m * worth)
    least_m = 0.05 * particles.acting_m
    return np.exp(particles.ln_f_at(np.maximum(acting_m, least_m)))


def sensitivity_hz_per_m(particles: Particles, present: WireState, *, by: Move) -> FloatArray:
    """Change of the dip for a change of all parts together, shape (n,); negative."""
    per_acting = np.exp(particles.ln_f) * particles.slope / particles.acting_m
    return np.asarray(per_acting * particles.folds.worth) if by == "fold" else np.asarray(per_acting)


def choose_first_move(
    particles: Particles,
    change: FloatArray,
    to_overshoot: FloatArray,
    *,
    by: Move,
    learned_from: int,
    tail_m: float,
) -> FirstMove:
    """The first move towards the target; the weights of the particles count.

    ``change`` reaches the target, ``to_overshoot`` ``OVERSHOOT`` times the target [m]; ``tail_m`` can be let out.
    """
    middle = particles.quantile(change, (0.5,))[0]
    if middle >= 0:
        can_let_out = by == "slide" or (by == "fold" and middle <= tail_m)
        return FirstMove(by if can_let_out else "add", middle)
    if by != "cut":
        return FirstMove(by, middle)
    cap = CUT_CAP_LEARNED if learned_from else CUT_CAP
    safe = particles.quantile(to_overshoot, (1 - OVERSHOOT_CHANCE,))[0]
    return FirstMove("cut", max(cap * middle, min(safe, 0.0)))


def _cut_worth(
    particles: Particles, present: WireState, by: Move, dice: np.random.Generator
) -> FloatArray | float:
    """A cut that leaves a tail on moves the dip a little less than a bare one."""
    if by != "cut" or not present.tail_m:
        return 1.0
    return dice.uniform(*CUT_WITH_TAIL, particles.weights.size)
