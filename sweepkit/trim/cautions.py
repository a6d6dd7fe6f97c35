"""What to mind while folding, cutting or sliding; common practice of the trade unless a number says where from."""

from __future__ import annotations

from sweepkit.antennas.kind import Kind
from sweepkit.cautions import ONE_WAY, POWER_OFF
from sweepkit.quantities import length_text
from sweepkit.trim.answer import Action
from sweepkit.trim.folds import FoldDraws
from sweepkit.trim.move import FirstMove
from sweepkit.trim.wire import WireState

LONGEST_FOLD = (
    0.10  # of the part; longer tails are no longer worth what the law says; common practice, no source
)


def list_cautions(
    action: Action, move: FirstMove, kind: Kind, present: WireState, folds: FoldDraws
) -> tuple[str, ...]:
    """Cautions, most important first."""
    if action in ("leave", "cannot_say"):
        return ()
    cautions = [POWER_OFF]
    if kind.parts == 2:
        cautions.append("Change both legs by the same length.")
    if move.by == "cut":
        cautions.append(ONE_WAY)
        cautions.append("Cut this much, sweep again, then cut the rest.")
        if present.tail_m:
            gain = float(folds.value_m(present.tail_m).mean())
            cautions.append(
                f"Leave the {length_text(present.tail_m)} tail on: taking it off raises the frequency further, "
                f"as if another {length_text(max(present.tail_m - gain, 0.0))} were cut."
            )
    if move.by == "fold" and action == "shorten":
        cautions.append("Fold tightly against the wire and leave the fold on; cutting it off shifts again.")
        if present.tail_m - move.m > LONGEST_FOLD * present.length_m:
            cautions.append(
                f"The tail would be more than {LONGEST_FOLD:.0%} of the {kind.part}; cut the larger part of it "
                "off instead, in two steps."
            )
    cautions.append("Hands off the wire and the line while sweeping, at its final height.")
    return tuple(cautions)
