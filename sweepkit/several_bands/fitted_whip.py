"""The fitted whip: where each setting dips, what its resistance is, and how it fits a place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np

from sweepkit.antennas.wire_lines import short_monopole_resistance_ohm
from sweepkit.conversions import FloatArray
from sweepkit.reviews.plane import LARGEST_GAMMA
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.seen import SeenFile
from sweepkit.several_bands.state import grid_of
from sweepkit.several_bands.whip_model import MODEL_SIGMA, WhipDraws
from sweepkit.several_bands.whip_told import UsedSetting, WhipWish
from sweepkit.trim.dip import DipEnsemble

COIL_Q = (120.0, 350.0)  # of air-wound coils people carry, even in the logarithm; common practice, no source
GROUND_POWER = (
    0.5  # spread of the power of frequency by which the loss of the ground system goes; common practice
)
HALVINGS = 22  # of the whip's range, down to a thousandth of a millimetre
WIDE_SWR = 2.0
WIDE_DB = 1.0
NEAR_PLACE = 0.003  # of the frequency: a setting whose dip was so near a place is one for it

SAME_WHIP_M = 0.005  # a whip is slid no more exactly than this


@dataclass(frozen=True, eq=False)
class Modelled:
    """A setting for a part of a place: its model on every draw."""

    place: Place
    target_hz: float
    tap: float | None
    whip_m: float
    dip_hz: FloatArray
    gamma: FloatArray
    best: FloatArray


@dataclass(frozen=True, eq=False)
class FittedWhip:
    """The fitted whip with what its present dip says of losses."""

    wish: WhipWish
    draws: WhipDraws
    dip: DipEnsemble
    file: SeenFile | None
    members: int
    seed: int
    used: tuple[UsedSetting, ...] = ()
    offset: float = 0.0
    spread: float = 0.0

    def dips_hz(self, tap: float | None, whip_m: float) -> FloatArray:
        """Where a setting dips, with what the formula leaves, shape (draws,); one on record dips as it did."""
        dice = np.random.default_rng([self.seed, 73])
        error, setup = dice.normal(0, 1, self.members), dice.normal(0, self.spread, self.members)
        used = self.on_record(tap, whip_m)
        if used is not None:
            error[0] = setup[0] = 0.0
            return np.asarray(used.dip_hz * np.exp(used.sigma * error + setup + self.offset))
        f_hz = self.draws.dip_hz(tap, whip_m, guess_hz=self.dip.measured_hz)
        error *= MODEL_SIGMA
        away = np.minimum(
            np.abs(np.log(f_hz / self.dip.measured_hz)) / 0.05, 1.0
        )  # a slide of little is sure
        error[0] = setup[0] = 0.0
        return np.asarray(f_hz * np.exp(error * away + setup + self.offset))

    def one_hz(self, tap: float | None, whip_m: float) -> float:
        """The same of the record or the best fit alone."""
        if (used := self.on_record(tap, whip_m)) is not None:
            return float(used.dip_hz * np.exp(self.offset))
        lone = replace(self.draws, offsets=self.draws.offsets[:1])
        return float(lone.dip_hz(tap, whip_m, guess_hz=self.dip.measured_hz)[0] * np.exp(self.offset))

    def taps_hz(self, whip_m: FloatArray | float) -> FloatArray:
        """Where every tap dips by the best fit alone, with a whip length for all or one each, shape (taps,)."""
        taps = self.wish.taps
        lone = replace(self.draws, offsets=np.repeat(self.draws.offsets[:1], len(taps), axis=0))
        tapped = None if taps[0] is None else np.array(taps, dtype=np.float64)
        f_hz = lone.dip_hz(tapped, np.broadcast_to(whip_m, (len(taps),)), guess_hz=self.dip.measured_hz)
        return np.asarray(f_hz * np.exp(self.offset))

    def on_record(self, tap: float | None, whip_m: float) -> UsedSetting | None:
        """The last time that a setting was swept."""
        same = [each for each in self.used if each.tap == tap and abs(each.whip_m - whip_m) <= SAME_WHIP_M]
        return same[-1] if same else None

    def used_for(self, place: Place) -> UsedSetting | None:
        """The last setting whose dip lay in a place."""
        inside = [
            each
            for each in self.used
            if place.low_hz * (1 - NEAR_PLACE) <= each.dip_hz <= place.high_hz * (1 + NEAR_PLACE)
        ]
        return inside[-1] if inside else None

    def longest_for(self, target_hz: float) -> tuple[float | None, float] | None:
        """Tap and whip that dip at a frequency, fewest turns and so the longest whip; ``None`` where none does."""
        low_m, high_m = (np.full(len(self.wish.taps), end_m) for end_m in self.wish.reach_m)
        if low_m[0] == high_m[0]:
            return None
        reach = np.flatnonzero((self.taps_hz(high_m) <= target_hz) & (target_hz <= self.taps_hz(low_m)))
        if not reach.size:
            return None
        for _ in range(HALVINGS):
            middle_m = (low_m + high_m) / 2
            above = self.taps_hz(middle_m) > target_hz
            low_m, high_m = np.where(above, middle_m, low_m), np.where(above, high_m, middle_m)
        first = int(reach[0])
        return self.wish.taps[first], float(low_m[first] + high_m[first]) / 2

    def r_ohm(self, tap: float | None, whip_m: float, f_hz: FloatArray) -> FloatArray:
        """Resistance at the dip: radiation, coil, and the ground system by what is left now, shape (draws,)."""
        dice = np.random.default_rng([self.seed, 79])
        n = self.members
        now = self.dip.r_ohm[self.dip.members(n)]
        swr = self.dip.swr[self.dip.members(n)]
        guess = 50.0 * np.where(dice.random(n) < 0.75, 1 / swr, swr)  # most whips are below 50 ohm
        now = np.where(np.isfinite(now), now, guess)
        measured = float(self.dip.r_ohm[0])
        now[0] = measured if np.isfinite(measured) else 50.0 / float(self.dip.swr[0])
        q = COIL_Q[0] * (COIL_Q[1] / COIL_Q[0]) ** dice.random(n)
        power = dice.normal(0, GROUND_POWER, n)
        q[0], power[0] = np.sqrt(COIL_Q[0] * COIL_Q[1]), 0.0
        now_hz, wish = self.dip.measured_hz, self.wish
        known = short_monopole_resistance_ohm(now_hz, wish.length_m)
        known = known + self.draws.coil_ohm(wish.tap, np.full(n, now_hz)) / q
        ground = np.maximum(now - known, 0.1 * now) * (f_hz / now_hz) ** power
        return np.asarray(
            short_monopole_resistance_ohm(f_hz, whip_m) + self.draws.coil_ohm(tap, f_hz) / q + ground
        )

    def half_width(self, tap: float | None, whip_m: float, target_hz: float) -> float:
        """Of ln f to each side of the dip up to SWR 2, or to 1 dB above the best where it never gets there."""
        f_hz = np.full(self.members, target_hz)
        r = float(self.r_ohm(tap, whip_m, f_hz)[0])
        slope = float(self.draws.reactance_slope_ohm(tap, whip_m, f_hz)[0])
        level = ((WIDE_SWR - 1) / (WIDE_SWR + 1)) ** 2
        square = (level * (r + 50) ** 2 - (r - 50) ** 2) / (1 - level)
        if square <= 0:
            square = (r + 50) ** 2 * (10 ** (WIDE_DB / 10) - 1)
        return float(np.sqrt(square)) / slope

    def modelled(self, place: Place, target_hz: float, tap: float | None, whip_m: float) -> Modelled:
        """The reflection over the place with a setting, from resistance and slope of the reactance at its dip."""
        dip_hz = self.dips_hz(tap, whip_m)
        r = self.r_ohm(tap, whip_m, dip_hz)[:, np.newaxis]
        slope = self.draws.reactance_slope_ohm(tap, whip_m, dip_hz)[:, np.newaxis]
        grid = np.log(grid_of(place))
        z = r + 1j * slope * (grid - np.log(dip_hz)[:, np.newaxis])
        gamma = (z - 50) / (z + 50)
        nearest = np.clip(np.log(dip_hz), grid[0], grid[-1])
        if place.low_hz == place.high_hz:
            nearest = np.full(dip_hz.size, np.log(place.low_hz))
        at = r[:, 0] + 1j * slope[:, 0] * (nearest - np.log(dip_hz))
        best = np.minimum(np.abs((at - 50) / (at + 50)), LARGEST_GAMMA)
        return Modelled(place, target_hz, tap, whip_m, dip_hz, cast(Any, gamma), best)
