"""The figures of one plane: dips, resonances, SWR bandwidths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, partial
from math import isfinite
from typing import Literal

import numpy as np

from sweepkit.analysis.delay import without_delay
from sweepkit.analysis.dips import Dip, Dips, dip_frequencies, find_all_dip_samples, fit_dips
from sweepkit.analysis.edges import Wanted, edge_frequencies, find_edges
from sweepkit.analysis.fits import Ensemble
from sweepkit.analysis.resonances import find_resonances, resonance_draws
from sweepkit.analysis.windows import Stack
from sweepkit.conversions import (
    ComplexArray,
    FloatArray,
    gamma_abs_from_swr,
    return_loss_db_from_gamma_abs,
    swr_from_gamma_abs,
    z_from_gamma,
)
from sweepkit.figures import COVERAGE_QUANTILES, Figure
from sweepkit.made import Made, MadeTogether
from sweepkit.quantities import frequency_text
from sweepkit.reviews.view import View, as_stack, ensembles_of
from sweepkit.sweep import Phase

SWR_LIMITS = (1.5, 2.0, 3.0)  # widths that are always given
LARGEST_GAMMA = 0.999  # a drawn reflection above it counts as it; keeps SWR finite (about 2000) [-]
NO_IMPEDANCE = {
    "none": "the file has no phase, so no impedance",
    "unsigned": "the sign of the reactance is not in the file; --recover-sign tries to find it",
}


@dataclass(frozen=True, eq=False)
class DrawnDip:
    """A dip on every draw: frequency and reflection, shape (draws,), the measured one first; NaN for none.

    ``every`` are the dips of its stack, of which it is that of ``row``.
    """

    every: Dips
    row: int
    stack: Stack
    f_hz: FloatArray
    gamma: ComplexArray

    @cached_property
    def dip(self) -> Dip:
        """With the points and weights of its fit."""
        return self.every.one(self.row, self.stack)

    @property
    def centre_hz(self) -> float:
        """Centre of its fit. [Hz]"""
        return float(self.every.fits.centre_hz[self.row])

    @property
    def width_hz(self) -> float:
        """SWR 2 width that it would have if it were matched at its bottom. [Hz]"""
        return float(self.every.width_hz[self.row])

    @property
    def gamma_abs(self) -> FloatArray:
        """Magnitude of the reflection on every draw, held below 1. [-]"""
        return _held(self.gamma)


@dataclass(frozen=True)
class DipFigures:
    """What is said of one dip."""

    f_hz: Figure
    swr: Figure
    return_loss_db: Figure
    r_ohm: Figure
    x_ohm: Figure


@dataclass(frozen=True)
class ResonanceFigures:
    """What is said of one zero of the reactance at the feedpoint."""

    f_hz: Figure
    r_ohm: Figure
    kind: Literal["series", "parallel"]
    q: Figure


@dataclass(frozen=True)
class SwrBandwidth:
    """Where the SWR stays within a limit round one dip."""

    dip: int
    limit_swr: float
    low_hz: Figure
    high_hz: Figure
    bandwidth_hz: Figure


@dataclass(frozen=True)
class Plane:
    """Figures at one plane: dips deepest first, resonances rising, bandwidths by dip and limit."""

    dips: Sequence[DipFigures]
    resonances: Sequence[ResonanceFigures]
    swr_bandwidths: Sequence[SwrBandwidth]

    def width(self, dip: int, limit_swr: float) -> SwrBandwidth | None:
        """The bandwidth of one dip at one limit, if it is given there."""
        if isinstance(self.swr_bandwidths, Bandwidths):
            return self.swr_bandwidths.of(dip, limit_swr)
        of_dip = (width for width in self.swr_bandwidths if width.dip == dip)
        return next((width for width in of_dip if width.limit_swr == limit_swr), None)

    def series_resonance_of(self, dip: DipFigures) -> ResonanceFigures | None:
        """The series resonance that belongs to a dip: the nearest of those to which it is the nearest dip."""

        def distance_hz(one: Figure, other: Figure) -> float:
            return abs((one.value or 0.0) - (other.value or 0.0))

        own = [
            resonance
            for resonance in self.resonances
            if resonance.kind == "series"
            and resonance.f_hz.value is not None
            and min(self.dips, key=lambda each: distance_hz(each.f_hz, resonance.f_hz)) is dip
        ]
        return min(own, key=lambda each: distance_hz(each.f_hz, dip.f_hz), default=None)

    def has_both_ends(self, dip: int, limit_swr: float) -> bool:
        """Whether both ends of that bandwidth are known."""
        width = self.width(dip, limit_swr)
        return width is not None and width.low_hz.value is not None and width.high_hz.value is not None


class Bandwidths(Made[SwrBandwidth]):
    """Those of one plane by dip and limit, each made when it is asked for."""

    def __init__(self, dips: int, limits_swr: tuple[float, ...], make: Callable[[int], SwrBandwidth]) -> None:
        super().__init__(dips * len(limits_swr), make)
        self._dips, self._limits_swr = dips, limits_swr

    def of(self, dip: int, limit_swr: float) -> SwrBandwidth | None:
        """One of them; nothing where there is none."""
        if dip >= self._dips or limit_swr not in self._limits_swr:
            return None
        return self[dip * len(self._limits_swr) + self._limits_swr.index(limit_swr)]


@dataclass(frozen=True, eq=False)
class DrawnDips:
    """Dips of several views on every draw, a row each."""

    stack: Stack
    ensembles: Sequence[Ensemble] | None
    dips: Dips
    f_hz: FloatArray  # of each DrawnDip, shape (rows, draws)
    gamma: ComplexArray  # likewise
    rows: tuple[tuple[int, ...], ...]  # those of each view, deepest first

    def of(self, view: int) -> tuple[DrawnDip, ...]:
        """Those of one view."""
        return tuple(
            DrawnDip(self.dips, row, self.stack, self.f_hz[row], self.gamma[row]) for row in self.rows[view]
        )


def find_dips(view: View) -> tuple[DrawnDip, ...]:
    """Dips of a plane on every draw, deepest first."""
    return find_all_dips([view]).of(0)


def find_all_dips(views: Sequence[View]) -> DrawnDips:
    """The same for planes of sweeps on one grid."""
    stack, ensembles = as_stack(views), ensembles_of(views)
    places = find_all_dip_samples(stack.magnitude, stack.noise)
    which = np.repeat(np.arange(len(views)), [len(each) for each in places])
    dips = fit_dips(stack, which, [place for each in places for place in each])
    f_hz, turned = dip_frequencies(dips, stack, ensembles)
    delay_s = np.array([view.delay_s for view in views])[which, np.newaxis]
    depth = np.abs(turned[:, 0])
    rows: list[list[int]] = [[] for _ in views]
    for row in np.argsort(depth, kind="stable").tolist():
        if np.isfinite(depth[row]):
            rows[which[row]].append(row)
    gamma = without_delay(f_hz, turned, -delay_s)
    return DrawnDips(stack, ensembles, dips, f_hz, gamma, tuple(map(tuple, rows)))


def describe_planes(
    views: Sequence[View],
    drawn: DrawnDips,
    *,
    limits_swr: tuple[float, ...],
    is_feedpoint: Sequence[bool],
) -> list[Plane]:
    """Figures of planes of sweeps on one grid; only at a feedpoint is a zero of the reactance a resonance.

    Bandwidths are given at each of ``limits_swr``. What rests on draws is found at once, while they are kept; else
    resonances, and edges at each limit, when the first of them is asked for, those of all sweeps together.
    """
    ends_hz = _Ends(drawn, limits_swr)
    seen = [k for k, view in enumerate(views) if is_feedpoint[k] and view.phase == "signed"]
    place = {k: number for number, k in enumerate(seen)}
    found = cache(partial(_resonances, [views[k] for k in seen]))
    if drawn.ensembles is not None:
        found()
    nominal = cache(partial(_nominal_dips, drawn, views[0].reference_ohm))
    return [
        Plane(
            Made(
                len(rows),
                partial(_nominal_dip, view, nominal, rows)
                if drawn.ensembles is None
                else partial(_dip_figures, view, drawn, rows),
            ),
            MadeTogether(partial(_of_one, found, place[k])) if k in place else (),
            Bandwidths(len(rows), limits_swr, partial(_bandwidth, view, drawn, rows, limits_swr, ends_hz)),
        )
        for k, (view, rows) in enumerate(zip(views, drawn.rows, strict=True))
    ]


def _of_one(
    found: Callable[[], list[tuple[ResonanceFigures, ...]]], number: int
) -> tuple[ResonanceFigures, ...]:
    return found()[number]


class _Ends:
    """Both ends of every dip at each limit, shape (dips, 2, draws); without draws those that are asked for. [Hz]"""

    def __init__(self, drawn: DrawnDips, limits_swr: tuple[float, ...]) -> None:
        self._drawn, self._limits_swr = drawn, limits_swr
        self._at: dict[int, FloatArray] = {}
        if drawn.ensembles is not None:
            self._at = dict(enumerate(np.moveaxis(_edges_hz(drawn, limits_swr), 1, 0)))

    def at(self, place: int) -> FloatArray:
        """Those of one limit."""
        if place not in self._at:
            self._at[place] = _edges_hz(self._drawn, self._limits_swr[place : place + 1])[:, 0]
        return self._at[place]


def _edges_hz(drawn: DrawnDips, limits_swr: tuple[float, ...]) -> FloatArray:
    """Both ends on every draw, (dips, limits, 2, draws); NaN where a draw's dip does not get below the limit. [Hz]"""
    levels = gamma_abs_from_swr(limits_swr)
    shape = (*drawn.f_hz.shape[:1], levels.size, 2)
    dip, limit, is_high = (part.ravel() for part in np.indices(shape))
    wanted = Wanted(dip, levels[limit], is_high > 0)
    edges = find_edges(drawn.stack, drawn.dips, wanted)
    ends_hz = np.full((dip.size, drawn.f_hz.shape[1]), np.nan)
    found, level = edges.found, wanted.limit_gamma[edges.found]
    f_hz = edge_frequencies(edges, level, drawn.stack, drawn.ensembles)
    below = _held(drawn.gamma[dip[found]]) < level[:, np.newaxis]
    dip_hz = drawn.f_hz[dip[found]]
    outward = np.where(wanted.is_high[found, np.newaxis], f_hz > dip_hz, f_hz < dip_hz)
    ends_hz[found] = np.where(below & outward, f_hz, np.nan)
    return ends_hz.reshape(*shape, ends_hz.shape[1])


