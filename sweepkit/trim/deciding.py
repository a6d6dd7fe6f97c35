"""What to do with a dip and a change, and targets that are no trimming."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.figures import COVERAGE_QUANTILES
from sweepkit.quantities import frequency_text, length_text
from sweepkit.trim.answer import Action
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.move import FirstMove
from sweepkit.trim.particles import Particles
from sweepkit.trim.wish import Already, Wish

FARTHEST_TARGET = 1.30  # more than this between dip and target is no trimming; common practice, no source
BARELY_WORSE = 1.1  # SWR at the target over that at the dip, where no trimming is worth it; common practice
IN_PLACE = 0.001  # shift of the dip when a part is handled and the pieces are joined anew; common practice, no source
# Of the frequency: an interval wider than this that holds the target tells nothing; common practice
TOO_VAGUE = 0.02
EVERYTHING = (COVERAGE_QUANTILES[0], 0.5, COVERAGE_QUANTILES[1])
SHORTEST_SHARE = 0.6  # of the part must be left: the answer to length is not known further out


def decide(
    dip: DipEnsemble,
    wish: Wish,
    particles: Particles,
    change_m: FloatArray,
    already: Already,
    move: FirstMove,
) -> tuple[Action, str]:
    """What to do, and why; ``change_m`` is the change of each part that reaches the target, by particle."""
    if already.good_enough:
        return "leave", already.good_enough
    low_hz, now_hz, high_hz = particles.quantile(np.exp(particles.ln_f), EVERYTHING)
    shift = wish.target_hz / now_hz - 1
    away = f"the dip is at {frequency_text(now_hz)}, {abs(shift) * now_hz / 1e3:.0f} kHz {{}} the target"
    away = away.format("below" if shift > 0 else "above")
    spread, spread_words = _own_spread(wish)
    good_swr = max(wish.limit_swr, BARELY_WORSE * float(dip.swr[0]))
    as_good = already.swr_at_target is None or already.swr_at_target <= good_swr
    if abs(shift) <= spread and as_good:
        return "leave", f"{away}; that is less than {spread_words} ({spread:.1%})"
    least_m, _, most_m = particles.quantile(change_m, EVERYTHING)
    if least_m <= 0 <= most_m:
        if high_hz - low_hz > TOO_VAGUE * now_hz:
            return (
                "cannot_say",
                f"{away}, but it is not known well enough to tell which way to go; take a better sweep first",
            )
        ends = f"{length_text(least_m)} to {length_text(most_m)}"
        return "leave", f"{away}; the change would be {ends}, so the sweep does not tell it from none"
    if move.m < 0:
        return "shorten", f"{away}: too long"
    return "lengthen", f"{away}: too short already"


def _own_spread(wish: Wish) -> tuple[float, str]:
    """What the antenna moves by itself: a cut lasts over erections, a fold or a slide is for this one."""
    if wish.by == "cut":
        return wish.kind.repeatability, f"{wish.kind.title} shifts when it is put up again"
    return IN_PLACE, f"{wish.kind.title} shifts when it is handled in place"


def refuse_far_target(dip: DipEnsemble, wish: Wish) -> None:
    """Refuse a target that another antenna is needed for."""
    ratio = wish.target_hz / dip.measured_hz
    if max(ratio, 1 / ratio) > FARTHEST_TARGET:
        raise BadInput(
            f"the dip that belongs to this length is at {frequency_text(dip.measured_hz)}, the target at "
            f"{frequency_text(wish.target_hz)}; a target within {FARTHEST_TARGET - 1:.0%} was expected; "
            "check the target, or build for the other band"
        )


def refuse_large_change(move: FirstMove, wish: Wish) -> None:
    """Refuse a move that leaves too little of the part."""
    if wish.length_m + move.m < SHORTEST_SHARE * wish.length_m:
        raise BadInput(
            f"reaching {frequency_text(wish.target_hz)} would take {-move.m:.2f} m off a {wish.kind.part} of "
            f"{wish.length_m:.2f} m; at most {1 - SHORTEST_SHARE:.0%} is trimming; check target, length and kind"
        )
