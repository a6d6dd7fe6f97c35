"""What each quantity that people tell can be: one row each, for the kit, setup.toml, options, ``--set`` and import.

A limit keeps out what no station has: a slipped digit, another unit, a number without end. What lies inside
may still be unlikely; that is for whoever knows the antenna to say. All limits are common practice, no source,
unless a source stands beside them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from numbers import Integral, Real
from typing import Any

from sweepkit.errors import BadInput


@dataclass(frozen=True)
class Limit:
    """The range of one quantity."""

    name: str  # as in docs/names.md; carries the unit
    unit: str  # after a number; empty for none
    low: float  # belongs to the range, unless above is said
    high: float  # belongs to the range
    help: str  # what it is, for people
    above: bool = False  # low itself is refused
    whole: bool = False  # numbers only

    @property
    def rule(self) -> str:
        """``above 0 and at most 10000 m``; ``a whole number from 0 to 1000``."""
        unit = f" {self.unit}" if self.unit else ""
        low, high = _text(self.low), _text(self.high)
        if self.whole:
            return f"a whole number from {low} to {high}{unit}"
        return f"above {low} and at most {high}{unit}" if self.above else f"{low} to {high}{unit}"

    def holds(self, value: Any) -> bool:
        """Whether a value, of whatever type, lies inside."""
        if isinstance(value, bool) or not isinstance(value, Real):
            return False
        number: Any = value  # whole numbers without end are compared as they are
        if not isinstance(value, Integral) and (not math.isfinite(number) or (self.whole and number % 1)):
            return False
        return bool((self.low < number if self.above else self.low <= number) and number <= self.high)


PLAIN = 10**7  # larger numbers are shortened in a message

LIMITS = {
    limit.name: limit
    for limit in (
        # Below, no antenna of this trade; above, no handheld analyzer.
        Limit("f_hz", "Hz", 1e3, 1e12, "frequency"),
        # The longest long-wire antennas are a few km; a longer one has its unit wrong.
        Limit("length_m", "m", 0.0, 10_000.0, "length of a wire, a line or a height", above=True),
        Limit("size_m", "m", 0.0, 10_000.0, "height, tail or distance that may be nothing"),
        Limit("change_m", "m", -10_000.0, 10_000.0, "change of a length; negative shortens"),
        Limit("coil_h", "H", 0.0, 1.0, "inductance of a loading coil", above=True),
        Limit("turns", "", 0.0, 500.0, "turns of a coil, all or in use", above=True),
        Limit("tap_step", "", 0.25, 500.0, "turns from tap to tap"),
        Limit("radials", "", 0, 1000, "how many radials", whole=True),
        Limit("transformer", "", 1.0, 200.0, "impedance ratio of the box at a feedpoint"),
        # The coldest air measured at the ground was -89.2 C (WMO, Vostok 1983); above, a thermometer in the sun.
        Limit("temperature_c", "C", -90.0, 80.0, "air temperature"),
        Limit("year", "", 1900, 2199, "year in which it was swept", whole=True),
        Limit("z0_ohm", "ohm", 1.0, 2000.0, "impedance of a line"),
        Limit("reference_ohm", "ohm", 0.1, 100_000.0, "reference resistance of a file or a radio"),
        # Delay lines wound as a helix reach some 0.01.
        Limit("velocity_factor", "", 0.01, 1.0, "share of the speed of light"),
        Limit("k1", "dB/100 m", 0.0, 1000.0, "loss of the conductors at 1 MHz; a loss is positive"),
        Limit("k2", "dB/100 m", 0.0, 1000.0, "loss of the dielectric at 1 MHz; a loss is positive"),
        Limit("tolerance", "", 0.0, 1.0, "one sigma as a share of the value (0.05 is 5 %)"),
        Limit("tuner_loss_db", "dB", 0.0, 20.0, "what a tuner loses when matched; a loss is positive"),
        # From a coil wound with resistance wire to a silver-plated one in air.
        Limit("coil_q", "", 1.0, 10_000.0, "quality factor of a tuner's coil"),
        Limit("volts", "V", 0.0, 1000.0, "supply voltage of a radio", above=True),
        Limit("directivity_db", "dB", 0.0, 100.0, "how far below the error is", above=True),
        Limit("noise", "", 0.0, 0.5, "rms noise as a share of full reflection"),
        Limit("points", "", 2, 1_000_000, "points of a sweep", whole=True),
        # From a milliwatt to more than any licence allows.
        Limit("power_w", "W", 0.001, 100_000.0, "forward power"),
        Limit("swr", "", 1.0, 1000.0, "standing-wave ratio"),
        Limit("share", "", 0.0, 1.0, "share of the whole (0.75 is 75 %)"),
        # At 10 000 the ends of a 95 % interval are good to some 2 % of its width; memory grows with draws x points.
        Limit("draws", "", 0, 10_000, "believable sweeps drawn for the intervals", whole=True),
        Limit("seed", "", 0, 2**63 - 1, "where random numbers start", whole=True),
        Limit("region", "", 1, 3, "ITU region", whole=True),
    )
}


def complaint(name: str, value: Any) -> str | None:
    """Why a value, never trusted, cannot be, in words that go on after its name; nothing where it can."""
    limit = LIMITS[name]
    return None if limit.holds(value) else f"is {_text(value)}; it must be {limit.rule}"


def refuse_outside(name: str, value: Any, *, called: str | None = None) -> None:
    """Refuse a value outside its row by what the user calls it, such as ``--draws``; ``None`` is nothing told."""
    wrong = None if value is None else complaint(name, value)
    if wrong:
        raise BadInput(f"{called or name} {wrong}")


def _text(value: Any) -> str:
    """A value as a person writes it, short whatever it is."""
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < PLAIN else f"{value:g}"
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value) if abs(value) < PLAIN else f"about 10^{int(math.log10(abs(value)))}"
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