def swr_figure(gamma_abs: FloatArray, *, reason: str) -> Figure:
    """SWR with its interval, from 1 where the reflection, shape (draws,), below 1, cannot be told from none."""
    return Figure.from_draws(gamma_abs, reason=reason, wall=0.0).mapped(lambda g: (1 + g) / (1 - g))


LEAVES = "the dip leaves its valley when the noise is drawn anew"


def _nominal_dips(drawn: DrawnDips, reference_ohm: float) -> list[list[float]]:
    """Values of the figures of all dips of measured curves alone, in their order."""
    f_hz, gamma = drawn.f_hz[:, 0], drawn.gamma[:, 0]
    z_ohm, size = z_from_gamma(gamma, reference_ohm), _held(gamma)
    values = (f_hz, (1 + size) / (1 - size), return_loss_db_from_gamma_abs(size), z_ohm.real, z_ohm.imag)
    return list(map(list, zip(*(value.tolist() for value in values), strict=True)))


def _nominal_dip(
    view: View, values: Callable[[], list[list[float]]], rows: tuple[int, ...], number: int
) -> DipFigures:
    """Of one dip of a view without draws."""
    figures = [Figure(one) if isfinite(one) else Figure.none(LEAVES) for one in values()[rows[number]]]
    if view.phase != "signed":
        figures[3:] = [Figure.none(NO_IMPEDANCE[view.phase])] * 2
    return DipFigures(*figures)


