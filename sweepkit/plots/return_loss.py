"""Return loss over frequency, deep ones down, so that a dip looks like a dip."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweepkit.conversions import return_loss_db_from_gamma_abs
from sweepkit.plots.labels import Names
from sweepkit.plots.look import WIDE, new_axes
from sweepkit.plots.over_frequency import (
    dips_hz,
    draw_coarse,
    draw_points,
    draw_trace,
    file_name,
    is_coarse,
    name_coarse,
    plane_words,
    scale_frequency,
    shown_view,
)
from sweepkit.plots.spans import draw_bands
from sweepkit.plots.traces import SMALLEST_GAMMA, Traces, trace_curve

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review

MOST_DB = 45.0  # what a handheld analyzer can hardly tell from a perfect match; common practice, no source
LEAST_DB = 6.0


def plot_return_loss(
    review: Review, *, traces: Traces | None = None, size: tuple[float, float] = WIDE, titled: bool = True
) -> Figure:
    """Return loss, positive, rising downwards.

    Parameters
    ----------
    review, traces, size, titled
        As for :func:`sweepkit.plots.swr.plot_swr`.

    Returns
    -------
    matplotlib Figure
        One axes: return loss in dB over frequency in MHz.
    """
    view = shown_view(review)
    traces = traces or trace_curve(view, through_hz=dips_hz(review, view))
    points, coarse = (
        return_loss_db_from_gamma_abs(np.maximum(np.abs(view.gamma), SMALLEST_GAMMA)),
        is_coarse(review),
    )
    figure, axes = new_axes(
        file_name(review),
        f"return loss {plane_words(review)}" if titled else "",
        f"return loss to {view.reference_ohm:g} ohm, dB" + ("" if coarse else ", 95 % interval shaded"),
        "frequency, MHz",
        size=size,
    )
    scale_frequency(axes, float(view.f_hz[0]), float(view.f_hz[-1]))
    loss_db = traces.return_loss_db
    drawn = points if coarse else loss_db.value
    deepest = float(np.clip(1.2 * drawn.max() + 2, LEAST_DB, MOST_DB))
    axes.set_ylim(deepest, min(0.0, float(drawn.min())) - 0.04 * deepest)
    if coarse:
        draw_coarse(axes, view.f_hz, points)
    else:
        draw_trace(axes, traces.f_hz, loss_db)
        draw_points(axes, view.f_hz, points)
    names = Names(axes)
    names.keep_off((view if coarse else traces).f_hz / 1e6, np.minimum(drawn, deepest))
    draw_bands(axes, review.bands, low_hz=float(view.f_hz[0]), high_hz=float(view.f_hz[-1]), names=names)
    if coarse:
        name_coarse(names, view.f_hz, points, low=min(0.0, float(drawn.min())), high=deepest)
        return figure
    for dip in review.main_plane.dips[:4]:
        if dip.f_hz.value is not None and dip.return_loss_db.value is not None:
            db = dip.return_loss_db.value
            names.put(f"{dip.f_hz.value / 1e6:.3f} MHz\n{db:.1f} dB", dip.f_hz.value / 1e6, min(db, deepest))
    return figure
