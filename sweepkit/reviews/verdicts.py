"""The verdict on each band: what the station makes of the curves at the radio; none on too coarse a sweep."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.bands import Band
from sweepkit.conversions import ComplexArray, FloatArray, swr_from_gamma_abs, z_from_gamma
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.losses import swr_ceiling, total_loss_db
from sweepkit.feedline.plane import remove_chain
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.kit import Box, Kit
from sweepkit.reviews.bands import BandCurve
from sweepkit.reviews.heat import Beyond
from sweepkit.reviews.plane import LARGEST_GAMMA
from sweepkit.reviews.planes import Planes
from sweepkit.reviews.unplugged import Unplugged
from sweepkit.reviews.view import View
from sweepkit.station.at_radio import ALL_LOST_DB, AtRadio, Between, WhereAsked
from sweepkit.station.band import BandVerdict, Said, ToJudge, judge_together
from sweepkit.station.segments import Segment
from sweepkit.station.too_good import find_flat_outside, is_near_bands

LINE_POINTS = 11  # frequencies of a band at which the line is computed
UNSEEN_SWR = 1e4  # ceiling of a line without loss: above everything that is measured
TOO_COARSE = "the sweep is too coarse to say; sweep again"


class Known(NamedTuple):
    """What is known of the bands of one sweep before they are judged."""

    curves: tuple[BandCurve, ...]  # the swept part of each band, at the radio
    planes: Planes
    doubtful: frozenset[str]  # names of bands on which the sweep is too coarse for any verdict
    beyond: Mapping[str, Beyond]  # by name of the band, what lies beyond the coax
    unplugged: Mapping[str, Unplugged]  # by name of the band, what a sweep without the antenna says

    @property
    def view(self) -> View:
        """The plane that is judged."""
        return self.planes.radio or self.planes.measured

    def too_good(self, band: Band, far_from_hz: Sequence[tuple[float, float]]) -> Finding | None:
        """Why a low SWR there is not believed; some of the sweep is far from bands with these edges, if there are."""
        test = self.unplugged.get(band.name)
        if test is not None:
            return None if test.answer == "cleared" else test.finding
        flat = _flat_outside(self.view, band, far_from_hz) if far_from_hz else None
        return flat or self.beyond[band.name].finding


def judge_bands(
    sweeps: Sequence[Known],
    *,
    kit: Kit,
    limit_swr: float,
    all_bands: tuple[Band, ...],
    box: Box | None = None,
) -> list[tuple[BandVerdict, ...]]:
    """A verdict for each band of each sweep, all on one grid, with one kind of phase and one line.

    ``all_bands`` has also those that were not swept; ``box`` is the antenna's, where the kit knows what it loses.
    """
    edges_hz = [(band.low_hz, band.high_hz) for band in all_bands]
    far_from_hz = [] if is_near_bands(sweeps[0].view.f_hz, edges_hz) else edges_hz
    asked = [
        (known, curve, known.too_good(curve.band, far_from_hz)) for known in sweeps for curve in known.curves
    ]
    judged = [each for each in asked if each[1].band.name not in each[0].doubtful]
    lines = _lines_between([(curve, known.planes) for known, curve, _ in judged], sweeps[0].view)
    verdicts = iter(
        judge_together(
            [
                ToJudge(
                    _at_radio(
                        curve,
                        known.view,
                        line,
                        box,
                        cleared=_is_cleared(known.unplugged.get(curve.band.name)),
                    ),
                    (curve.band.low_hz, curve.band.high_hz),
                    too_good,
                )
                for (known, curve, too_good), line in zip(judged, lines, strict=True)
            ],
            radio=kit.radio,
            tuner=kit.tuner,
            limit_swr=limit_swr,
            told=kit.given,
        )
    )
    answers = iter(
        _cannot_say(curve, too_good) if curve.band.name in known.doubtful else next(verdicts)
        for known, curve, too_good in asked
    )
    return [tuple(next(answers) for _ in known.curves) for known in sweeps]


def _is_cleared(test: Unplugged | None) -> bool:
    return test is not None and test.answer == "cleared"


class _LineBetween(NamedTuple):
    """Total loss of the line on every draw and the SWR ceiling it sets, over a band; nothing where it was not told."""

    loss_db: FloatArray | Between | None = None
    ceiling: Between | None = None


def at_radio(curve: BandCurve, planes: Planes, view: View, box: Box | None) -> AtRadio:
    """The curve of one band with what line and box do."""
    (line,) = _lines_between([(curve, planes)], view)
    return _at_radio(curve, view, line, box, cleared=False)


def _at_radio(curve: BandCurve, view: View, line: _LineBetween, box: Box | None, *, cleared: bool) -> AtRadio:
    """The curve of a band with what line and box do; a line that was cleared is not what is seen."""
    has_phase = view.phase == "signed"
    return AtRadio(
        f_hz=curve.grid_hz,
        swr=WhereAsked(curve.gamma_abs, swr_from_gamma_abs),
        z_ohm=WhereAsked(curve.gamma, partial(_impedance_ohm, reference_ohm=view.reference_ohm))
        if has_phase
        else None,
        phase="signed" if has_phase else "none",
        line_loss_db=line.loss_db,
        swr_ceiling=None if cleared else line.ceiling,
        box_loss_db=None if box is None else box.loss_at_db(curve.grid_hz),
    )


def _impedance_ohm(gamma: ComplexArray, *, reference_ohm: float) -> ComplexArray:
    """Of a reflection, which is held below 1 as in the SWR."""
    return z_from_gamma(gamma / np.maximum(np.abs(gamma) / LARGEST_GAMMA, 1.0), reference_ohm)


def _lines_between(judged: Sequence[tuple[BandCurve, Planes]], view: View) -> list[_LineBetween]:
    """The line in front of each band, seen as in a view; of sweeps without draws, which share one as it was told, all
    side by side.
    """
    chains = [planes.chain for _, planes in judged if planes.chain is not None]
    has_phase = view.phase == "signed"
    if not chains or not (has_phase or chains[0].chain.agrees_with(view.reference_ohm)):
        return [_LineBetween()] * len(judged)
    curves = [curve for curve, _ in judged]
    if chains[0].size == 1:
        return _line_figures(curves, chains[0], view.reference_ohm)
    each = zip(curves, chains, strict=True)
    return [_line_figures([curve], chain, view.reference_ohm)[0] for curve, chain in each]


def _line_figures(curves: Sequence[BandCurve], chain: ChainDraws, reference_ohm: float) -> list[_LineBetween]:
    """Both run smoothly over a band, so they are computed at some of its frequencies, the dips among them."""
    if not chain.chain.pieces:
        return [_LineBetween(np.zeros(curve.gamma.shape)) for curve in curves]
    taken = [_taken(curve) for curve in curves]
    grids_hz = [curve.grid_hz[some] for curve, some in zip(curves, taken, strict=True)]
    f_hz = np.concatenate(grids_hz)
    gamma = np.concatenate([curve.gamma[:, some] for curve, some in zip(curves, taken, strict=True)], axis=1)
    at_feedpoint = remove_chain(f_hz, gamma, chain, reference_ohm=reference_ohm)
    loss_db = total_loss_db(f_hz, at_feedpoint, chain, reference_ohm=reference_ohm)
    ceiling = swr_ceiling(f_hz, chain, reference_ohm=reference_ohm)
    ends = np.cumsum([grid_hz.size for grid_hz in grids_hz])[:-1]
    lossy = np.split(np.where(np.isfinite(loss_db), loss_db, ALL_LOST_DB), ends, axis=1)
    finite = np.split(np.where(np.isfinite(ceiling), ceiling, UNSEEN_SWR), ends, axis=1)
    between = (_straight_lines(few, curve.grid_hz) for few, curve in zip(grids_hz, curves, strict=True))
    return [
        _LineBetween(Between(loss, weights), Between(most, weights))
        for loss, most, weights in zip(lossy, finite, between, strict=True)
    ]


def _taken(curve: BandCurve) -> NDArray[np.bool_]:
    """Dips, and some others evenly."""
    taken = ~curve.even
    taken[np.linspace(0, taken.size - 1, LINE_POINTS).round().astype(int)] = True
    return taken


def _straight_lines(from_hz: FloatArray, to_hz: FloatArray) -> FloatArray:
    """Linear interpolation as a matrix, shape (from, to)."""
    rows = [np.interp(to_hz, from_hz, one) for one in np.eye(from_hz.size)]
    return np.stack(rows)


def _flat_outside(view: View, band: Band, bands_hz: Sequence[tuple[float, float]]) -> Finding | None:
    swr = swr_from_gamma_abs(np.minimum(np.abs(view.gamma), LARGEST_GAMMA))
    return find_flat_outside(view.f_hz, swr, band_hz=(band.low_hz, band.high_hz), bands_hz=bands_hz)


def _cannot_say(curve: BandCurve, too_good: Finding | None) -> BandVerdict:
    segment = Segment("unknown", float(curve.grid_hz[0]), float(curve.grid_hz[-1]))
    why = TOO_COARSE if too_good is None else f"{too_good.text}; {too_good.next_step}"
    unknown = Figure.none(why)
    return BandVerdict(
        verdict="unknown",
        segments=(segment,),
        covered=curve.covered,
        best_hz=None,
        finding=too_good,
        find_line_loss=lambda: unknown,
        say=lambda: Said(why, unknown),
    )
