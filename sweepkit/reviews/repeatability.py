"""How well a sweep repeats, as measured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Repeatability:
    """Standard deviations of the deepest dip over repeated sweeps.

    Parameters
    ----------
    repeats : int
        How many there were.
    dip_hz_sd : float or None
        Of its frequency; ``None`` where a repeat has no dip. [Hz]
    dip_swr_sd : float or None
        Of its SWR. [-]
    """

    repeats: int
    dip_hz_sd: float | None
    dip_swr_sd: float | None