def _dip_figures(view: View, drawn: DrawnDips, rows: tuple[int, ...], number: int) -> DipFigures:
    """Of one dip of a view."""
    f_hz, gamma = drawn.f_hz[rows[number]], drawn.gamma[rows[number]]
    z_ohm, magnitude = z_from_gamma(gamma, view.reference_ohm), _held(gamma)
    return DipFigures(
        f_hz=Figure.from_draws(f_hz, reason=LEAVES),
        swr=swr_figure(magnitude, reason=LEAVES),
        return_loss_db=Figure.from_draws(return_loss_db_from_gamma_abs(magnitude), reason=LEAVES),
        r_ohm=_impedance_figure(z_ohm.real, view.phase, LEAVES),
        x_ohm=_impedance_figure(z_ohm.imag, view.phase, LEAVES),
    )


def _impedance_figure(ohm: FloatArray, phase: Phase, reason: str) -> Figure:
    return Figure.from_draws(ohm, reason=reason) if phase == "signed" else Figure.none(NO_IMPEDANCE[phase])


def _resonances(views: Sequence[View]) -> list[tuple[ResonanceFigures, ...]]:
    """Of each view at the feedpoint, in rising frequency."""
    if not views:
        return []
    stack, ensembles = as_stack(views, turned=False), ensembles_of(views, turned=False)
    found = find_resonances(stack)
    draws = resonance_draws(found, views[0].reference_ohm, stack, ensembles)
    lost = "the zero of the reactance is lost when the noise is drawn anew"
    figures: list[list[ResonanceFigures]] = [[] for _ in views]
    may_be_nothing = (draws.r_ohm <= 0).mean(axis=1) > COVERAGE_QUANTILES[0]
    for row, which in enumerate(found.fits.which.tolist()):
        f_hz, r_ohm, q = (Figure.from_draws(part[row], reason=lost) for part in draws)
        if may_be_nothing[row]:
            q = Figure.none("R may be nothing within its interval, and Q has no upper end then")
        kind: Literal["series", "parallel"] = "series" if found.is_series[row] else "parallel"
        figures[which].append(ResonanceFigures(f_hz=f_hz, r_ohm=r_ohm, kind=kind, q=q))
    return [tuple(sorted(each, key=lambda figure: figure.f_hz.value or 0.0)) for each in figures]


