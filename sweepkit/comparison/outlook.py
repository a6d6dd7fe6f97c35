"""What could be seen: the smallest difference between two single setups, and how many setups would show a given one."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from sweepkit.comparison.smallest import setups_needed, smallest_difference, spread_of_difference
from sweepkit.comparison.spread import Usual

# Relative differences that are worth asking for: a few, some and many percent.
ASKED = {
    "dip_hz": (0.005, 0.01, 0.02),
    "r_ohm": (0.1, 0.2, 0.5),
    "q": (0.1, 0.2, 0.5),
    "bandwidth_hz": (0.1, 0.2, 0.5),
}


@dataclass(frozen=True)
class Needed:
    """A relative difference, and how many setups of each side would show it; ``None``: more than anybody puts up."""

    difference: float
    setups_each: int | None


@dataclass(frozen=True)
class Outlook:
    """What setups of one antenna at one site would show of one quantity.

    ``quantity``: name of docs/names.md.
    ``smallest_one_each``: smallest relative difference of two single setups that would be seen 4 times of 5. [-]
    ``needed``: for each difference that is asked for.
    """

    quantity: str
    smallest_one_each: float
    needed: tuple[Needed, ...]
    rests_on: str


def describe_outlook(usual: Mapping[str, Usual | None]) -> tuple[Outlook, ...]:
    """What could be seen of each quantity."""
    found = []
    for name, asked in ASKED.items():
        spread = usual.get(name)
        if spread is None:
            continue
        one = smallest_difference(spread_of_difference(spread.setup, 1, 1))
        needed = tuple(Needed(share, setups_needed(spread.setup, math.log1p(share))) for share in asked)
        found.append(Outlook(name, math.expm1(one), needed, spread.words))
    return tuple(found)
