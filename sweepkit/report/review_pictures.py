"""The pictures of a review for its page, and the values that their readout shows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure
from sweepkit.kit import Kit
from sweepkit.plots.look import NARROW, sweep_name
from sweepkit.plots.one_sweep import plot_impedance, plot_swr
from sweepkit.plots.over_frequency import dips_hz, plane_words, shown_view
from sweepkit.plots.repeats import plot_repeats
from sweepkit.plots.slide import plot_slide
from sweepkit.plots.smith import plot_smith
from sweepkit.plots.traces import Trace, drawn_step, trace_curve, trace_points
from sweepkit.report.headline import band_word
from sweepkit.report.page import Picture
from sweepkit.report.picture import as_picture
from sweepkit.reviews import Review
from sweepkit.reviews.slides import Slid, Slides, slide_dip

SMITH_SIZE = (3.5, 3.95)  # inches
DIGITS = 5  # significant ones in the readout's values; more than it shows
FARTHEST = 1e9  # stands for infinity, which JSON has not; the page says "above 1000000"
SWR_DIGITS = 4  # significant ones of an SWR that is drawn
TARGET_LINES = "Upright dotted line: the target; level dashed line: the SWR limit."
AS_IT_IS = (
    "All else as it is: R and Q are taken to stay, which a few percent leave true; the interval is that of the "
    "measurement alone. How much wire that is: sweepkit trim."
)


def review_pictures(
    review: Review,
    *,
    prefix: str,
    readout: int = 0,
    named: bool = False,
    only_swr: bool = False,
    target_hz: float | None = None,
) -> tuple[Picture, ...]:
    """SWR, with ``target_hz`` where a dip is wanted, and with phase R and X and the Smith chart."""
    view = shown_view(review)
    traces = trace_curve(view, through_hz=dips_hz(review, view))
    place = plane_words(review) + (f", {sweep_name(review.sweep)}" if named else "")
    swr = plot_swr(review, traces=traces, target_hz=target_hz, size=NARROW, titled=False)
    drawn = [("swr", f"SWR {place}", ["swr"], swr)]
    if view.phase == "signed" and not only_swr:
        impedance = plot_impedance(review, traces=traces, size=NARROW, titled=False)
        smith = plot_smith(review, traces=traces, size=SMITH_SIZE, titled=False)
        drawn += [
            ("impedance", f"Resistance and reactance {place}", ["r_ohm", "x_ohm"], impedance),
            ("smith", f"Smith chart {place}", ["gamma"], smith),
        ]
    words = _in_words(review)
    note = TARGET_LINES if target_hz and view.f_hz[0] < target_hz < view.f_hz[-1] else ""
    return tuple(
        as_picture(
            figure, f"{prefix}-{name}", title, f"{title}. {words}", shows=shows, readout=readout, note=note
        )
        for name, title, shows, figure in drawn
    )


def what_it_would_take(review: Review, kit: Kit, *, prefix: str) -> Iterator[Picture]:
    """The dip slid over the band, where a trim could bring it there."""
    slides = slide_dip(review, kit=kit)
    if slides is not None:
        reference_ohm = shown_view(review).reference_ohm
        yield slide_picture(slides, prefix=prefix, place=plane_words(review), reference_ohm=reference_ohm)


def repeats_picture(review: Review, *, prefix: str) -> Picture:
    """Each repeat as a thin line, and their mean."""
    seen = review.as_measured()
    title = f"SWR {plane_words(seen)}, mean of {len(review.sweeps)} repeats, each a thin line"
    drawn = plot_repeats(review, named=False, size=NARROW, titled=False)
    return as_picture(drawn, f"{prefix}-repeats", title, f"{title}. {_in_words(seen)}")


def review_readout(review: Review) -> dict[str, Any]:
    """Measured points, every one up to 1024, with the interval of each alone; ``start`` is the one shown first."""
    view = shown_view(review)
    shown = np.arange(0, view.f_hz.size, drawn_step(view.f_hz.size))
    points = trace_points(view, shown)
    dips = dips_hz(review, view)
    start = int(abs(points.f_hz - dips[0]).argmin()) if dips else points.f_hz.size // 2
    values: dict[str, Any] = {
        "f_hz": [float(f_hz) for f_hz in points.f_hz],
        "swr": _columns(points.swr),
        "start": start,
        "left_out": [int(k) for k in (view.trust[shown] <= 0).nonzero()[0]],
    }
    if points.r_ohm is not None and points.x_ohm is not None:
        values |= {
            "r_ohm": _columns(points.r_ohm),
            "x_ohm": _columns(points.x_ohm),
            "gamma": [_rounded(points.gamma.real), _rounded(points.gamma.imag)],
        }
    return values


def _columns(trace: Trace) -> list[list[float]]:
    """Value, or value, low and high."""
    return [_rounded(column) for column in (trace.value, trace.low, trace.high) if column is not None]


def _rounded(values: FloatArray) -> list[float]:
    held = np.clip(np.nan_to_num(values, nan=FARTHEST), -FARTHEST, FARTHEST)
    return [float(f"{value:.{DIGITS}g}") for value in held]


def _in_words(review: Review) -> str:
    """What the curve does, for those who do not see it."""
    dips = [
        f"{dip.f_hz.value / 1e6:.3f} MHz, SWR {dip.swr.value:.2f}"
        for dip in review.main_plane.dips[:3]
        if dip.f_hz.value is not None and dip.swr.value is not None
    ]
    return f"Dips at {'; '.join(dips)}." if dips else "No dip inside the sweep."


def slide_picture(slides: Slides, *, prefix: str, place: str, reference_ohm: float) -> Picture:
    """The picture with its states."""
    drawn = plot_slide(slides, reference_ohm=reference_ohm, size=NARROW, titled=False)
    words = [_words(slides, state) for state in slides.states]
    said = f"Now: {words[slides.now]}."
    if slides.best != slides.now:
        said += f" Best: {words[slides.best]}."
    return as_picture(
        drawn,
        f"{prefix}-slide",
        f"What it would take: the dip moved, SWR {place}",
        said,
        note=f"{said} {AS_IT_IS}",
        moves=_moves(slides, words),
    )


def _moves(slides: Slides, words: list[str]) -> dict[str, Any]:
    """Plain values for the page: frequencies once, of each state the words and three curves."""
    return {
        "mhz": [round(float(f_hz) / 1e6, 4) for f_hz in slides.f_hz],
        "now": slides.now,
        "words": words,
        "swr": [[_plain(row) for row in state.swr] for state in slides.states],
    }


def _plain(row: np.ndarray[Any, Any]) -> list[float | None]:
    return [None if not np.isfinite(value) else float(f"{value:.{SWR_DIGITS}g}") for value in row]


def _words(slides: Slides, state: Slid) -> str:
    """``dip 7.100 MHz, 300 kHz up: 40 m DIRECT, 100 % (98 to 100) within SWR 2``."""
    away_hz = state.dip_hz - slides.states[slides.now].dip_hz
    moved = f", {abs(away_hz) / 1e3:.0f} kHz {'up' if away_hz > 0 else 'down'}" if away_hz else ""
    share = state.band.share_within_limit
    within = f", {_percent(share)} within SWR {slides.limit_swr:g}"
    swept = f", {100 * state.band.covered:.0f} % of it swept" if state.band.covered < 0.995 else ""
    return (
        f"dip {state.dip_hz / 1e6:.3f} MHz{moved}: {state.band.name} {band_word(state.band)}{within}{swept}"
    )


def _percent(share: Figure) -> str:
    """With its interval, where that says more."""
    value, low, high = (
        None if end is None else f"{100 * end:.0f}" for end in (share.value, share.low, share.high)
    )
    return f"{value} %" if low is None or low == high else f"{value} % ({low} to {high})"
