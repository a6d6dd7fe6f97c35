"""What the picture of a tapped whip shows: every tap with the shortest and the longest whip."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweepkit.several_bands.fitted_whip import FittedWhip, Modelled
from sweepkit.several_bands.pictured import OverTurns

MOST_TAPS, PICTURED = 60, 1.6  # in a picture: so many taps, up to so much above the highest setting


def over_turns(whip: FittedWhip, rows: Sequence[Modelled]) -> OverTurns | None:
    """Every tap with the shortest and the longest whip; at most so many taps as a picture shows."""
    wish = whip.wish
    taps = [tap for tap in wish.taps if tap is not None]
    if len(taps) < 2:
        return None
    step = -(-len(taps) // MOST_TAPS)
    shown = taps[::-step][::-1]
    low_m, high_m = wish.reach_m
    among = [taps.index(tap) for tap in shown]
    shortest, longest = (whip.taps_hz(m)[among] for m in (low_m, high_m))
    settings = tuple((row.tap, float(row.dip_hz[0]), row.place.name) for row in rows if row.tap is not None)
    highest_hz = max(
        PICTURED * max((dip_hz for _, dip_hz, _ in settings), default=np.inf), float(longest.min())
    )
    odd = np.flatnonzero((shortest > highest_hz) | np.append(np.diff(shortest) >= 0, False))
    first = (
        int(odd[-1]) + 1 if odd.size else 0
    )  # of so few turns that the whip alone is past its quarter wave
    return OverTurns(np.array(shown[first:]), shortest[first:], longest[first:], settings)
