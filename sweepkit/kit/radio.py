"""The transmitter, and what it still gives at an SWR."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from sweepkit.kit.bad_gear import BadGear, refuse_outside
from sweepkit.limits import LIMITS

POWER_W = 100.0  # no radio told: watts then read as per cent; a choice of convenience, no source
RADIO_Z0_OHM = 50.0  # reference of transmitter outputs; common practice, no source
DIRECT_SWR = 2.0  # above it transmitters start to protect themselves; common practice, no source
# Fold-back is reported to start between SWR 1.5 and 2 and to be gradual; common practice, no source.
POWER_AT_SWR = ((1.5, 1.0), (2.0, 0.75), (3.0, 0.4))


@dataclass(frozen=True)
class Radio:
    """The transmitter.

    Parameters
    ----------
    power_w : float
        Forward power into a match, above 0. [W]
    z0_ohm : float
        Load it is made for; SWR is relative to it. [ohm]
    power_at_swr : tuple of (float, float)
        SWR, rising, and the share of ``power_w`` it still gives there, never rising. [-, -]
    direct_swr : float
        It may transmit without a tuner up to here, 1 or more. [-]

    Raises
    ------
    BadGear
        A value that no radio has.
    """

    power_w: float = POWER_W
    z0_ohm: float = RADIO_Z0_OHM
    power_at_swr: tuple[tuple[float, float], ...] = POWER_AT_SWR
    direct_swr: float = DIRECT_SWR

    def __post_init__(self) -> None:
        refuse_outside("power_w", "power_w", self.power_w, "power_w = 50")
        refuse_outside("reference_ohm", "z0_ohm", self.z0_ohm, "z0_ohm = 50")
        refuse_outside("swr", "direct_swr", self.direct_swr, "direct_swr = 2.0")
        _check_power_table(self.power_at_swr)


def _check_power_table(rows: tuple[tuple[float, float], ...]) -> None:
    """Rows of SWR and share: SWR rising from 1, share between 0 and 1 and never rising."""
    example = "power_at_swr = [[1.5, 1.0], [2.0, 0.75], [3.0, 0.4]]"
    if not rows:
        raise BadGear(
            f"power_at_swr is empty; rows of SWR and share were expected; write {example}", key="power_at_swr"
        )
    for swr, share in rows:
        if not LIMITS["swr"].holds(swr):
            raise BadGear(
                f"power_at_swr has the SWR {swr:g}; an SWR is {LIMITS['swr'].rule}; "
                f"write SWR first, then the share, as in {example}",
                key="power_at_swr",
            )
        if not 0 <= share <= 1:
            raise BadGear(
                f"power_at_swr has the share {share:g} at SWR {swr:g}; a share lies between 0 and 1; "
                "write 0.75 for 75 %",
                key="power_at_swr",
            )
    for (swr, share), (next_swr, next_share) in pairwise(rows):
        if not next_swr > swr:
            raise BadGear(
                f"power_at_swr goes from SWR {swr:g} to {next_swr:g}; its rows must be in rising SWR; "
                "sort them",
                key="power_at_swr",
            )
        if next_share > share:
            raise BadGear(
                f"power_at_swr rises from {share:g} at SWR {swr:g} to {next_share:g} at SWR {next_swr:g}; "
                f"a radio never gives more as the SWR rises; write shares that fall, as in {example}",
                key="power_at_swr",
            )
