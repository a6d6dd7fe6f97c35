"""Was the sweep good enough to say so, and which one to take if not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import PROMINENCE_IN_NOISE, PROMINENCE_LEAST, is_resolved, matched_width_hz
from sweepkit.analysis.local import fit_near
from sweepkit.analysis.resonance_proof import NARROWEST
from sweepkit.bands import Band
from sweepkit.conversions import FloatArray, IndexArray, swr_from_gamma_abs
from sweepkit.findings import Finding
from sweepkit.kit.analyzer import Analyzer
from sweepkit.quantities import frequency_text
from sweepkit.reviews.next_sweep import NextSweep, sweep_across
from sweepkit.reviews.plane import LARGEST_GAMMA, DrawnDip, DrawnDips, Plane
from sweepkit.reviews.view import View

LEAST_INSIDE = 7  # points inside the SWR-2 width of a dip are enough: three complex parameters and a margin
FEWEST = 2  # with one, only the model says that the curve dips between its neighbours
SHALLOW_SWR = 10.0  # shallower dips are not held against the sweep when there are deeper ones
SHALLOW_GAMMA = (SHALLOW_SWR - 1) / (SHALLOW_SWR + 1) + 1e-9  # their reflection, and rounding [-]
NARROWEST_WIDTH = 0.007  # SWR-2 width of a short loaded whip over its frequency; modelled range 0.2 to 3 %
WIDEST_WHIP = 0.03  # a step beyond this share of the frequency jumps any loaded whip


Judgement = tuple[Finding, tuple[NextSweep, ...]]


@dataclass(frozen=True)
class Adequacy:
    """Verdict on the sweep itself."""

    adequate: bool
    next_sweeps: tuple[NextSweep, ...]
    findings: tuple[Finding, ...]
    doubtful_bands: frozenset[str]


def judge_sweep(
    view: View,
    drawn: tuple[DrawnDip, ...],
    plane: Plane,
    *,
    bands: tuple[Band, ...],
    limit_swr: float,
    analyzer: Analyzer | None = None,
    has_antenna: bool = True,
) -> Adequacy:
    """Whether points and span suffice for what the sweep shows, its dips deepest first.

    ``view`` is the feedpoint where it is known, else where it was measured. A bare line's ripples are no dips to be
    resolved.
    """
    if not has_antenna:
        return NOTHING_LACKING
    coarse = _coarse(view, drawn)
    jumped = _jumped(view, drawn, bands)
    judged = [
        *(_coarse_dip(view, dip, analyzer) for dip in coarse),
        *_jumped_dips(view, jumped, analyzer),
        *_lowest_at_edge(view, drawn, analyzer),
        *_cut_bandwidth(view, drawn, plane, bands, limit_swr, analyzer),
    ]
    lacking = [sweep for finding, sweeps in judged if finding.level != "note" for sweep in sweeps]
    best = best_sweep(lacking, bands)
    doubtful = {band.name for band in bands if band in jumped or _has_dip_near(band, coarse)}
    findings = tuple(
        finding if finding.level == "note" or best in sweeps else replace(finding, next_step="")
        for finding, sweeps in judged
    )
    return Adequacy(best is None, () if best is None else (best,), findings, frozenset(doubtful))


NOTHING_LACKING = Adequacy(True, (), (), frozenset())
SURELY_INSIDE = LEAST_INSIDE + 2  # points at the very ends of a width may count or not by rounding
SURELY_LOWER = 1e-9  # magnitudes nearer than that are the same [-]


def find_adequate(
    views: Sequence[View],
    drawn: DrawnDips,
    planes: Sequence[Plane | None],
    *,
    bands: tuple[Band, ...],
    limit_swr: float,
) -> NDArray[np.bool_]:
    """Of sweeps on one grid, those of which :func:`judge_sweep` surely finds nothing lacking, shape (sweeps,)."""
    if not drawn.f_hz.size or any(_is_jumped(views[0], band, WIDEST_WHIP) for band in bands):
        return np.zeros(len(views), dtype=bool)
    deepest = np.array([rows[0] if rows else -1 for rows in drawn.rows])
    magnitude = np.abs(drawn.gamma[:, 0])
    surely = (deepest >= 0) & ~_may_be_coarse(views[0], drawn, magnitude, deepest)
    size, sweep = drawn.stack.magnitude, np.arange(len(views))
    sample = np.argmin(size, axis=1)
    margin = np.maximum(PROMINENCE_IN_NOISE * drawn.stack.noise[sweep, sample], PROMINENCE_LEAST)
    lowest_dip = np.minimum(magnitude[deepest], LARGEST_GAMMA)
    surely &= size[sweep, sample] > lowest_dip - margin + SURELY_LOWER
    for k in np.flatnonzero(surely & (lowest_dip < (limit_swr - 1) / (limit_swr + 1))).tolist():
        plane = planes[k]
        surely[k] = plane is not None and plane.has_both_ends(0, limit_swr)
    return np.asarray(surely)


def _may_be_coarse(
    view: View, drawn: DrawnDips, magnitude: FloatArray, deepest: IndexArray
) -> NDArray[np.bool_]:
    """Whether a dip of each sweep that is held against it may have too few points."""
    dips, f_hz = drawn.dips, drawn.f_hz[:, 0]
    half_hz = np.maximum(dips.width_hz, NARROWEST * dips.fits.centre_hz) / 2
    inside = np.searchsorted(view.f_hz, f_hz + half_hz) - np.searchsorted(view.f_hz, f_hz - half_hz)
    judged = np.isfinite(f_hz) & ((magnitude <= SHALLOW_GAMMA) | np.isin(np.arange(f_hz.size), deepest))
    coarse = np.zeros(len(drawn.rows), dtype=bool)
    coarse[dips.which[judged & (inside < SURELY_INSIDE)]] = True
    return coarse


def best_sweep(wanted: list[NextSweep], bands: tuple[Band, ...]) -> NextSweep | None:
    """The one to take of those wanted, gravest first: the first that shows most of a band; ``None`` where none is."""
    return max(
        wanted, key=lambda sweep: max((_shown(sweep, band) for band in bands), default=0.0), default=None
    )


def _shown(sweep: NextSweep, band: Band) -> float:
    """Share of a band that a sweep shows, in tenths, so that nearly alike ones keep their order. [-]"""
    both_hz = min(sweep.stop_hz, band.high_hz) - max(sweep.start_hz, band.low_hz)
    return round(max(both_hz, 0.0) / (band.high_hz - band.low_hz), 1)


def dip_width_hz(drawn: DrawnDip) -> float:
    """SWR-2 width that a dip would have if it were matched at its bottom."""
    return max(drawn.width_hz, NARROWEST * drawn.centre_hz)


def _points_inside(view: View, dip: DrawnDip) -> int:
    return int(np.count_nonzero(np.abs(view.f_hz - dip.f_hz[0]) <= dip_width_hz(dip) / 2))


def _coarse(view: View, drawn: tuple[DrawnDip, ...]) -> tuple[DrawnDip, ...]:
    """Dips that their points do not resolve; shallow ones only where there is none deeper."""
    judged = [dip for dip in drawn if dip is drawn[0] or swr_from_gamma_abs(dip.gamma_abs[0]) <= SHALLOW_SWR]
    return tuple(
        dip
        for dip in judged
        if _points_inside(view, dip) < LEAST_INSIDE
        and not (
            _points_inside(view, dip) >= FEWEST and is_resolved(dip.dip.fit, view.curve, dip_width_hz(dip))
        )
    )


def _coarse_dip(view: View, dip: DrawnDip, analyzer: Analyzer | None) -> Judgement:
    f_dip_hz, width_hz = float(dip.f_hz[0]), dip_width_hz(dip)
    reach_hz = max(2.5 * width_hz, 2 * view.step_hz)
    sweep = sweep_across(f_dip_hz - reach_hz, f_dip_hz + reach_hz, width_hz=width_hz, analyzer=analyzer)
    finding = Finding(
        "too-coarse",
        "warning",
        f"the dip at {frequency_text(f_dip_hz)} is about {width_hz / 1e3:.0f} kHz wide and has "
        f"{_points_inside(view, dip)} points inside, which do not tell where it is; {LEAST_INSIDE} do",
        _sweep_again(sweep),
    )
    return finding, (sweep,)


def _jumped(view: View, drawn: tuple[DrawnDip, ...], bands: tuple[Band, ...]) -> tuple[Band, ...]:
    """Bands without a dip, on which the step could jump over one."""
    share = WIDEST_WHIP if drawn else NARROWEST_WIDTH / LEAST_INSIDE
    return tuple(band for band in bands if _is_jumped(view, band, share) and not _has_dip_near(band, drawn))


def _is_jumped(view: View, band: Band, share: float) -> bool:
    return view.step_hz > share * _swept_middle_hz(view, band)


def _jumped_dips(view: View, jumped: tuple[Band, ...], analyzer: Analyzer | None) -> list[Judgement]:
    if not jumped:
        return []
    first = min(jumped, key=lambda band: _least_beside(view, band))
    middle_hz = _swept_middle_hz(view, first)
    sweep = sweep_across(
        first.low_hz - 0.03 * middle_hz,
        first.high_hz + 0.03 * middle_hz,
        width_hz=NARROWEST_WIDTH * middle_hz,
        analyzer=analyzer,
    )
    finding = Finding(
        "too-coarse",
        "warning",
        f"points lie {view.step_hz / 1e3:.0f} kHz apart; on {', '.join(band.name for band in jumped)} "
        "a narrow dip could hide between two of them",
        "sweep each band you want by itself, first " + _in_words(sweep),
    )
    return [(finding, (sweep,))]


def _least_beside(view: View, band: Band) -> float:
    """The least reflection in a band or beside it, in tenths, so that bands nearly alike keep their order. [-]"""
    low, high = np.searchsorted(view.f_hz, (band.low_hz, band.high_hz))
    return round(float(np.abs(view.gamma[max(low - 1, 0) : high + 1]).min()), 1)


def _swept_middle_hz(view: View, band: Band) -> float:
    return (max(band.low_hz, float(view.f_hz[0])) + min(band.high_hz, float(view.f_hz[-1]))) / 2


def _lowest_at_edge(view: View, drawn: tuple[DrawnDip, ...], analyzer: Analyzer | None) -> list[Judgement]:
    """The lowest SWR lies at an end of the sweep, where nothing shows that it is a dip."""
    magnitude = np.abs(view.gamma)
    sample = int(np.argmin(magnitude))
    margin = max(PROMINENCE_IN_NOISE * float(view.noise[sample]), PROMINENCE_LEAST)
    lowest_dip = min((float(dip.gamma_abs[0]) for dip in drawn), default=float(magnitude.max()))
    at_low = view.f_hz[sample] - view.f_hz[0] < view.f_hz[-1] - view.f_hz[sample]
    end = 0 if at_low else -1
    if magnitude[sample] > lowest_dip - margin or magnitude[end] > magnitude[sample] + margin:
        return []
    beyond_hz, width_hz = _dip_beyond(view, at_low)
    span_hz = float(view.f_hz[-1] - view.f_hz[0])
    if at_low:
        low_hz, high_hz = beyond_hz - 0.3 * span_hz, float(view.f_hz[0]) + 0.3 * span_hz
    else:
        low_hz, high_hz = float(view.f_hz[-1]) - 0.3 * span_hz, beyond_hz + 0.3 * span_hz
    sweep = sweep_across(max(low_hz, 0.0), high_hz, width_hz=width_hz, analyzer=analyzer)
    which = "lower" if at_low else "upper"
    finding = Finding(
        "dip-at-edge",
        "warning",
        f"the lowest SWR is at the {which} end of the sweep, {frequency_text(float(view.f_hz[end]))}; "
        "that is not a dip, the dip lies beyond",
        _sweep_again(sweep),
    )
    return [(finding, (sweep,))]


def _cut_bandwidth(
    view: View,
    drawn: tuple[DrawnDip, ...],
    plane: Plane,
    bands: tuple[Band, ...],
    limit_swr: float,
    analyzer: Analyzer | None,
) -> list[Judgement]:
    """The SWR bandwidth of the deepest dip runs out of the sweep."""
    if not drawn or drawn[0].gamma_abs[0] >= (limit_swr - 1) / (limit_swr + 1):
        return []
    width = plane.width(0, limit_swr)
    if width is None:
        return []
    cut_low, cut_high = width.low_hz.value is None, width.high_hz.value is None
    if not (cut_low or cut_high):
        return []
    f_dip_hz, width_hz = float(drawn[0].f_hz[0]), dip_width_hz(drawn[0])
    low_hz = f_dip_hz - 1.5 * width_hz if cut_low else float(view.f_hz[0])
    high_hz = f_dip_hz + 1.5 * width_hz if cut_high else float(view.f_hz[-1])
    low_hz, high_hz = min(low_hz, float(view.f_hz[0])), max(high_hz, float(view.f_hz[-1]))
    sweep = sweep_across(low_hz, high_hz, width_hz=width_hz, analyzer=analyzer)
    whole = bands and all(view.f_hz[0] <= b.low_hz and b.high_hz <= view.f_hz[-1] for b in bands)
    ends = "both ends" if cut_low and cut_high else "the lower end" if cut_low else "the upper end"
    finding = Finding(
        "span-too-narrow",
        "note" if whole else "warning",
        f"SWR stays within {limit_swr:g} to {ends} of the sweep, so its bandwidth is not known"
        + ("; the band itself is covered" if whole else ""),
        f"to know the bandwidth, sweep {_in_words(sweep)}" if whole else _sweep_again(sweep),
    )
    return [(finding, (sweep,))]


def _dip_beyond(view: View, at_low: bool) -> tuple[float, float]:
    """Where the dip beyond an end may be, and how wide: from the slope of the curve at that end. [Hz]"""
    span_hz = float(view.f_hz[-1] - view.f_hz[0])
    end_hz = float(view.f_hz[0] if at_low else view.f_hz[-1])
    fit = fit_near(view.curve, end_hz, 0.3 * span_hz)
    found_hz = float(moebius.frequency(moebius.smallest_magnitude(fit.model), end_hz))
    width_hz = matched_width_hz(fit) or span_hz
    distance_hz = (end_hz - found_hz) if at_low else (found_hz - end_hz)
    if not 0 < distance_hz < span_hz:
        distance_hz = span_hz / 2
    width_hz = min(max(width_hz, NARROWEST_WIDTH * end_hz), span_hz)
    return (end_hz - distance_hz if at_low else end_hz + distance_hz), width_hz


def _has_dip_near(band: Band, drawn: tuple[DrawnDip, ...]) -> bool:
    """A dip in the band or within three of its own widths of it."""
    return any(
        band.low_hz - 3 * dip_width_hz(dip) <= dip.f_hz[0] <= band.high_hz + 3 * dip_width_hz(dip)
        for dip in drawn
    )


def _in_words(sweep: NextSweep) -> str:
    return f"{sweep.start_hz / 1e6:g} to {sweep.stop_hz / 1e6:g} MHz with {sweep.points} points"


def _sweep_again(sweep: NextSweep) -> str:
    return f"sweep again: {_in_words(sweep)}"
