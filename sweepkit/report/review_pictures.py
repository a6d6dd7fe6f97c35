"""The pictures of a review for its page, and the values that their readout shows."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.kit import Kit
from sweepkit.plots.impedance import plot_impedance
from sweepkit.plots.inline_svg import inline_svg
from sweepkit.plots.look import NARROW
from sweepkit.plots.over_frequency import dips_hz, file_name, plane_words, shown_view
from sweepkit.plots.repeats import plot_repeats
from sweepkit.plots.smith import plot_smith
from sweepkit.plots.swr import plot_swr
from sweepkit.plots.traces import Trace, drawn_step, trace_curve, trace_points
from sweepkit.report.page import Picture
from sweepkit.report.slide_picture import slide_picture
from sweepkit.reviews import Review
from sweepkit.reviews.slides import slide_dip

SMITH_SIZE = (3.5, 3.95)  # inches
DIGITS = 5  # significant ones in the readout's values; more than it shows
FARTHEST = 1e9  # stands for infinity, which JSON has not; the page says "above 1000000"


def review_pictures(
    review: Review,
    *,
    prefix: str,
    readout: int = 0,
    named: bool = False,
    only_swr: bool = False,
    target_hz: float | None = None,
) -> tuple[Picture, ...]:
    """SWR, and with phase R and X and the Smith chart.

    ``target_hz``: where a dip is wanted, drawn into the SWR.
    """
    view = shown_view(review)
    traces = trace_curve(view, through_hz=dips_hz(review, view))
    place = plane_words(review) + (f", {file_name(review)}" if named else "")
    swr = plot_swr(review, traces=traces, target_hz=target_hz, size=NARROW, titled=False)
    drawn = [("swr", f"SWR {place}", ["swr"], swr)]
    if view.phase == "signed" and not only_swr:
        impedance = plot_impedance(review, traces=traces, size=NARROW, titled=False)
        smith = plot_smith(review, traces=traces, size=SMITH_SIZE, titled=False)
        drawn += [
            ("impedance", f"Resistance and reactance {place}", ["r_ohm", "x_ohm"], impedance),
            ("smith", f"Smith chart {place}", ["gamma"], smith),
        ]
    pictures = []
    for name, title, shows, figure in drawn:
        svg = inline_svg(figure, prefix=f"{prefix}-{name}")
        pictures.append(
            Picture(
                f"{prefix}-{name}",
                title,
                f"{title}. {_in_words(review)}",
                svg.svg,
                {**svg.frame, "shows": shows},
                readout,
            )
        )
    return tuple(pictures)


def what_it_would_take(review: Review, kit: Kit, *, prefix: str) -> Iterator[Picture]:
    """The dip slid over the band, where a trim could bring it there."""
    slides = slide_dip(review, kit=kit)
    if slides is not None:
        reference_ohm = shown_view(review).reference_ohm
        yield slide_picture(slides, prefix=prefix, place=plane_words(review), reference_ohm=reference_ohm)


def repeats_picture(review: Review, *, prefix: str) -> Picture:
    """Each repeat as a thin line, and their mean.

    ``review``: of :func:`sweepkit.reviews.review_repeats`.
    """
    name = f"{prefix}-repeats"
    seen = review.as_measured()
    title = f"SWR {plane_words(seen)}, mean of {len(review.sweeps)} repeats, each a thin line"
    svg = inline_svg(plot_repeats(review, named=False, size=NARROW, titled=False), prefix=name)
    return Picture(name, title, f"{title}. {_in_words(seen)}", svg.svg, svg.frame)


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
