"""What to do with a dip and a change, and targets that are no trimming."""

from __future__ import annotations

import numpy as np

from sweepkit.errors import BadInput
from sweepkit.quantities import frequency_text
from sweepkit.trim.answer import Action
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.move import OVERSHOOT, FirstMove
from sweepkit.trim.particles import Particles
from sweepkit.trim.wish import Already, Wish

FARTHEST_TARGET = 1.30  # more than this between dip and target is no trimming; common practice, no source
BARELY_WORSE = 1.1  # SWR at the target over that at the dip, where no trimming is worth it; common practice
LEAST_CUT = 1e-4  # of the part; a smaller one is none
SHORTEST_SHARE = 0.6  # of the part must be left: the answer to length is not known further out


def decide(
    dip: DipEnsemble, wish: Wish, particles: Particles, already: Already, move: FirstMove
) -> tuple[Action, str]:
    """What to do, and why.

    Parameters
    ----------
    dip : DipEnsemble
        The dip.
    wish : Wish
        What is wanted.
    particles : Particles
        How the dip answers.
    already : Already
        What is known of the band as it is.
    move : FirstMove
        The move that would be made.
    """
    now_hz = float(np.exp(particles.quantile(particles.ln_f, (0.5,))[0]))
    shift = wish.target_hz / now_hz - 1
    away = f"the dip is at {frequency_text(now_hz)}, {abs(shift) * now_hz / 1e3:.0f} kHz {{}} the target"
    away = away.format("below" if shift > 0 else "above")
    if already.good_enough:
        return "leave", already.good_enough
    good_swr = max(wish.limit_swr, BARELY_WORSE * float(dip.swr[0]))
    as_good = already.swr_at_target is None or already.swr_at_target <= good_swr
    if abs(shift) <= wish.kind.repeatability and as_good:
        return "leave", (
            f"{away}; that is less than {wish.kind.title} shifts when it is put up again "
            f"({wish.kind.repeatability:.1%})"
        )
    if wish.by == "cut" and shift > 0 and move.m > -LEAST_CUT * wish.length_m:
        return "cannot_say", (
            f"{away}, but it is not known well enough: even the smallest cut could end {OVERSHOOT - 1:.1%} above "
            "the target; fold, or take a better sweep first"
        )
    if move.m < 0:
        return "shorten", f"{away}: too long"
    return "lengthen", f"{away}: too short already"


def refuse_far_target(dip: DipEnsemble, wish: Wish) -> None:
    """A target that another antenna is needed for.

    Parameters
    ----------
    dip : DipEnsemble
        The dip.
    wish : Wish
        What is wanted.

    Raises
    ------
    BadInput
        The target is too far away.
    """
    ratio = wish.target_hz / dip.measured_hz
    if max(ratio, 1 / ratio) > FARTHEST_TARGET:
        raise BadInput(
            f"the dip that belongs to this length is at {frequency_text(dip.measured_hz)}, the target at "
            f"{frequency_text(wish.target_hz)}; a target within {FARTHEST_TARGET - 1:.0%} was expected; "
            "check the target, or build for the other band"
        )


def refuse_large_change(move: FirstMove, wish: Wish) -> None:
    """A move that leaves too little of the part.

    Parameters
    ----------
    move : FirstMove
        The move.
    wish : Wish
        What is wanted.

    Raises
    ------
    BadInput
        It is more than trimming.
    """
    if wish.length_m + move.m < SHORTEST_SHARE * wish.length_m:
        raise BadInput(
            f"reaching {frequency_text(wish.target_hz)} would take {-move.m:.2f} m off a {wish.kind.part} of "
            f"{wish.length_m:.2f} m; at most {1 - SHORTEST_SHARE:.0%} is trimming; check target, length and kind"
        )
