"""A setup as it is compared: what is known of it, and the figures of one dip of its sweeps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

import numpy as np

from sweepkit.antennas.usual_dip import find_usual_dip
from sweepkit.bands import Band
from sweepkit.comparison.scale import interval_on_scale, value_from_scale, value_on_scale
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.reviews.common_dip import Disagreement, match_dip
from sweepkit.reviews.summary import DipSummary, PlaneName, Summary

JUDGED = ("dip_hz", "r_ohm")  # figures whose differences are judged
FOLLOWING = ("q", "bandwidth_hz", "dip_swr")  # figures that follow those two, and are shown beside them
SHOWN = (*JUDGED, *FOLLOWING, "x_ohm", "best_swr", "line_loss_db")  # figures in the table
GEOMETRY = ("length_m", "tail_m", "radials", "radial_length_m", "counterpoise_m", "tap", "coil_h")
NEAR_BAND = 0.06  # a band whose best point is further from the dip, as a share, is not the dip's; our choice
NO_DIP = "the dip that is compared is not in this sweep"

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class ComparedSetup:
    """One erection of an antenna.

    ``id``: ``S4`` of the logbook, or the name of a file.
    ``facts``: what is known, by the names of the logbook; unknown is not there.
    ``sweeps``: sweeps of its last state, one after another.
    ``told``: whether somebody said what setup it is; two files nobody said anything of may be one setup.
    ``since``: what was done since the setup before, a word of the field ``since``.
    ``disagree``: sweeps of it that are not averaged with the rest, since they differ by more than joining anew
    explains.
    ``hashes``: of its raw files, where they are known.
    ``steps``: what was done before each of the sweeps, words of the field ``since``.
    ``amiss``: what is wrong with the line or the calibration that is told for it and others; ``None`` for nothing.
    """

    id: str
    facts: Facts = field(default_factory=lambda: MappingProxyType({}))
    sweeps: tuple[Summary, ...] = ()
    told: bool = True
    since: str | None = None
    disagree: tuple[Disagreement, ...] = ()
    hashes: frozenset[str] = frozenset()
    steps: tuple[str | None, ...] = ()
    amiss: Finding | None = None

    @property
    def antenna(self) -> str | None:
        """The operator's own name of the antenna."""
        return self.facts.get("antenna")

    @property
    def site(self) -> str | None:
        """The operator's own name of the place."""
        return self.facts.get("site")

    @property
    def when(self) -> str | None:
        """When it was swept, ISO 8601."""
        return self.facts.get("when")

    @property
    def outing(self) -> tuple[str, str] | None:
        """Site and day, where both are known."""
        return None if self.site is None or self.when is None else (self.site, self.when[:10])


def geometry_of(setup: ComparedSetup) -> tuple[Any, ...]:
    """What tunes the antenna, as far as it is told."""
    return tuple(setup.facts.get(name) for name in GEOMETRY)


def find_plane(setups: Sequence[ComparedSetup]) -> PlaneName | None:
    """The plane that all sweeps have figures at, the feedpoint before the radio; ``None`` where there is none."""
    names: tuple[PlaneName, ...] = ("feedpoint", "radio", "unknown")
    sweeps = [sweep for setup in setups for sweep in setup.sweeps]
    return next((name for name in names if all(name in sweep.planes for sweep in sweeps)), None)


@dataclass(frozen=True)
class CommonDip:
    """The dip that is compared, as one of the sweeps shows it."""

    dip: DipSummary
    sweep: Summary
    plane: PlaneName


def find_dip(
    setups: Iterable[ComparedSetup], plane: PlaneName, *, low_hz: float = 0.0, high_hz: float = math.inf
) -> CommonDip | None:
    """The dip that most setups of one antenna show; of several the deeper one."""
    found = [
        (dip.dip_hz.value, dip.dip_swr.value or math.inf, CommonDip(dip, sweep, plane))
        for setup in setups
        for sweep in setup.sweeps
        for dip in sweep.planes.get(plane, ())
        if dip.dip_hz.value is not None and low_hz <= dip.dip_hz.value <= high_hz
    ]
    number = find_usual_dip([(f_hz, swr) for f_hz, swr, _ in found])
    return None if number is None else found[number][2]


