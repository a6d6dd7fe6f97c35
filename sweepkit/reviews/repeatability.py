"""How well a sweep repeats, as measured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Repeatability:
    """Standard deviations of the deepest dip over so many repeated sweeps; ``None`` where one of them has no dip."""

    repeats: int
    dip_hz_sd: float | None
    dip_swr_sd: float | None
