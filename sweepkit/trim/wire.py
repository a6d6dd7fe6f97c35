"""What the wire was like at each sweep: from the feed to the turning point, and the tail beyond it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from sweepkit.antennas.kind import Move
from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.quantities import length_text
from sweepkit.trim.folds import FoldDraws


@dataclass(frozen=True)
class WireState:
    """Each trimmed part at the time of one sweep."""

    length_m: float  # feed to turning point
    tail_m: float = 0.0  # wire turned back beyond it

    def __post_init__(self) -> None:
        if not self.length_m > 0:
            raise ValueError(f"length_m is {self.length_m}; it must be above 0")
        if self.tail_m < 0:
            raise ValueError(f"tail_m is {self.tail_m}; it must be 0 or more")

    def acting_m(self, folds: FoldDraws) -> FloatArray:
        """Length of the straight wire that would dip at the same place, shape (n,)."""
        return self.length_m + self.tail_m - folds.value_m(self.tail_m)


@dataclass(frozen=True)
class EarlierState:
    """One earlier sweep in words: how long the part was then, and how it got from there to the next."""

    name: str  # file, for messages
    length_m: float  # absolute, or how much longer than now when relative
    relative: bool
    by: Move
    # whether somebody told that one calibration holds for it and for the present sweep
    one_calibration: bool = False


@dataclass(frozen=True)
class History:
    """States of the earlier sweeps, oldest first, and of the present one; ``by[k]`` leads on from state k.

    ``one_calibration[k]``: whether state k is told to share its calibration with the present one.
    """

    states: tuple[WireState, ...]
    by: tuple[Move, ...]
    present: WireState
    one_calibration: tuple[bool, ...]


def reconstruct(earlier: tuple[EarlierState, ...], *, length_m: float, tail_m: float | None) -> History:
    """States of the wire at every sweep, from how it was changed in between and its present length and tail.

    ``tail_m``: ``None``: what the folds told of add up to; folds that add up to more than the tail are a
    ``BadInput``.
    """
    lengths = [entry.length_m + (length_m if entry.relative else 0.0) for entry in earlier]
    for entry, then_m in zip(earlier, lengths, strict=True):
        if then_m <= 0:
            raise BadInput(
                f"--earlier {entry.name}: the part would have been {length_text(then_m)} long; "
                "give its length then, or how much longer it was, like +10 cm"
            )
    steps = [before - after for before, after in pairwise([*lengths, length_m])]
    folded = [step if entry.by == "fold" else 0.0 for entry, step in zip(earlier, steps, strict=True)]
    tails_back = [sum(folded[k:]) for k in range(len(folded))]
    present_m = max([0.0, *tails_back]) if tail_m is None else tail_m
    states = []
    for entry, then_m, back_m in zip(earlier, lengths, tails_back, strict=True):
        tail_then_m = present_m - back_m
        if tail_then_m < -1e-6:
            raise BadInput(
                f"--earlier {entry.name}: {length_text(back_m)} were folded since then, but the tail is "
                f"{length_text(present_m)} long; check --tail, or say cut: where wire was cut"
            )
        states.append(WireState(then_m, max(tail_then_m, 0.0)))
    present = WireState(length_m, present_m)
    shared = tuple(entry.one_calibration for entry in earlier)
    return History(tuple(states), tuple(entry.by for entry in earlier), present, shared)
