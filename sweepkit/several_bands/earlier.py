"""What earlier sweeps at other lengths say of how each dip follows the wire, dip by dip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.findings import Finding
from sweepkit.several_bands.following import Followed, NamedDip
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.particles import CONTRADICTION_SIGMAS, HANDLING_SIGMA, TAPE_SIGMA_M, TURNED

MATCH = 0.04  # of ln f between a dip of an earlier sweep and where the slope sends it
LEAST_CHANGE = 0.001  # of the length: less tells nothing of a slope
# A dip that answers like none modelled; common practice, no source
STRANGE, STRANGE_SLOPE = 0.05, (-0.7, 0.35)
SPREAD_AGAIN = 0.3  # of what is left of the spread, so that draws taken twice are not the same


@dataclass(frozen=True, eq=False)
class EarlierLength:
    """Dips of an earlier sweep, how long the wire acted then [m], and what it was then in words."""

    dips: tuple[DipEnsemble, ...]
    acting_m: float
    name: str = ""


def learn_slopes(
    followed: Followed, earlier: Sequence[EarlierLength], length_m: float, dice: np.random.Generator
) -> tuple[Followed, int]:
    """Slopes weighed by earlier sweeps, and how many of these bear on any dip.

    ``followed``: dips now, with the slopes that the kind gives them.
    """
    used: set[int] = set()
    dips = []
    for dip in followed.dips:
        strange = dice.normal(*STRANGE_SLOPE, dip.slope.size)
        pool = np.concatenate([dip.slope, strange])
        prior = np.where(np.arange(pool.size) < dip.slope.size, 1 - STRANGE, STRANGE)
        log_weight = np.log(prior)
        learned = False
        for number, then in enumerate(earlier):
            told = _likelihood(dip, pool, then, length_m)
            if told is not None:
                log_weight, learned = log_weight + told, True
                used.add(number)
        dips.append(_learned(dip, pool, log_weight, dice) if learned else dip)
    return replace(followed, dips=tuple(dips)), len(used)


def agreeing(
    dips: Sequence[NamedDip], earlier: Sequence[EarlierLength], length_m: float
) -> tuple[list[EarlierLength], list[Finding]]:
    """Earlier sweeps that go with the dips of now, and what is said of the others."""
    kept, findings = [], []
    for then in earlier:
        votes = [vote for dip in dips if (vote := _contradicts(dip, then, length_m)) is not None]
        if 2 * sum(votes) <= len(votes):
            kept.append(then)
            continue
        text = f"{then.name}: its dips do not go with the change of length since then; it is left out"
        findings.append(
            Finding("earlier-contradicts", "warning", text, "check what it was then, and which file it is")
        )
    return kept, findings


def _contradicts(dip: NamedDip, then: EarlierLength, length_m: float) -> bool | None:
    """Whether a dip of the wire moved by less than half or more than twice of what was foretold, beyond all errors."""
    shown = _shown_slope(dip, then, length_m)
    if shown is None or dip.moved_by != ("wire",):
        return None
    seen, sigma = shown
    middle = float(dip.slope[0])
    far = abs(seen - middle) > CONTRADICTION_SIGMAS * np.hypot(sigma, float(dip.slope.std()))
    return bool(far and not 0.5 < seen / middle < 2.0)


def _likelihood(dip: NamedDip, slope: FloatArray, then: EarlierLength, length_m: float) -> FloatArray | None:
    shown = _shown_slope(dip, then, length_m)
    if shown is None:
        return None
    gap = (slope - shown[0]) / shown[1]
    return np.asarray(-2.5 * np.log1p(gap**2 / 4))  # Student's t: an earlier sweep may be of something else


def _shown_slope(dip: NamedDip, then: EarlierLength, length_m: float) -> tuple[float, float] | None:
    """How a dip followed the length from then to now, and the error of that."""
    change = float(np.log(length_m / then.acting_m))
    if abs(change) < LEAST_CHANGE or not then.dips:
        return None
    back_hz = dip.dip.measured_hz * np.exp(-float(dip.slope[0]) * change)
    same = min(then.dips, key=lambda other: abs(np.log(other.measured_hz / back_hz)))
    if abs(np.log(same.measured_hz / back_hz)) > MATCH:
        return None
    seen = float(np.log(dip.dip.measured_hz / same.measured_hz)) / change
    own = [np.hypot(each.own_sigma, TURNED * each.spread()) for each in (dip.dip, same)]
    sigma = float(np.linalg.norm([HANDLING_SIGMA, TAPE_SIGMA_M / length_m, *own])) / abs(change)
    return seen, sigma


def _learned(dip: NamedDip, slope: FloatArray, log_weight: FloatArray, dice: np.random.Generator) -> NamedDip:
    """Draws of a slope taken by their weight, a little apart; what else is known of each goes with it."""
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    middle = float(weight @ slope)
    left = float(np.sqrt(weight @ (slope - middle) ** 2))
    n = slope.size // 2
    rows = dice.choice(slope.size, n, p=weight)
    learned = slope[rows] + dice.normal(0, SPREAD_AGAIN * left, n)
    taken = None if dip.taken is None else learned - (dip.slope - dip.taken)[rows % n]
    learned[0] = np.median(learned)
    beside = None if dip.beside is None else dip.beside.taken(rows % n)
    return replace(dip, slope=learned, taken=taken, beside=beside)
