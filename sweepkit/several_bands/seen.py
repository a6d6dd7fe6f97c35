"""The sweeps of one state of an antenna: which shows a place best, and whether they can be of one state at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from sweepkit.findings import Finding
from sweepkit.kit import Box, Kit
from sweepkit.kit.analyzer import Analyzer
from sweepkit.quantities import frequency_text
from sweepkit.reviews.next_sweep import NextSweep, sweep_across
from sweepkit.reviews.view import View
from sweepkit.several_bands.curve import BEYOND, SmoothCurve, smooth_view
from sweepkit.several_bands.places import Place
from sweepkit.sweep import Sweep
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.seen import SeenSweep

REACH = (0.88, 1.10)  # of the present length that a move goes to
SLID = (np.log(REACH[0]) * 1.08, np.log(REACH[1]) * 1.08)  # of ln f that a curve is slid down and up by
NEAR = 0.12  # how far from the middle of a place its dip may be
SAME_DIP = 0.03  # two dips nearer than this are one
JOINED_ANEW = 0.001  # what an antenna moves when swept again after joining anew (trade), two sigma
OF_STEP = 0.25  # of the step of the coarser sweep that a dip between its points may be misplaced by
MOST_DRAWS = 300  # of the curves: an interval from so many is good to a tenth
MOST_SWR = 6.0  # of a dip that two sweeps are held against one another by; common practice, no source
WIDTH = 0.03  # SWR-2 width of a wire's dip over its frequency


@dataclass(frozen=True, eq=False)
class SeenFile:
    """One sweep, reviewed, and its curve over the places it was chosen for."""

    seen: SeenSweep
    curve: SmoothCurve

    @property
    def view(self) -> View:
        """The plane that is tuned: the feedpoint where it is known."""
        return view_of(self.seen)


@dataclass(frozen=True, eq=False)
class SeenPlace:
    """A place and the file that shows it best; ``None`` where none does."""

    place: Place
    file: SeenFile | None


@dataclass(frozen=True, eq=False)
class SeenAll:
    """All sweeps of the present state."""

    files: tuple[SeenFile, ...]
    places: tuple[SeenPlace, ...]
    findings: tuple[Finding, ...]

    @property
    def spans_hz(self) -> list[tuple[float, float]]:
        """Ends of the sweeps. [Hz]"""
        return [(float(file.view.f_hz[0]), float(file.view.f_hz[-1])) for file in self.files]

    def dips(self) -> list[tuple[SeenFile, DipEnsemble]]:
        """Dips of all files, each once, rising; of two sweeps of one dip that of the finer sweep."""
        found: list[tuple[SeenFile, DipEnsemble]] = []
        for file in sorted(self.files, key=lambda file: file.view.step_hz):
            for dip in file.seen.dips:
                if all(abs(np.log(dip.measured_hz / known.measured_hz)) > SAME_DIP for _, known in found):
                    found.append((file, dip))
        return sorted(found, key=lambda pair: pair[1].measured_hz)


@dataclass(frozen=True, eq=False)
class Around:
    """What every plan is made with: the operator's gear, what is said of the files, the SWR that is good enough,
    draws, the antenna's box.
    """

    kit: Kit
    files: tuple[dict[str, Any], ...]
    limit_swr: float
    with_interval: bool = True
    seed: int = 0
    box: Box | None = None


def view_of(seen: SeenSweep) -> View:
    """The plane that is tuned: the feedpoint where it is known."""
    planes = seen.review.planes
    return planes.feedpoint if planes.feedpoint is not None else planes.measured


def see_all(
    sweeps: Sequence[Sweep], places: Sequence[Place], look: dict[str, Any], *, slid: bool = True
) -> SeenAll:
    """Review the sweeps and give each place the one that shows it best.

    ``look`` is what a review takes. Where no curves are to be ``slid``, no more is looked at than the places
    themselves.
    """
    look = look | {"draws": min(look["draws"], MOST_DRAWS)}
    seen = [SeenSweep.of(sweep, look) for sweep in sweeps]
    owners = [_best_file(place, [view_of(each) for each in seen]) for place in places]
    files = []
    for number, each in enumerate(seen):
        own = [place for place, owner in zip(places, owners, strict=True) if owner == number]
        down, up = SLID if slid else (-BEYOND, BEYOND)  # a shorter wire shows at f what now shows below it
        wanted = [(np.log(place.low_hz) + down, np.log(place.high_hz) + up) for place in own]
        curve = smooth_view(view_of(each), wanted, seed=look["seed"]) if own else _NO_CURVE
        files.append(SeenFile(each, curve))
    stops = [finding for each in seen for finding in each.stops]
    differ = _differences(seen)
    return SeenAll(
        tuple(files),
        tuple(
            SeenPlace(place, None if owner is None else files[owner])
            for place, owner in zip(places, owners, strict=True)
        ),
        (*stops, *differ),
    )


_NO_CURVE = SmoothCurve(0.0, np.ones((1, 2), dtype=np.complex128), 0.0, 0.0)


def _best_file(place: Place, views: Sequence[View]) -> int | None:
    """Of the sweeps that cover most of a place the finest; none where not even its middle is near one."""
    scores = []
    for number, view in enumerate(views):
        low, high = float(view.f_hz[0]), float(view.f_hz[-1])
        reach = min(BEYOND, 0.5 * np.log(high / low))
        if np.log(low) - reach <= np.log(place.low_hz) and np.log(place.high_hz) <= np.log(high) + reach:
            covered = max(0.0, min(high, place.high_hz) - max(low, place.low_hz))
            whole = max(place.high_hz - place.low_hz, 1.0)
            at_point = place.low_hz == place.high_hz and low <= place.low_hz <= high
            scores.append((round(1.0 if at_point else covered / whole, 2), -view.step_hz, number))
    return max(scores)[2] if scores else None


def _differences(seen: Sequence[SeenSweep]) -> list[Finding]:
    """Pairs of sweeps in which one dip is in two places."""
    found = []
    for (a, one), (b, two) in combinations(enumerate(seen, start=1), 2):
        apart = [pair for dip in one.dips for pair in [_apart(dip, one, two)] if pair is not None]
        if apart:
            first_hz, second_hz = apart[0]
            found.append(
                Finding(
                    "sweeps-differ",
                    "stop",
                    f"file {a} dips at {frequency_text(first_hz)} where file {b} dips at "
                    f"{frequency_text(second_hz)}: they are not of one state of the antenna",
                    "sweep all of it again as it stands now, and name earlier sweeps with --earlier",
                )
            )
    return found


def _apart(dip: DipEnsemble, one: SeenSweep, two: SeenSweep) -> tuple[float, float] | None:
    """Both places of a dip that the other sweep must show too, where they are further apart than can be."""
    views = (view_of(one), view_of(two))
    inside = views[1].f_hz[0] * 1.02 < dip.measured_hz < views[1].f_hz[-1] * 0.98
    near = [other for other in two.dips if not other.extrapolated]
    if not inside or not near or dip.extrapolated or dip.swr[0] > MOST_SWR:
        return None
    other = min(near, key=lambda each: abs(np.log(each.measured_hz / dip.measured_hz)))
    gap = abs(float(np.log(other.measured_hz / dip.measured_hz)))
    if gap > NEAR or other.swr[0] > MOST_SWR:
        return None
    steps = OF_STEP * max(view.step_hz for view in views) / dip.measured_hz
    usual = 2 * float(np.hypot(dip.spread(), other.spread())) + JOINED_ANEW + steps
    return (dip.measured_hz, other.measured_hz) if gap > usual else None


def sweep_for(places: Sequence[Place], analyzer: Analyzer | None) -> tuple[NextSweep, ...]:
    """The sweeps that would show places: as far as a move can bring their curves."""
    return tuple(
        dict.fromkeys(
            sweep_across(
                place.low_hz * (1 - NEAR),
                place.high_hz * (1 + NEAR),
                width_hz=WIDTH * place.middle_hz,
                analyzer=analyzer,
            )
            for place in places
        )
    )
