"""The figures of one band: how much of it was swept, best SWR, SWR at its edges, share within the limit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import cycle
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.curve import CurveValues, smooth_curves
from sweepkit.analysis.share import lowest_point, share_within
from sweepkit.bands import Band
from sweepkit.conversions import ComplexArray, FloatArray, gamma_abs_from_swr
from sweepkit.figures import Figure
from sweepkit.made import Made
from sweepkit.plain_types import HIDDEN
from sweepkit.quantities import frequency_text
from sweepkit.reviews.heat import Beyond
from sweepkit.reviews.plane import LARGEST_GAMMA, DrawnDips, swr_figure
from sweepkit.reviews.view import View
from sweepkit.station.band import BandVerdict
from sweepkit.station.ledger import PowerLoss
from sweepkit.station.point_verdicts import Verdict
from sweepkit.station.segments import Segment
from sweepkit.station.why import FailsOn

GRID_POINTS = 101  # frequencies at which a band is judged
NOT_JUDGED = "the band is not judged"


@dataclass(frozen=True, eq=False)
class BandCurve:
    """The swept part of a band as smooth curves."""

    band: Band
    grid_hz: FloatArray  # from the lowest to the highest that were swept, shape (k,)
    gamma: ComplexArray | CurveValues  # of every draw, shape (draws, k)
    gamma_abs: FloatArray  # its magnitude, held below 1
    even: NDArray[np.bool_]  # shape (k,); the others are dips

    @property
    def covered(self) -> float:
        """Share of the band that was swept. [-]"""
        swept_hz = float(self.grid_hz[-1] - self.grid_hz[0])
        return min(1.0, swept_hz / (self.band.high_hz - self.band.low_hz))


@dataclass(frozen=True)
class LineFigures:
    """The line at the best frequency of a band, nominal values."""

    matched_loss_db: float  # one way
    swr_at_feedpoint: float
    swr_ceiling: float | None  # highest that can show at the radio; None without loss
    worst_peak_v: float  # anywhere on the line at the radio's full power
    worst_rms_a: float  # likewise


@dataclass(frozen=True)
class BandFigures:
    """What is said of one band."""

    name: str
    low_hz: float
    high_hz: float
    covered: float
    best_swr: Figure
    best_hz: Figure
    swr_at_low_edge: Figure
    swr_at_high_edge: Figure
    share_within_limit: Figure
    verdict: Verdict
    why: str
    segments: tuple[Segment, ...]
    line_loss_db: Figure
    power_to_antenna_w: Figure
    power: tuple[PowerLoss, ...]
    fails_on: FailsOn = field(metadata=HIDDEN)  # said in ``why``
    line: LineFigures | None


class Bands(Made[BandFigures]):
    """Bands that were judged, in the order of frequency; ``describe`` makes the figures of one by its number."""

    def __init__(
        self, judged: Sequence[tuple[BandCurve, BandVerdict]], describe: Callable[[int], BandFigures]
    ) -> None:
        super().__init__(len(judged), describe)
        self.judged = judged


class BestOfBand(NamedTuple):
    """Of a band: its name, how much of it was swept, its best point, and what the line takes."""

    name: str
    covered: float
    best_hz: Figure
    best_swr: Figure
    line_loss_db: Figure


def bests_of(bands: Sequence[BandFigures]) -> list[BestOfBand]:
    """Without the other figures, where they are not made yet."""
    if isinstance(bands, Bands):
        return [
            BestOfBand(curve.band.name, curve.covered, *_best(curve), verdict.line_loss_db)
            for curve, verdict in bands.judged
        ]
    return [
        BestOfBand(band.name, band.covered, band.best_hz, band.best_swr, band.line_loss_db) for band in bands
    ]


class Verdicts(NamedTuple):
    """Of a band: its name, its verdict, and those of its parts."""

    name: str
    verdict: Verdict
    segments: tuple[Segment, ...]


def verdicts_of(bands: Sequence[BandFigures]) -> list[Verdicts]:
    """Without the figures, where they are not made yet."""
    if isinstance(bands, Bands):
        return [Verdicts(curve.band.name, one.verdict, one.segments) for curve, one in bands.judged]
    return [Verdicts(band.name, band.verdict, band.segments) for band in bands]


def touched_bands(bands: tuple[Band, ...], view: View) -> tuple[Band, ...]:
    """Bands of which at least a part was swept."""
    return tuple(band for band in bands if band.low_hz < view.f_hz[-1] and band.high_hz > view.f_hz[0])


def trace_bands(
    views: Sequence[View], bands: Sequence[Band], drawn: DrawnDips
) -> list[tuple[BandCurve, ...]]:
    """Smooth curves over the swept parts of bands, for each of several planes of sweeps on one grid."""
    if not bands:
        return [() for _ in views]
    first_hz, last_hz = float(views[0].f_hz[0]), float(views[0].f_hz[-1])
    even_hz = [
        np.linspace(max(band.low_hz, first_hz), min(band.high_hz, last_hz), GRID_POINTS) for band in bands
    ]
    dips_hz = drawn.f_hz[:, 0].tolist()
    grids = [_with_dips(even, [dips_hz[row] for row in rows]) for rows in drawn.rows for even in even_hz]
    grids_hz, which = [grid_hz for grid_hz, _ in grids], np.repeat(np.arange(len(views)), len(bands))
    smooth = smooth_curves(drawn.stack, which.tolist(), grids_hz, ensembles=drawn.ensembles)
    sizes = [grid_hz.size for grid_hz in grids_hz]
    delay_s, turn = np.array([view.delay_s for view in views]), None
    if delay_s.any():  # back in
        turn = np.exp(-2j * np.pi * np.concatenate(grids_hz) * np.repeat(delay_s[which], sizes))
    size, ends = smooth.magnitudes(), np.cumsum(sizes).tolist()
    np.minimum(size, LARGEST_GAMMA, out=size)
    curves = [
        BandCurve(band, grid_hz, smooth.values(slice(first, end), turn), size[:, first:end], even)
        for band, (grid_hz, even), first, end in zip(cycle(bands), grids, [0, *ends[:-1]], ends, strict=False)
    ]
    return [tuple(curves[k : k + len(bands)]) for k in range(0, len(curves), len(bands))]


def _with_dips(even_hz: FloatArray, dips_hz: Sequence[float]) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Frequencies with those of the dips between them, and which are not such."""
    grid_hz, even = even_hz, np.ones(even_hz.size, dtype=bool)
    low_hz, high_hz = float(even_hz[0]), float(even_hz[-1])
    for dip_hz in dips_hz:
        if low_hz < dip_hz < high_hz:
            at = int(np.searchsorted(grid_hz, dip_hz))
            if grid_hz[at] != dip_hz:
                grid_hz = np.concatenate([grid_hz[:at], [dip_hz], grid_hz[at:]])
                even = np.concatenate([even[:at], [False], even[at:]])
    return grid_hz, even


