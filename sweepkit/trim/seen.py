"""A sweep as trimming looks at it: reviewed, and its dips at the plane that is tuned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.feedline.likely import guess_line
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer
from sweepkit.reviews.moved_magnitude import moved_magnitude
from sweepkit.reviews.review import Review, review
from sweepkit.sweep import Sweep
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.dips_of_view import dips_of_view
from sweepkit.trim.wire import EarlierState
from sweepkit.trim.wish import EarlierSweep

# What a matched line of unknown length does to the dip: 0.06 % in the middle, 0.3 % for one in ten (wire
# models behind 15 to 30 m); much less where the sweep shows no delay.
UNKNOWN_LINE_SIGMA = 0.002
NO_LINE_SEEN_SIGMA = 0.0005
JAGGED, BARE_LINE = ("jagged",), ("open-line", "shorted-line")  # findings after which no dip is believed
# Of a bare line the reflection at its far end is as large all along the sweep, but for what an analyzer leaves
# (directivity 35 dB, source match and tracking 30 dB, which turn once in 15 MHz or slower) and an impedance 1.4 % off,
# to both sides; the loss of the line makes all of it larger there. Common practice, no source.
ANALYZER_LEAVES = float(np.linalg.norm([10 ** (-35 / 20), 10 ** (-30 / 20), 10 ** (-30 / 20)]))
IMPEDANCE_OFF, TURN_HZ = 0.014, 15e6
# Of ln f to each side of a dip that is looked at; ends of a sweep over one another
NEAR_DIP, WIDE = 0.12, 1.6


@dataclass(frozen=True, eq=False)
class SeenSweep:
    """A sweep reviewed, and its dips at the plane that is tuned."""

    review: Review
    dips: tuple[DipEnsemble, ...]
    analyzer: Analyzer

    @classmethod
    def of(cls, sweep: Sweep, look: dict[str, Any]) -> SeenSweep:
        """Review a sweep and find its dips."""
        reviewed = review(sweep, bands=(), **look)
        view = reviewed.planes.feedpoint
        sigma = 0.0
        told = reviewed.planes.chain
        if view is None and told is not None:
            # Magnitudes behind a line of another impedance than the reference: the dip may have moved either way.
            measured = reviewed.planes.measured
            view = moved_magnitude(measured, told, towards_radio=False, seed=look["seed"])
        elif view is None:
            view = reviewed.planes.measured
            none_seen = view.phase == "signed" and guess_line(view.f_hz, view.gamma).answer == "none seen"
            sigma = NO_LINE_SEEN_SIGMA if none_seen else UNKNOWN_LINE_SIGMA
        dips = dips_of_view(view, extra_sigma=sigma, seed=look["seed"])
        if sigma == UNKNOWN_LINE_SIGMA:
            dips = tuple(dip.without_shape() for dip in dips)
        return cls(reviewed, dips, look["kit"].analyzer)

    @property
    def span_hz(self) -> tuple[float, float]:
        """Ends of the sweep. [Hz]"""
        f_hz = self.review.planes.measured.f_hz
        return float(f_hz[0]), float(f_hz[-1])

    @property
    def stops(self) -> list[Finding]:
        """Findings after which no dip is believed."""
        codes = JAGGED if self._has_antenna() else (*JAGGED, *BARE_LINE)
        return [finding for finding in self.review.findings if finding.code in codes]

    def _has_antenna(self) -> bool:
        """Whether a dip inside the sweep is deeper, or narrower, than a line with nothing at its end can show."""
        plane, measured = self.review.planes.feedpoint, self.review.planes.measured
        if plane is None or plane.f_hz[-1] > WIDE * plane.f_hz[0]:
            return False  # over a wide sweep a bare line is told by its turns
        there, here = np.abs(plane.gamma), np.abs(measured.gamma)
        inside = [dip.measured_hz for dip in self.dips if not dip.extrapolated]
        windows = [np.abs(np.log(plane.f_hz / f_hz)) < NEAR_DIP for f_hz in inside]
        return any(_is_no_bare_line(plane.f_hz[near], there[near], here[near]) for near in windows)

    def swr_at(self, f_hz: float) -> float | None:
        """SWR of the measured curve where it is measured; ``None`` outside the sweep."""
        view = self.review.planes.measured
        if not view.f_hz[0] <= f_hz <= view.f_hz[-1]:
            return None
        size = min(float(np.interp(f_hz, view.f_hz, np.abs(view.gamma))), 0.999)
        return (1 + size) / (1 - size)


def _is_no_bare_line(f_hz: FloatArray, there: FloatArray, here: FloatArray) -> bool:
    """Whether the size of a reflection at the end of a line swings or bends more than a bare line lets it."""
    larger = max(float(np.median(there) / max(np.median(here), 1e-3)), 1.0)
    if np.ptp(there) > 2 * np.hypot(ANALYZER_LEAVES, IMPEDANCE_OFF) * larger:
        return True
    turn, mhz = min(float(np.ptp(f_hz)) / TURN_HZ, 1.0), (f_hz - f_hz.mean()) / 1e6
    bent = np.ptp(there - np.polyval(np.polyfit(mhz, there, 1), mhz))
    return bool(bent > (ANALYZER_LEAVES * (1 - np.cos(np.pi * turn)) + 2 * IMPEDANCE_OFF) * larger)


def see_earlier(state: EarlierState, sweep: Sweep, look: dict[str, Any]) -> EarlierSweep:
    """An earlier sweep of the same antenna behind the same line."""
    dips = SeenSweep.of(sweep, look).dips
    if not dips:
        raise BadInput(
            f"--earlier {state.name}: no dip stands out in this sweep; leave it out, or take a better one",
            path=sweep.source.path or None,
        )
    return EarlierSweep(dips, state)
