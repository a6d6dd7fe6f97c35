"""SWR over frequency with its 95 % interval, the bands along the foot, the limit and the dips in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweepkit.plots.labels import Names
from sweepkit.plots.look import VERMILION, WIDE, new_axes
from sweepkit.plots.over_frequency import (
    MOST_TOP,
    dips_hz,
    draw_coarse,
    draw_points,
    draw_trace,
    file_name,
    is_coarse,
    limit_line,
    name_coarse,
    name_dips,
    name_limit,
    plane_words,
    scale_frequency,
    scale_swr,
    shown_view,
    swr_of_points,
)
from sweepkit.plots.spans import draw_bands
from sweepkit.plots.traces import Traces, trace_curve

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review


def plot_swr(
    review: Review,
    *,
    traces: Traces | None = None,
    target_hz: float | None = None,
    size: tuple[float, float] = WIDE,
    titled: bool = True,
) -> Figure:
    """SWR where the radio sees it, or at the feedpoint where that alone is known.

    Parameters
    ----------
    review : Review
        A reviewed sweep.
    traces : Traces, optional
        Its curves, where they are there already.
    target_hz : float, optional
        Where the dip is wanted; drawn where the sweep shows it. [Hz]
    size : tuple of float
        Width and height. [inch]
    titled : bool
        With the name of the file and of the plane above.

    Returns
    -------
    matplotlib Figure
        One axes: SWR (logarithmic) over frequency in MHz.
    """
    view = shown_view(review)
    traces = traces or trace_curve(view, through_hz=dips_hz(review, view))
    points, coarse = swr_of_points(view), is_coarse(review)
    figure, axes = new_axes(
        file_name(review),
        f"SWR {plane_words(review)}" if titled else "",
        f"SWR to {view.reference_ohm:g} ohm" + ("" if coarse else ", 95 % interval shaded"),
        "frequency, MHz",
        size=size,
    )
    scale_frequency(axes, float(view.f_hz[0]), float(view.f_hz[-1]))
    scale_swr(axes, 1.15 * float((points if coarse else traces.swr.value).max()))
    if coarse:
        draw_coarse(axes, view.f_hz, points)
    else:
        draw_trace(axes, traces.f_hz, traces.swr)
        draw_points(axes, view.f_hz, points)
    limit_line(axes, review.limit_swr)
    names = Names(axes)
    shown = (view.f_hz, points) if coarse else (traces.f_hz, traces.swr.value)
    names.keep_off(shown[0] / 1e6, np.minimum(shown[1], MOST_TOP))
    names.keep_off(view.f_hz[[0, -1]] / 1e6, np.full(2, review.limit_swr))
    draw_bands(axes, review.bands, low_hz=float(view.f_hz[0]), high_hz=float(view.f_hz[-1]), names=names)
    if target_hz is not None and view.f_hz[0] < target_hz < view.f_hz[-1]:
        _draw_target(axes, names, target_hz)
    name_limit(names, review.limit_swr, float(view.f_hz[0]), float(view.f_hz[-1]))
    low, high = axes.get_ylim()
    if coarse:
        name_coarse(names, view.f_hz, points, low=low, high=high)
    else:
        name_dips(names, review.main_plane.dips, top=float(high))
    return figure


def _draw_target(axes: Axes, names: Names, target_hz: float) -> None:
    """An upright line, its name near the top where most curves are not."""
    low, high = axes.get_ylim()
    axes.axvline(target_hz / 1e6, color=VERMILION, linewidth=1.1, linestyle=(0, (1.5, 1.5)), zorder=1.5)
    names.keep_off(np.full(2, target_hz / 1e6), np.array([low, high]))
    for share in (0.93, 0.75, 0.55):
        if names.put(f"target\n{target_hz / 1e6:.3f} MHz", target_hz / 1e6, low * (high / low) ** share):
            return
