"""What is told of an antenna with a part for each place, and what cannot be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from sweepkit.antennas.kind import Move
from sweepkit.errors import BadInput
from sweepkit.quantities import length_text
from sweepkit.several_bands.answer import Aim
from sweepkit.several_bands.places import Place
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.folds import Lie

PartsKind = Literal["fan", "linked", "trap"]
TITLES: dict[PartsKind, str] = {"fan": "a fan", "linked": "a linked dipole", "trap": "a trap dipole"}
# One leg in wavelengths at its dip: ends and middle. Dipoles 0.238 to 0.245 bare, insulation shortens by up to 7 %,
# pairs of a fan end 3 to 9 % longer (models, trade reports); the wire beyond an open link loads the section inside it
# through the gap, by up to 20 % at 10 m (1 to 3 pF, own circuits); traps load every outer section.
SHARES: dict[PartsKind, tuple[float, float, float]] = {
    "fan": (0.215, 0.305, 0.247),
    "linked": (0.190, 0.290, 0.242),
    "trap": (0.130, 0.285, 0.225),
}
SAME_PLACE = 1.02  # places nearer than this may have their legs either way round


@dataclass(frozen=True)
class PartsWish:
    """What is told of the antenna and wanted of it: one leg by place, feed to end, link or trap. [m]"""

    kind: PartsKind
    lengths_m: Mapping[str, float]
    by: Move
    aim: Aim
    lies: Lie | None = None


@dataclass(frozen=True)
class EarlierPart:
    """Dips of an earlier sweep, the part that was different then, and how long it was. [m]"""

    dips: tuple[DipEnsemble, ...]
    part: str
    length_m: float


def refuse_untold(places: Sequence[Place], wish: PartsWish) -> None:
    """Refuse one place alone, a pair without a length, or lengths that go up with the frequency."""
    if len(places) < 2:
        raise BadInput(
            f"{TITLES[wish.kind]} serves several places, and one is named; name each with --band, --segment or --target"
        )
    for place in places:
        if place.name not in wish.lengths_m:
            name = place.name
            raise BadInput(
                f"{name} has no length; one leg, feed to end, was expected; add --length '{name}=10.61 m'"
            )
    upwards = sorted(places, key=lambda place: place.middle_hz)
    for low, high in pairwise(upwards):
        lower_m, higher_m = wish.lengths_m[low.name], wish.lengths_m[high.name]
        if lower_m <= higher_m and high.middle_hz > SAME_PLACE * low.middle_hz:
            raise BadInput(
                f"the leg for {low.name} is {length_text(lower_m)} and that for {high.name} {length_text(higher_m)}; a "
                "longer one for the lower place was expected; are two exchanged?"
            )
