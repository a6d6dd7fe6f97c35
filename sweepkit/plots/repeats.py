"""The same thing swept again: the mean with its interval, and how far each repeat lies from it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sweepkit.conversions import FloatArray, swr_from_gamma_abs
from sweepkit.plots.labels import Names
from sweepkit.plots.look import (
    FAINT,
    INK,
    PENS,
    SMALL_PT,
    TEXT_PT,
    Panel,
    add_panel,
    put_title,
    shortened,
    text_width_pt,
)
from sweepkit.plots.over_frequency import (
    MOST_TOP,
    dips_hz,
    draw_trace,
    file_name,
    limit_line,
    name_dips,
    name_limit,
    plane_words,
    scale_frequency,
    scale_swr,
    shown_view,
)
from sweepkit.plots.overlay import LEADER_PT, NAME_PT, SAMPLE_PT, name_at_the_right
from sweepkit.plots.spans import draw_bands
from sweepkit.plots.traces import trace_curve
from sweepkit.reviews.plane import LARGEST_GAMMA

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review

LEFT_PT, TOP_PT, BETWEEN_PT, BOTTOM_PT = 46.0, 46.0, 48.0, 36.0
SWR_SHARE = 0.62  # of the height that the two axes have
SIZE = (7.0, 5.6)  # inches


def plot_repeats(review: Review, *, size: tuple[float, float] = SIZE, titled: bool = True) -> Figure:
    """SWR of the mean of all repeats with its interval, and below it what each repeat differs from the mean.

    Both are drawn at the place of the file's own numbers, where the repeats were swept.

    Parameters
    ----------
    review : Review
        Of :func:`sweepkit.reviews.review_repeats`.
    size : tuple of float
        Width and height. [inch]
    titled : bool
        With a title above.

    Returns
    -------
    matplotlib Figure
        Two axes over frequency in MHz: SWR (logarithmic), each repeat as a thin line under the mean; distance of
        each repeat's reflection from the mean, each line labelled with its file.
    """
    from matplotlib.figure import Figure

    review = review.as_measured()
    names = _names(review)
    width_pt, height_pt = (inches * 72 for inches in size)
    top_pt = TOP_PT if titled else 24.0
    right_pt = 14.0
    if names:
        right_pt = LEADER_PT + SAMPLE_PT + max(text_width_pt(name, SMALL_PT) for name in names) + 12
    across_pt = width_pt - LEFT_PT - right_pt
    room_pt = height_pt - top_pt - BETWEEN_PT - BOTTOM_PT
    low_pt = (1 - SWR_SHARE) * room_pt
    figure = Figure(figsize=size)
    upper = add_panel(figure, Panel(LEFT_PT, BOTTOM_PT + low_pt + BETWEEN_PT, across_pt, SWR_SHARE * room_pt))
    lower = add_panel(figure, Panel(LEFT_PT, BOTTOM_PT, across_pt, low_pt))
    if titled:
        count = f"{len(review.sweeps)} repeats"
        put_title(figure, file_name(review), f"SWR {plane_words(review)}, mean of {count}")
    _draw_swr(upper, review)
    _draw_distances(lower, review, names)
    reference_ohm = shown_view(review).reference_ohm
    heading: dict[str, Any] = {"fontsize": TEXT_PT, "color": INK, "ha": "left", "va": "bottom"}
    up_pt = BOTTOM_PT + low_pt + BETWEEN_PT + SWR_SHARE * room_pt + 6
    words = f"SWR to {reference_ohm:g} ohm, 95 % interval shaded, repeats thin"
    figure.text(6 / width_pt, up_pt / height_pt, words, **heading)
    words = "distance of each repeat's reflection from the mean"
    figure.text(6 / width_pt, (BOTTOM_PT + low_pt + 6) / height_pt, words, **heading)
    return figure


def _names(review: Review) -> list[str]:
    """Short names of the repeats; none where there are too many to be told apart."""
    if len(review.sweeps) > len(PENS):
        return []
    paths = [sweep.source.path.replace("\\", "/").rsplit("/", 1)[-1] for sweep in review.sweeps]
    return [
        shortened(path or f"repeat {number}", NAME_PT, SMALL_PT) for number, path in enumerate(paths, start=1)
    ]


def _draw_swr(axes: Axes, review: Review) -> None:
    view = shown_view(review)
    low_hz, high_hz = float(view.f_hz[0]), float(view.f_hz[-1])
    traces = trace_curve(view, through_hz=dips_hz(review, view))
    scale_frequency(axes, low_hz, high_hz)
    scale_swr(axes, 1.15 * float(traces.swr.value.max()))
    draw_trace(axes, traces.f_hz, traces.swr)
    axes.lines[-1].set_label("mean")
    for sweep in review.sweeps:
        swr = swr_from_gamma_abs(np.minimum(sweep.gamma_abs, LARGEST_GAMMA))
        axes.plot(sweep.f_hz / 1e6, swr, color=FAINT, linewidth=0.5, zorder=2.5)
    limit_line(axes, review.limit_swr)
    names = Names(axes)
    names.keep_off(traces.f_hz / 1e6, np.minimum(traces.swr.value, MOST_TOP))
    names.keep_off(np.array([low_hz, high_hz]) / 1e6, np.full(2, review.limit_swr))
    draw_bands(axes, review.bands, low_hz=low_hz, high_hz=high_hz, names=names)
    name_limit(names, review.limit_swr, low_hz, high_hz)
    name_dips(names, review.main_plane.dips, top=float(axes.get_ylim()[1]))


def _draw_distances(axes: Axes, review: Review, names: list[str]) -> None:
    view = shown_view(review)
    scale_frequency(axes, float(view.f_hz[0]), float(view.f_hz[-1]))
    distances = distances_from_mean(review)
    f_mhz = review.sweep.f_hz / 1e6
    axes.set_ylim(0, 1.08 * float(distances.max()) or 1e-3)
    for k, distance in enumerate(distances):
        pen = PENS[k % len(PENS)]
        axes.plot(f_mhz, distance, color=pen.colour, linestyle=pen.dash, linewidth=1.2)
        axes.lines[-1].set_label(review.sweeps[k].source.path or f"repeat {k + 1}")
    axes.set_xlabel("frequency, MHz", fontsize=TEXT_PT)
    if names:
        ends = [(float(f_mhz[-1]), float(distance[-1])) for distance in distances]
        name_at_the_right(axes, names, ends, PENS)


def distances_from_mean(review: Review) -> FloatArray:
    """What each repeat's reflection differs from the mean of all, shape (repeats, n). [-]

    Parameters
    ----------
    review : Review
        Of :func:`sweepkit.reviews.review_repeats`.
    """
    curves = [sweep.gamma for sweep in review.sweeps if sweep.gamma is not None]
    mean = review.sweep.gamma
    if mean is None or not curves:
        raise ValueError("repeats have phase; the review is not one of repeats")
    return np.abs(np.stack(curves) - mean)
