"""The transmitter, and what it still gives at an SWR."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from sweepkit.facts import IN_KIT
from sweepkit.kit.bad_gear import BadGear, refuse_outside, refuse_untrue
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
    power_at_volts : tuple of (float, float)
        Supply voltage and the share of ``power_w`` it gives there; kept in falling voltage. Empty: not told. [V, -]
    volts : float or None
        Supply voltage in use; ``None``: full power. [V]

    Raises
    ------
    BadGear
        A value that no radio has.
    """

    power_w: float = POWER_W
    z0_ohm: float = RADIO_Z0_OHM
    power_at_swr: tuple[tuple[float, float], ...] = POWER_AT_SWR
    direct_swr: float = DIRECT_SWR
    power_at_volts: tuple[tuple[float, float], ...] = ()
    volts: float | None = None

    def __post_init__(self) -> None:
        refuse_untrue(self, IN_KIT["radio"])
        _check_power_table(self.power_at_swr)
        rows = tuple(sorted(self.power_at_volts, reverse=True))
        _check_volts_table(rows)
        object.__setattr__(self, "power_at_volts", rows)
        refuse_outside("volts", "volts", self.volts, 'volts = "12.2 V"')

    @property
    def supply_share(self) -> float:
        """Share of ``power_w`` at the voltage in use, straight lines between rows and level beyond them. [-]"""
        if self.volts is None or not self.power_at_volts:
            return 1.0
        (high, first), *_ = self.power_at_volts
        if self.volts >= high:
            return first
        return next(
            (
                low_share + (share - low_share) * (self.volts - low) / (volts - low)
                for (volts, share), (low, low_share) in pairwise(self.power_at_volts)
                if self.volts >= low
            ),
            self.power_at_volts[-1][1],
        )


def _check_volts_table(rows: tuple[tuple[float, float], ...]) -> None:
    """Rows of voltage and share: each voltage once, the share between 0 and 1 and never rising as it falls."""
    example = "power_at_volts = [[13.8, 1.0], [11.5, 0.8]]"
    for volts, share in rows:
        if not LIMITS["volts"].holds(volts):
            raise BadGear(
                f"power_at_volts has the voltage {volts:g}; it must be {LIMITS['volts'].rule}; "
                f"write volts first, then the share, as in {example}",
                key="power_at_volts",
            )
        if not 0 <= share <= 1:
            raise BadGear(
                f"power_at_volts has the share {share:g} at {volts:g} V; a share lies between 0 and 1; "
                "write 0.8 for 80 %",
                key="power_at_volts",
            )
    for (volts, share), (low, low_share) in pairwise(rows):
        if volts == low:
            raise BadGear(
                f"power_at_volts has {volts:g} V twice; one share for each was expected; take one out",
                key="power_at_volts",
            )
        if low_share > share:
            raise BadGear(
                f"power_at_volts rises from {share:g} at {volts:g} V to {low_share:g} at {low:g} V; a radio never "
                f"gives more from less; write shares that fall with the voltage, as in {example}",
                key="power_at_volts",
            )


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
