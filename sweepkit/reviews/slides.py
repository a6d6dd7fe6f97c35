"""What the bands would be with the dip elsewhere: the antenna slid in frequency, all else as it is, judged anew."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sweepkit.analysis.curve import FittedCurve, fit_curve
from sweepkit.bands import Band
from sweepkit.conversions import ComplexArray, FloatArray, swr_from_gamma_abs
from sweepkit.feedline.plane import add_chain
from sweepkit.figures import COVERAGE_QUANTILES, QUANTILE_METHOD
from sweepkit.kit import Box, Kit
from sweepkit.reviews.bands import GRID_POINTS, BandCurve, BandFigures, describe_band
from sweepkit.reviews.plane import LARGEST_GAMMA
from sweepkit.reviews.planes import Planes
from sweepkit.reviews.review import Review
from sweepkit.reviews.verdicts import at_radio
from sweepkit.reviews.view import View
from sweepkit.station.band import judge_band

# Half of the range over which R and Q of an antenna are taken to stay as its dip is moved, and how far a dip may lie
# from the middle of a band; common practice, no source.
FARTHEST = 0.10
STATES = 24  # at most about so many places of the dip
SHOWN_POINTS = 61  # frequencies of each curve
SLIDE_DRAWS = 200  # of the ensemble: a picture's interval, not a figure to quote
BEYOND = 0.012  # of the frequency that is shown beyond band and dip
DOUBTS = ("wrong-plane", "open-line", "shorted-line", "swr-too-good", "too-coarse")


@dataclass(frozen=True, eq=False)
class Slid:
    """The antenna with its dip at another place."""

    dip_hz: float
    # value, low and high end of the 95 % interval over frequency, shape (3, n); NaN: nothing was swept
    swr: FloatArray
    band: BandFigures  # as it is judged then


@dataclass(frozen=True, eq=False)
class Slides:
    """All places of the dip, rising, over frequencies of shape (n,); ``now`` and ``best`` are numbers of states."""

    f_hz: FloatArray
    states: tuple[Slid, ...]
    now: int
    best: int
    limit_swr: float


def slide_dip(review: Review, *, kit: Kit) -> Slides | None:
    """The band a trim would be for, judged with the dip at places round it.

    The reflection at the feedpoint is moved along the frequency axis by a factor and carried to the radio through the
    line as it is; every state is judged as a review judges a sweep, the present one is that of the review. ``None``
    where no dip is within reach of a band, or the answer is in doubt.
    """
    view = review.planes.feedpoint or review.planes.measured
    doubted = any(finding.level == "stop" or finding.code in DOUBTS for finding in review.findings)
    carried = review.planes.chain is not None and bool(review.planes.chain.chain.pieces)
    if review.parts or not review.adequate or doubted or (carried and view.phase != "signed"):
        return None
    chosen = _chosen(review)
    if chosen is None:
        return None
    band, dip_hz = chosen
    antenna = _Antenna.of(review.planes, view)
    places_hz = _places(dip_hz, band)
    low_hz, high_hz = min(band.low_hz, places_hz[0]), max(band.high_hz, places_hz[-1])
    f_hz = np.linspace(low_hz * (1 - BEYOND), high_hz * (1 + BEYOND), SHOWN_POINTS)
    states = []
    for place_hz in places_hz:
        moved = antenna.moved(place_hz / dip_hz)
        judged = band if place_hz == dip_hz else moved.judged(band, place_hz, kit, review.limit_swr)
        if judged is not None:
            states.append(Slid(float(place_hz), moved.swr_on(f_hz), judged))
    now = next(k for k, state in enumerate(states) if state.dip_hz == dip_hz)
    best = max(range(len(states)), key=lambda k: _worth(states[k], states[now]))
    return Slides(f_hz, tuple(states), now, best, review.limit_swr)


def _worth(state: Slid, now: Slid) -> tuple[float, float, float]:
    """More of the band surely within the limit, then a lower SWR in it, then less of a move."""
    share, best_swr = state.band.share_within_limit, state.band.best_swr.value or math.inf
    surely = (share.value if share.low is None else share.low) or 0.0
    return round(surely * state.band.covered, 2), -round(best_swr, 1), -abs(state.dip_hz - now.dip_hz)


def _chosen(review: Review) -> tuple[BandFigures, float] | None:
    """The lowest band that is not all direct with a dip within reach, else the one whose dip is nearest its middle.

    Of several dips within reach it is the deepest.
    """
    plane = review.feedpoint or review.main_plane
    dips_hz = [dip.f_hz.value for dip in plane.dips if dip.f_hz.value is not None]
    pairs = [(band, _deepest_within_reach_hz(band, dips_hz)) for band in review.bands]
    near = [(band, dip_hz) for band, dip_hz in pairs if dip_hz is not None]
    lacking = [pair for pair in near if {part.verdict for part in pair[0].segments} != {"direct"}]
    if lacking:
        return min(lacking, key=lambda pair: pair[0].low_hz)
    return min(near, key=lambda pair: abs(pair[1] / _middle_hz(pair[0]) - 1), default=None)


def _deepest_within_reach_hz(band: BandFigures, dips_hz: Sequence[float]) -> float | None:
    """Of dips, deepest first."""
    return next((dip_hz for dip_hz in dips_hz if abs(dip_hz / _middle_hz(band) - 1) <= FARTHEST), None)


def _middle_hz(band: BandFigures) -> float:
    return (band.low_hz + band.high_hz) / 2


def _places(dip_hz: float, band: BandFigures) -> FloatArray:
    """Places of the dip at even steps from where it is, over the band and within reach."""
    low_hz = max(min(dip_hz, band.low_hz), dip_hz * (1 - FARTHEST))
    high_hz = min(max(dip_hz, band.high_hz), dip_hz * (1 + FARTHEST))
    step_hz = _even_step_hz((high_hz - low_hz) / STATES)
    down, up = math.ceil((dip_hz - low_hz) / step_hz), math.ceil((high_hz - dip_hz) / step_hz)
    return np.asarray(dip_hz + step_hz * np.arange(-down, up + 1), dtype=np.float64)


def _even_step_hz(least_hz: float) -> float:
    """1, 2 or 5 times a power of ten, not below."""
    power = 10.0 ** math.floor(math.log10(least_hz))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= least_hz)


@dataclass(frozen=True, eq=False)
class _Antenna:
    """The antenna alone, slid by ``factor`` in frequency; its line stays."""

    planes: Planes
    view: View
    fitted: FittedCurve
    dips_hz: tuple[float, ...] = ()
    factor: float = 1.0

    @classmethod
    def of(cls, planes: Planes, view: View) -> _Antenna:
        """As it is, on some of the draws."""
        few = replace(view, ensemble=lambda index: view.ensemble(index)[: SLIDE_DRAWS + 1])
        fitted = fit_curve(
            view.curve, float(view.f_hz[0]), float(view.f_hz[-1]), ensemble=few.turned_ensemble
        )
        chain = None if planes.chain is None else planes.chain.part(slice(0, SLIDE_DRAWS + 1))
        return cls(replace(planes, chain=chain), view, fitted)

    def moved(self, factor: float) -> _Antenna:
        """With every frequency times a factor."""
        return replace(self, factor=factor)

    @property
    def swept_hz(self) -> tuple[float, float]:
        return float(self.view.f_hz[0]) * self.factor, float(self.view.f_hz[-1]) * self.factor

    def gamma(self, f_hz: FloatArray) -> ComplexArray:
        """Reflection where the bands are judged, of every draw."""
        own_hz = f_hz / self.factor
        gamma = self.view.turned_back(own_hz, self.fitted(own_hz, blended=True))
        chain = self.planes.chain
        if chain is None or not chain.chain.pieces or self.planes.radio is None:
            return gamma
        return add_chain(f_hz, gamma, chain, reference_ohm=self.view.reference_ohm)

    def swr_on(self, f_hz: FloatArray) -> FloatArray:
        """Value and interval, shape (3, n)."""
        low_hz, high_hz = self.swept_hz
        inside = (f_hz >= low_hz) & (f_hz <= high_hz)
        size = np.minimum(np.abs(self.gamma(f_hz[inside])), LARGEST_GAMMA)
        ends = np.quantile(
            size[1:] if len(size) > 1 else size, COVERAGE_QUANTILES, axis=0, method=QUANTILE_METHOD
        )
        swr = np.full((3, f_hz.size), np.nan)
        swr[:, inside] = swr_from_gamma_abs(
            np.stack([size[0], np.minimum(ends[0], size[0]), np.maximum(ends[1], size[0])])
        )
        return swr

    def judged(self, band: BandFigures, dip_hz: float, kit: Kit, limit_swr: float) -> BandFigures | None:
        """A band as a review judges it; None where nothing of it was swept."""
        low_hz, high_hz = max(band.low_hz, self.swept_hz[0]), min(band.high_hz, self.swept_hz[1])
        if low_hz >= high_hz:
            return None
        even_hz = np.linspace(low_hz, high_hz, GRID_POINTS)
        grid_hz = np.union1d(even_hz, [dip_hz] if low_hz < dip_hz < high_hz else [])
        of = Band(band.name, band.low_hz, band.high_hz)
        gamma = self.gamma(grid_hz)
        size = np.minimum(np.abs(gamma), LARGEST_GAMMA)
        curve = BandCurve(of, grid_hz, gamma, size, np.isin(grid_hz, even_hz))
        verdict = judge_band(
            at_radio(curve, self.planes, self.view, _told_box(band)),
            band_hz=(band.low_hz, band.high_hz),
            radio=kit.radio,
            tuner=kit.tuner,
            limit_swr=limit_swr,
            told=kit.given,
        )
        return describe_band(curve, verdict, limit_swr=limit_swr)


def _told_box(band: BandFigures) -> Box | None:
    """The box that the kit tells of, from its row in the ledger."""
    for loss in band.power:
        if loss.where == "box" and loss.told and loss.loss_db.value:
            return Box(1.0, ((band.low_hz / 1e6, loss.loss_db.value),))
    return None
