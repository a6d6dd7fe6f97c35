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


EXAMPLES = {
    "power_at_swr": "[[1.5, 1.0], [2.0, 0.75], [3.0, 0.4]]",
    "power_at_volts": "[[13.8, 1.0], [11.5, 0.8]]",
}


def _check_shares(key: str, rows: tuple[tuple[float, float], ...], limit: str, show: str) -> None:
    """Rows of a quantity and the share of the power there, best first: between 0 and 1, and never rising again."""
    example = f"{key} = {EXAMPLES[key]}"
    for at, share in rows:
        if not LIMITS[limit].holds(at):
            rule = f"it must be {LIMITS[limit].rule}"
            raise BadGear(
                f"{key} has {show.format(at)}; {rule}; write that first, then the share, as in {example}",
                key=key,
            )
        if not 0 <= share <= 1:
            text = f"{key} has the share {share:g} at {show.format(at)}; a share lies between 0 and 1"
            raise BadGear(f"{text}; write 0.75 for 75 %", key=key)
    for (at, share), (worse, worse_share) in pairwise(rows):
        if worse_share > share:
            text = (
                f"{key} rises from {share:g} at {show.format(at)} to {worse_share:g} at {show.format(worse)}"
            )
            raise BadGear(
                f"{text}; a radio gives less there, never more; write shares that fall, as in {example}",
                key=key,
            )


def _check_volts_table(rows: tuple[tuple[float, float], ...]) -> None:
    """Rows of voltage and share: each voltage once, the share never rising as it falls."""
    _check_shares("power_at_volts", rows, "volts", "{:g} V")
    for (volts, _), (low, _) in pairwise(rows):
        if volts == low:
            raise BadGear(
                f"power_at_volts has {volts:g} V twice; one share for each was expected; take one out",
                key="power_at_volts",
            )


def _check_power_table(rows: tuple[tuple[float, float], ...]) -> None:
    """Rows of SWR and share: SWR rising from 1, the share never rising."""
    key = "power_at_swr"
    if not rows:
        text = f"{key} is empty; rows of SWR and share were expected; write {key} = {EXAMPLES[key]}"
        raise BadGear(text, key=key)
    for (swr, _), (next_swr, _) in pairwise(rows):
        if not next_swr > swr:
            text = f"{key} goes from SWR {swr:g} to {next_swr:g}; its rows must be in rising SWR; sort them"
            raise BadGear(text, key=key)
    _check_shares(key, rows, "swr", "SWR {:g}")
