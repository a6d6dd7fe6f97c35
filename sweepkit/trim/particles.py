"""The answer to length as an ensemble: the kind's prior, weighted by this wire's own earlier sweeps.

Importance sampling: a particle holds the present dip (one draw of the sweep), slope and curvature of
ln f over ln L, the worth of a fold and the errors of the tape. Its weight is how well it foretells the
earlier sweeps. Folds bear on slope and fold worth together, cuts on the slope alone, which keeps them apart.

Line and analyzer err in both sweeps of an outing alike: a particle takes the same draw of them in each, so that their
errors cancel where they would.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sweepkit.antennas.kind import Kind, Known, LengthAnswer, Seen
from sweepkit.conversions import FloatArray, IndexArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.folds import USUAL_FOLD_M, FoldDraws, Lie, draw_folds
from sweepkit.trim.wire import History, WireState
from sweepkit.trim.wish import OwnAnswer

PARTICLES = 8192  # a weighted quantile of so many is good to a fiftieth of its spread
TAPE_SIGMA_M = 0.003  # one sigma of how much a part was changed; common practice, no source
TAPE_SIGMA_SHARE = 0.002  # of a whole length; common practice, no source
# Same antenna let down, changed and hauled up again: between "same connection" (0.02 %) and "all pieces
# reconnected" (0.1 %) of the trade's table; common practice, no source.
HANDLING_SIGMA = 0.0005
# Of the way a dip was extrapolated beyond the sweep; about what models show at worst
EXTRAPOLATION_SIGMA = 0.2
# One antenna in a hundred answers like none that was modelled, by so much (logarithm of the slope): with heavy tails
# its own sweeps overrule the kind. Common practice, no source; of 61 antennas modelled by us one lay beyond what 95 of
# 100 of its kind do by themselves.
STRANGE, STRANGE_SIGMA = 0.01, 0.2
# Two sweeps of one outing share line and analyzer: with this chance they do not, unless told, and where they
# do, this share of the spread is still each sweep's own, since directivity turns slowly along frequency.
# Common practice, no source.
APART, TURNED = 0.2, 0.15
# An antenna answers otherwise at another site: dipoles over height and soil spread by 2.4 %, a difference of two by
# the square root of two times that (models of our own, tests/data/models/length_answers.csv).
ELSEWHERE_SIGMA = 0.034
CONTRADICTION_SIGMAS = 4.5  # an earlier sweep further from what the rest foretells is not learned from ...
ODD_ANSWER = (0.5, 2.0)  # ... unless the dip moved between so much of the foretold: some antennas do that
LEAST_MOVE = 0.02  # smallest curvature root kept, see ln_length_step


@dataclass(frozen=True, eq=False)
class Particles:
    """Equally long arrays, shape (n,), and their weights, which sum to 1."""

    members: IndexArray  # draw of the sweep
    ln_f: FloatArray  # present dip
    acting_m: FloatArray  # straight wire that acts like the present one
    slope: FloatArray  # of ln f over the logarithm of that
    curvature: FloatArray  # likewise
    folds: FoldDraws
    tape: FloatArray  # what a told length times it really is
    weights: FloatArray

    def ln_f_at(self, acting_m: FloatArray) -> FloatArray:
        """Logarithm of the dip's frequency at another acting length, shape (n,)."""
        step = np.log(acting_m / self.acting_m)
        return np.asarray(self.ln_f + self.slope * step + self.curvature * step**2 / 2)

    def acting_m_for(self, target_hz: float) -> FloatArray:
        """Acting length that brings the dip to a frequency, shape (n,)."""
        wanted = np.log(target_hz) - self.ln_f
        square = self.slope**2 + 2 * self.curvature * wanted
        # Beyond the turn of the parabola the formula says nothing; the straight line then does.
        root = np.sqrt(np.maximum(square, (LEAST_MOVE + 0.25) * self.slope**2))
        return np.asarray(self.acting_m * np.exp(2 * wanted / (self.slope - root)))

    def quantile(self, values: FloatArray, shares: tuple[float, ...]) -> list[float]:
        """Weighted quantiles of one value a particle."""
        order = np.argsort(values)
        running = np.cumsum(self.weights[order]) - self.weights[order] / 2
        return [float(q) for q in np.interp(shares, running, values[order])]


@dataclass(frozen=True)
class Contradiction:
    """An earlier sweep that does not go with the present one.

    ``wrong_way``: the frequency moved against the change of length.
    """

    number: int
    ln_shift: float
    foretold: float
    wrong_way: bool


@dataclass(frozen=True, eq=False)
class Learned:
    """Weighted particles, how many earlier sweeps they rest on, and which contradict."""

    particles: Particles
    learned_from: int
    contradictions: tuple[Contradiction, ...]