def describe_band(
    curve: BandCurve,
    verdict: BandVerdict,
    *,
    limit_swr: float,
    line: LineFigures | None = None,
    beyond: Beyond | None = None,
) -> BandFigures:
    """Figures of a band; ``limit_swr`` is the limit that the share is about."""
    best_hz, best_swr = _best(curve)
    share = share_within(curve.gamma_abs[:, curve.even], float(gamma_abs_from_swr(limit_swr)))
    return BandFigures(
        name=curve.band.name,
        low_hz=curve.band.low_hz,
        high_hz=curve.band.high_hz,
        covered=curve.covered,
        best_swr=best_swr,
        best_hz=best_hz,
        swr_at_low_edge=_at_edge(curve, curve.band.low_hz, 0),
        swr_at_high_edge=_at_edge(curve, curve.band.high_hz, -1),
        share_within_limit=Figure.from_draws(share, reason=NOT_JUDGED),
        verdict=verdict.verdict,
        why=verdict.why + (beyond.named() if beyond and verdict.verdict in ("direct", "tuner") else ""),
        segments=verdict.segments,
        line_loss_db=verdict.line_loss_db,
        power_to_antenna_w=verdict.power_to_antenna_w,
        power=(*verdict.power, *(beyond.losses if beyond else ())),
        fails_on=verdict.fails_on,
        line=line,
    )


def _best(curve: BandCurve) -> tuple[Figure, Figure]:
    """Frequency and SWR of its best point."""
    best_hz, best_gamma = lowest_point(curve.grid_hz[curve.even], curve.gamma_abs[:, curve.even])
    return Figure.from_draws(best_hz, reason=NOT_JUDGED), swr_figure(best_gamma, reason=NOT_JUDGED)


def _at_edge(curve: BandCurve, edge_hz: float, end: int) -> Figure:
    if not np.isclose(curve.grid_hz[end], edge_hz, rtol=1e-9, atol=1.0):
        return Figure.none(f"the sweep does not reach {frequency_text(edge_hz)}")
    return swr_figure(curve.gamma_abs[:, end], reason=NOT_JUDGED)
