"""Which setting of a whip serves each place, or all of them with one length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from sweepkit.conversions import FloatArray, mismatch_loss_db_from_gamma_abs
from sweepkit.several_bands.fitted_whip import FittedWhip, Modelled
from sweepkit.several_bands.places import Place

WHIP_STEPS = 41  # whip lengths tried where one is to serve all places
NEARLY_DB = 0.01  # settings within this of the best are equal, and the longest whip is taken
MOST_PARTS = 30  # of one place; a whip so narrow is set by hand


@dataclass(frozen=True, eq=False)
class Choice:
    """Settings of a whip for some places."""

    whip: FittedWhip
    places: Sequence[Place]

    def aim(self, losses: Sequence[FloatArray]) -> FloatArray:
        """Losses of the places as one."""
        if self.whip.wish.aim == "worst":
            return np.asarray(np.max(losses, axis=0))
        return np.asarray(np.average(losses, axis=0, weights=[place.weight for place in self.places]))

    def settings_of(self, place: Place, one_m: float | None) -> list[Modelled]:
        """One setting, or one for each part of a place that is wider than the whip."""
        whole = self._best_setting(place, place.middle_hz, one_m)
        width = 2 * self.whip.half_width(whole[0], whole[1], place.middle_hz)
        parts = (
            int(np.ceil(np.log(place.high_hz / place.low_hz) / width - 1e-6))
            if place.high_hz > place.low_hz
            else 1
        )
        parts = min(max(parts, 1), MOST_PARTS)
        if parts == 1:
            return [self.whip.modelled(place, place.middle_hz, *whole)]
        edges = np.geomspace(place.low_hz, place.high_hz, parts + 1)
        rows = []
        for low_hz, high_hz in pairwise(edges.tolist()):
            part = replace(place, low_hz=low_hz, high_hz=high_hz, target_hz=None)
            rows.append(
                self.whip.modelled(part, part.middle_hz, *self._best_setting(part, part.middle_hz, one_m))
            )
        if all((row.tap, row.whip_m) == whole for row in rows):  # nothing moves: it has one setting
            return [self.whip.modelled(place, place.middle_hz, *whole)]
        return rows

    def _best_setting(
        self, place: Place, target_hz: float, one_m: float | None
    ) -> tuple[float | None, float]:
        """Whole taps; of those that reach the target the one with the longest whip."""
        whip, wish = self.whip, self.whip.wish
        low_m, high_m = (one_m, one_m) if one_m is not None else wish.reach_m
        used = whip.used_for(place)
        if used is not None and one_m is None:
            return used.tap, used.whip_m
        if low_m < high_m and (found := whip.longest_for(target_hz)) is not None:
            return found
        off = {m: np.abs(np.log(whip.taps_hz(m) / target_hz)) for m in {low_m, high_m}}
        nearest_m = min(off, key=lambda m: float(off[m].min()))
        return wish.taps[int(np.argmin(off[nearest_m]))], nearest_m

    def one_length(self) -> float:
        """One whip for all places: least loss by the aim, the longest of nearly equal ones."""
        low_m, high_m = self.whip.wish.reach_m
        lengths = np.linspace(low_m, high_m, WHIP_STEPS) if high_m > low_m else np.array([low_m])
        losses = np.array(
            [float(self.aim([self._nominal_loss(each, m) for each in self.places])[0]) for m in lengths]
        )
        return float(lengths[losses <= losses.min() + NEARLY_DB].max())

    def _nominal_loss(self, place: Place, whip_m: float) -> FloatArray:
        tap, m = self._best_setting(place, place.middle_hz, whip_m)
        lone = replace(
            self.whip, draws=replace(self.whip.draws, offsets=self.whip.draws.offsets[:1]), members=1
        )
        row = lone.modelled(place, place.middle_hz, tap, m)
        return np.asarray(mismatch_loss_db_from_gamma_abs(row.best))
