"""What each group of setups is like: mean with an interval that holds set-up scatter and sites, and its ends."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sweepkit.comparison.arms import Arm, By
from sweepkit.comparison.differences import Figures, row_of
from sweepkit.comparison.scale import least_of, value_from_scale
from sweepkit.comparison.setups import FOLLOWING, JUDGED
from sweepkit.comparison.smallest import Spread, spread_of_mean, usual_limit
from sweepkit.comparison.spread import Usual
from sweepkit.figures import Figure

QUANTITIES = (*JUDGED, *FOLLOWING)
ONE_SITE = ("site",)  # questions whose groups are one site each, so that what sites differ by is the answer


@dataclass(frozen=True)
class Group:
    """Setups that share what the comparison is about.

    ``name``: such as the name of the site.
    ``n``, ``sites``: how many setups, at how many sites.
    ``figures``: means by quantity; of another such group of setups each would lie inside its interval 95 times of
    100.
    ``ends``: setups with the lowest and the highest value, by quantity: id, value, id, value.
    """

    name: str
    n: int
    sites: int
    figures: Mapping[str, Figure]
    ends: Mapping[str, tuple[str, float, str, float]]

    def to_json(self) -> dict[str, Any]:
        """As promised, and the ends."""
        ends = {
            name: {"lowest": {"id": low, "value": a}, "highest": {"id": high, "value": b}}
            for name, (low, a, high, b) in self.ends.items()
        }
        figures = {name: figure.to_json() for name, figure in self.figures.items()}
        return {"name": self.name, "n": self.n, "sites": self.sites} | figures | {"ends": ends}


def describe_groups(
    arms: Sequence[Arm], by: By, figures: Figures, usual: Mapping[str, Usual | None]
) -> tuple[Group, ...]:
    """One group for each side."""
    return tuple(
        Group(
            arm.label,
            len(arm.setups),
            len(arm.sites),
            {name: _mean(name, arm, by, figures, usual.get(name)) for name in QUANTITIES},
            {name: ends for name in QUANTITIES if (ends := _ends(name, arm, figures)) is not None},
        )
        for arm in arms
    )


def _mean(name: str, arm: Arm, by: By, figures: Figures, usual: Usual | None) -> Figure:
    """Mean of a group; the analyzer's error is the same in all and does not shrink with their number."""
    rows = [
        (setup, row) for setup in arm.setups if (row := row_of(name, figures[setup.id][name])) is not None
    ]
    if not rows:
        return figures[arm.setups[0].id][name]
    values = np.array([row for _, row in rows])
    middle = float(values[:, 1].mean())
    value = value_from_scale(name, middle)
    below, above = (math.sqrt(float(values[:, column].mean())) for column in (3, 4))
    half = 0.0
    if usual is not None:
        sites = len({setup.site if setup.site is not None else setup.id for setup, _ in rows})
        outing: Spread | None = None if by in ONE_SITE else usual.site
        half = usual_limit(spread_of_mean(usual.setup, len(rows), outing=outing, outings=sites))
    low, high = (value_from_scale(name, middle + sign * half) for sign in (-1, 1))
    lower = max(value - math.hypot(value - low, below), min(value, least_of(name)))
    ends = lower, value + math.hypot(high - value, above)
    return Figure(value, *ends) if ends[0] < ends[1] else Figure(value)


def _ends(name: str, arm: Arm, figures: Figures) -> tuple[str, float, str, float] | None:
    known = [
        (figures[setup.id][name].value or 0.0, setup.id)
        for setup in arm.setups
        if figures[setup.id][name].value is not None
    ]
    if not known:
        return None
    (low, low_id), (high, high_id) = min(known), max(known)
    return low_id, low, high_id, high
