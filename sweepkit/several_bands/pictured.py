"""What a picture of an answer shows; nothing of it is in the JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sweepkit.conversions import FloatArray


@dataclass(frozen=True, eq=False)
class OverLength:
    """Best SWR of each place over the length of one wire, measured values; NaN where the sweep does not show it."""

    length_m: FloatArray
    swr: Mapping[str, FloatArray]
    now_m: float
    best_m: float
    first_m: float


@dataclass(frozen=True, eq=False)
class OverTurns:
    """Where each tap dips with the shortest and the longest whip, by the best fit. [Hz]"""

    taps: FloatArray
    shortest_hz: FloatArray
    longest_hz: FloatArray
    settings: tuple[tuple[float, float, str], ...]
