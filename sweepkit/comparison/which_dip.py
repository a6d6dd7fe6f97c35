"""The dip of each antenna that a comparison is about, and the figures of single sweeps at it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sweepkit.bands import Band
from sweepkit.comparison.setups import (
    NEAR_BAND,
    CommonDip,
    ComparedSetup,
    figures_at,
    find_dip,
    find_plane,
)
from sweepkit.comparison.spread import STEPS
from sweepkit.figures import Figure
from sweepkit.reviews.summary import PlaneName


def common_dips(
    everything: Sequence[ComparedSetup], setups: Sequence[ComparedSetup], band: Band | None
) -> dict[str | None, CommonDip | None]:
    """Of each antenna the dip that most of its setups show.

    ``setups``: those of them that are compared, which tell the plane.
    """
    plane = find_plane(setups)
    edges = (
        {}
        if band is None
        else {
            "low_hz": band.low_hz * (1 - NEAR_BAND),
            "high_hz": band.high_hz * (1 + NEAR_BAND),
        }
    )
    antennas: dict[str | None, list[ComparedSetup]] = {}
    for setup in everything:
        antennas.setdefault(setup.antenna, []).append(setup)
    return {
        name: find_dip(own, plane or find_plane(own[:1]) or "unknown", **edges)
        for name, own in antennas.items()
    }


def sweep_by_sweep(
    everything: Sequence[ComparedSetup],
    plane: PlaneName | None,
    common: Mapping[str | None, CommonDip | None],
) -> dict[str, list[dict[str, Figure]]]:
    """Figures of the single sweeps of those setups of which the log tells what lay between two of them.

    ``common``: the dip of each antenna, from :func:`common_dips`.
    """
    return {
        one.id: [
            figures_at(replace(one, sweeps=(sweep,)), plane, common[one.antenna]) for sweep in one.sweeps
        ]
        for one in everything
        if any(word in STEPS for word in one.steps[1:])
    }