def learn(
    dip: DipEnsemble,
    earlier_dips: tuple[DipEnsemble, ...],
    history: History,
    *,
    kind: Kind,
    known: Known,
    lies: Lie | None,
    fold_m: float = USUAL_FOLD_M,
    own: tuple[OwnAnswer, ...] = (),
    seed: int,
) -> Learned:
    """Particles of the present wire.

    ``earlier_dips``: the same dip in the earlier sweeps, oldest first; ``fold_m`` is about what there is or will be.
    """
    dice = np.random.default_rng([seed, 7])
    rad_per_m = 2 * np.pi * dip.measured_hz / SPEED_OF_LIGHT_M_S
    folds = draw_folds(lies, PARTICLES, dice, about_m=fold_m, rad_per_m=rad_per_m, wire=known.wire)
    particles = _prior(dip, history.present, kind, known, folds, dice)
    with np.errstate(divide="ignore"):  # one of no weight stays without
        log_weights = np.log(particles.weights)
    for answer in own:
        spread = np.hypot(answer.sigma, ELSEWHERE_SIGMA * answer.slope)
        log_weights = log_weights - 0.5 * ((particles.slope - answer.slope) / spread) ** 2
    contradictions = []
    apart = dice.random(PARTICLES) < APART
    for number, (state, then) in enumerate(zip(history.states, earlier_dips, strict=True)):
        step_m = dice.normal(0, TAPE_SIGMA_M, PARTICLES)
        foretold = particles.ln_f_at(state.acting_m(particles.folds) * particles.tape + step_m)
        other = dice.permutation(particles.members)
        seen = then.ln_f_of(np.where(apart & (not history.one_calibration[number]), other, particles.members))
        sigma = _own_sigma(dip, then)
        contradiction = _contradiction(number, particles, foretold, seen, sigma)
        if contradiction is not None:
            contradictions.append(contradiction)
            continue
        log_weights = log_weights - 0.5 * ((seen - foretold) / sigma) ** 2
    weights = np.exp(log_weights - log_weights.max())
    weighted = replace(particles, weights=weights / weights.sum())
    return Learned(weighted, len(earlier_dips) - len(contradictions), tuple(contradictions))


def _prior(
    dip: DipEnsemble,
    present: WireState,
    kind: Kind,
    known: Known,
    folds: FoldDraws,
    dice: np.random.Generator,
) -> Particles:
    """Particles before any earlier sweep is looked at."""
    if kind.answer is None:
        raise ValueError(f"{kind.name} is not trimmed")
    members = dip.members(PARTICLES)
    ln_f = dip.ln_f_of(members)
    if dip.extrapolated:
        ln_f = ln_f + dice.normal(0, EXTRAPOLATION_SIGMA * dip.extrapolated, PARTICLES)
    tape = np.exp(dice.normal(0, TAPE_SIGMA_SHARE, PARTICLES))
    acting_m = present.acting_m(folds) * tape
    seen = Seen(np.exp(ln_f), acting_m, dip.swr[members], dip.loaded_q[members])
    answer: LengthAnswer = kind.answer(seen, known, dice)
    strange = dice.random(PARTICLES) < 0.5  # of the particles, whatever their weight: tails are well filled
    weights = np.exp(answer.log_weight - answer.log_weight.max()) * np.where(strange, STRANGE, 1 - STRANGE)
    slope = answer.slope * np.exp(np.where(strange, dice.normal(0, STRANGE_SIGMA, PARTICLES), 0.0))
    slope = np.minimum(slope, -0.1)  # no antenna of ours rises in frequency when it grows
    return Particles(members, ln_f, acting_m, slope, answer.curvature, folds, tape, weights / weights.sum())


def _own_sigma(now: DipEnsemble, then: DipEnsemble) -> float:
    """What two sweeps of one outing do not share, of the difference of ln f."""
    each = [np.hypot(dip.own_sigma, TURNED * dip.spread()) for dip in (now, then)]
    beyond = EXTRAPOLATION_SIGMA * then.extrapolated
    return float(np.linalg.norm([HANDLING_SIGMA, *each])) + beyond


def _contradiction(
    number: int, particles: Particles, foretold: FloatArray, seen: FloatArray, sigma: float
) -> Contradiction | None:
    """Whether an earlier sweep is further from what the prior foretells than chance allows."""
    shift = seen - foretold
    middle = float(particles.weights @ shift)
    spread = float(np.hypot(np.sqrt(particles.weights @ (shift - middle) ** 2), sigma))
    moved = float(particles.weights @ (particles.ln_f - seen))
    expected = float(particles.weights @ (particles.ln_f - foretold))
    could_be = expected and ODD_ANSWER[0] < moved / expected < ODD_ANSWER[1]
    if could_be or abs(middle) < CONTRADICTION_SIGMAS * spread:
        return None
    return Contradiction(number, moved, expected, moved * expected < 0)