def common_dips(
    everything: Sequence[ComparedSetup], setups: Sequence[ComparedSetup], band: Band | None
) -> dict[str | None, CommonDip | None]:
    """Of each antenna the dip that most of its setups show; ``setups`` are those compared, which tell the plane."""
    plane = find_plane(setups)
    edges = (
        {}
        if band is None
        else {
            "low_hz": band.low_hz * (1 - NEAR_BAND),
            "high_hz": band.high_hz * (1 + NEAR_BAND),
        }
    )
    antennas: dict[str | None, list[ComparedSetup]] = {}
    for setup in everything:
        antennas.setdefault(setup.antenna, []).append(setup)
    return {
        name: find_dip(own, plane or find_plane(own[:1]) or "unknown", **edges)
        for name, own in antennas.items()
    }


def dip_of(setup: ComparedSetup, plane: PlaneName | None, dip_hz: float) -> CommonDip | None:
    """The dip of a setup itself nearest to a frequency; without a plane at the one each sweep knows."""
    own = [
        CommonDip(dip, sweep, at)
        for sweep in setup.sweeps
        for at in (plane if plane is not None else next(iter(sweep.planes)),)
        for dip in sweep.planes.get(at, ())
        if dip.dip_hz.value is not None
    ]
    return min(own, key=lambda one: abs((one.dip.dip_hz.value or 0.0) - dip_hz), default=None)


def figures_at(setup: ComparedSetup, plane: PlaneName | None, common: CommonDip | None) -> dict[str, Figure]:
    """The figures of a setup, by the names of ``SHOWN``, at one of its dips; ``None``: at the plane each sweep
    knows.

    Of several sweeps the mean, with the mean width of their intervals, since the analyzer's error is the same in all.
    """
    every = [_one(sweep, plane, common) for sweep in setup.sweeps]
    return {name: _mean(name, [figures[name] for figures in every]) for name in SHOWN}


def _one(sweep: Summary, plane: PlaneName | None, common: CommonDip | None) -> dict[str, Figure]:
    at: PlaneName = plane if plane is not None else next(iter(sweep.planes))
    dip = None if common is None else match_dip(common.dip, common.sweep, sweep, planes=(common.plane, at))
    if dip is None:
        return {name: Figure.none(NO_DIP) for name in SHOWN}
    f_hz = dip.dip_hz.value or 0.0
    figures = {name: value for name, value in vars(dip).items() if name in SHOWN}
    near = min(
        sweep.bands.values(),
        key=lambda band: abs((band.best_hz.value or 0.0) - f_hz),
        default=None,
    )
    if near is None or near.best_hz.value is None or abs(near.best_hz.value / f_hz - 1) > NEAR_BAND:
        none = Figure.none("no band at this dip was swept")
        return figures | {"best_swr": none, "line_loss_db": none}
    return figures | {"best_swr": near.best_swr, "line_loss_db": near.line_loss_db}


def _mean(name: str, figures: Sequence[Figure]) -> Figure:
    """Mean of the figures that have an answer; the first reason where none has."""
    answered = [figure for figure in figures if figure.value is not None]
    if not answered:
        return figures[0] if figures else Figure.none("it has no sweep")
    if len(answered) == 1:
        return answered[0]
    values = np.array([value_on_scale(name, figure) for figure in answered])
    middle = float(values.mean())
    if any(figure.low is None for figure in answered):
        return Figure(value_from_scale(name, middle))
    ends = np.array([interval_on_scale(name, figure) for figure in answered])
    low, high = middle - float((values - ends[:, 0]).mean()), middle + float((ends[:, 1] - values).mean())
    return Figure(value_from_scale(name, middle), value_from_scale(name, low), value_from_scale(name, high))