def _bandwidth(
    view: View,
    drawn: DrawnDips,
    rows: tuple[int, ...],
    limits_swr: tuple[float, ...],
    ends_hz: _Ends,
    number: int,
) -> SwrBandwidth:
    """One of a view, by dip and limit."""
    dip, place = divmod(number, len(limits_swr))
    low_hz, high_hz = ends_hz.at(place)[rows[dip]]
    end_low_hz, end_high_hz = float(low_hz[0]), float(high_hz[0])
    if low_hz.size == 1 and isfinite(end_low_hz) and isfinite(end_high_hz):
        ends = (Figure(each) for each in (end_low_hz, end_high_hz, end_high_hz - end_low_hz))
        return SwrBandwidth(dip, limits_swr[place], *ends)
    swr = partial(_nominal_swr, drawn, rows[dip])
    why_low, why_high = (
        partial(_why_no_edge, swr, limits_swr[place], float(view.f_hz[end])) for end in (0, -1)
    )
    return SwrBandwidth(
        dip=dip,
        limit_swr=limits_swr[place],
        low_hz=Figure.from_draws(low_hz, reason=why_low),
        high_hz=Figure.from_draws(high_hz, reason=why_high),
        bandwidth_hz=Figure.from_draws(high_hz - low_hz, reason=why_low if np.isnan(low_hz[0]) else why_high),
    )


def _nominal_swr(drawn: DrawnDips, row: int) -> float:
    return float(swr_from_gamma_abs(_held(drawn.gamma[row, 0])))


def _why_no_edge(dip_swr: Callable[[], float], limit_swr: float, end_hz: float) -> str:
    """In words, for a figure without an answer."""
    swr = dip_swr()
    if swr >= limit_swr:
        return f"the dip reaches SWR {swr:.2f}, never {limit_swr:g}"
    return f"SWR stays within {limit_swr:g} up to the end of the sweep at {frequency_text(end_hz)}"


def _held(gamma: ComplexArray) -> FloatArray:
    """Magnitude of a reflection, held below 1. [-]"""
    return np.minimum(np.abs(gamma), LARGEST_GAMMA)
