"""The two sides of a comparison, split into blocks so that like is compared with like."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from sweepkit.comparison.setups import ComparedSetup, geometry_of

By = Literal["setup", "site", "antenna", "radials", "line", "ground", "month"]
BY: tuple[By, ...] = ("setup", "site", "antenna", "radials", "line", "ground", "month")
UNKNOWN_SITE = "\0"  # begins the key of a site that nobody told

Block = tuple[Any, ...]


@dataclass(frozen=True)
class Arm:
    """Setups that share what the comparison is about.

    ``label``: such as the name of the site.
    """

    label: str
    setups: tuple[ComparedSetup, ...]

    @property
    def sites(self) -> frozenset[str]:
        """Where they stood; a site that nobody told counts as one of its own."""
        return frozenset(site_key(setup) for setup in self.setups)

    @property
    def outings(self) -> frozenset[tuple[str, str] | None]:
        """Site and day of each."""
        return frozenset(setup.outing for setup in self.setups)


def site_key(setup: ComparedSetup) -> str:
    """Name of the site; where it is not known a name that no other setup has."""
    return setup.site if setup.site is not None else f"{UNKNOWN_SITE}{setup.id}"


def line_text(setup: ComparedSetup) -> str | None:
    """Pieces of the line in order, as one text; ``None`` where nobody told."""
    line = setup.facts.get("line")
    return None if line is None else " + ".join(map(str, line)) or "none"


def _radials(setup: ComparedSetup) -> str | None:
    count = setup.facts.get("radials")
    return None if count is None else f"{count} radial" + ("" if count == 1 else "s")


LABEL: dict[By, Callable[[ComparedSetup], str | None]] = {
    "setup": lambda setup: setup.id,
    "site": lambda setup: setup.site,
    "antenna": lambda setup: setup.antenna,
    "radials": _radials,
    "line": line_text,
    "ground": lambda setup: setup.facts.get("ground"),
    "month": lambda setup: None if setup.when is None else setup.when[:7],
}


def outing_key(setup: ComparedSetup) -> Block:
    """Site and day; where they are not known something that no other setup has."""
    return setup.outing or (f"\0{setup.id}",)


# What both sides of a difference must have in common, the finest first. Where the site is not in it, what sites
# differ by counts in; where the outing is, pieces were only joined anew.
BLOCKS: dict[By, tuple[Callable[[ComparedSetup], Block], ...]] = {
    "setup": (lambda setup: (setup.antenna, geometry_of(setup)), lambda setup: (setup.antenna,)),
    "site": (lambda setup: (setup.antenna, geometry_of(setup)), lambda setup: (setup.antenna,)),
    "antenna": (lambda setup: (site_key(setup),), lambda setup: ()),
    "radials": (
        lambda setup: (setup.antenna, outing_key(setup)),
        lambda setup: (setup.antenna, site_key(setup)),
        lambda setup: (setup.antenna,),
    ),
    "line": (
        lambda setup: (setup.antenna, outing_key(setup)),
        lambda setup: (setup.antenna, site_key(setup)),
        lambda setup: (setup.antenna,),
    ),
    "ground": (lambda setup: (setup.antenna, geometry_of(setup)), lambda setup: (setup.antenna,)),
    "month": (
        lambda setup: (setup.antenna, geometry_of(setup), site_key(setup)),
        lambda setup: (setup.antenna, geometry_of(setup)),
        lambda setup: (setup.antenna,),
    ),
}


def sort_arms(setups: Sequence[ComparedSetup], by: By) -> tuple[list[Arm], list[ComparedSetup]]:
    """Sides of the comparison, in the order in which they first appear; numbers of radials rise, months follow."""
    sides: dict[str, list[ComparedSetup]] = {}
    unknown = []
    for setup in setups:
        label = LABEL[by](setup)
        if label is None:
            unknown.append(setup)
        else:
            sides.setdefault(label, []).append(setup)
    labels = list(sides)
    if by == "month":
        labels.sort()
    if by == "radials":
        labels.sort(key=lambda label: int(sides[label][0].facts["radials"]))
    return [Arm(label, tuple(sides[label])) for label in labels], unknown
