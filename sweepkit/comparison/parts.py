"""The spread of dip, R and Q split into antenna, site, setup and instrument, from every single sweep."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from sweepkit.comparison.arms import site_key
from sweepkit.comparison.scale import value_on_scale
from sweepkit.comparison.setups import ComparedSetup, dip_of, figures_at, find_plane, geometry_of
from sweepkit.comparison.variance import Split, split_variance
from sweepkit.figures import Figure

QUANTITIES = ("dip_hz", "r_ohm", "q")
LEAST_SETUPS = 3
# Antennas whose dips lie further apart are on other bands: what antennas differ by is then no spread
APART = 0.1


def split_spread(
    setups: Sequence[ComparedSetup], figures: Mapping[str, Mapping[str, Figure]]
) -> dict[str, Split]:
    """Split each quantity; nothing with fewer than three setups that somebody told of.

    ``setups``: all there are; of each antenna those in the state it was in most often count.
    """
    told = [
        setup
        for setup in _in_one_state(setups)
        if setup.told and figures[setup.id]["dip_hz"].value is not None
    ]
    if len(told) < LEAST_SETUPS:
        return {}
    plane = find_plane(told)
    rows = [
        (setup, figures_at(one, plane, dip_of(setup, plane, figures[setup.id]["dip_hz"].value or 0.0)))
        for setup in told
        for one in _single_sweeps(setup)
    ]
    antennas = np.array([setup.antenna or "" for setup, _ in rows])
    dips = np.array([value_on_scale("dip_hz", own["dip_hz"]) for _, own in rows])
    one_band = bool(np.nanmax(dips) - np.nanmin(dips) <= APART)
    splits = {}
    for name in QUANTITIES:
        values = np.array([value_on_scale(name, own[name]) for _, own in rows])
        if not one_band:
            for antenna in np.unique(antennas):
                own = antennas == antenna
                values[own] -= np.nanmean(values[own]) if np.isfinite(values[own]).any() else 0.0
        splits[name] = split_variance(
            values,
            antenna=list(antennas) if one_band else [""] * len(rows),
            site=[site_key(setup) for setup, _ in rows],
            setup=[setup.id for setup, _ in rows],
        )
    return splits


def _in_one_state(setups: Sequence[ComparedSetup]) -> list[ComparedSetup]:
    """Setups of each antenna in the geometry it had most often: another one is no spread."""
    count = Counter((setup.antenna, geometry_of(setup)) for setup in setups)
    usual = {antenna: geometry for (antenna, geometry), _ in reversed(count.most_common())}
    return [setup for setup in setups if geometry_of(setup) == usual[setup.antenna]]


def _single_sweeps(setup: ComparedSetup) -> list[ComparedSetup]:
    return [ComparedSetup(setup.id, setup.facts, (sweep,), told=setup.told) for sweep in setup.sweeps]
