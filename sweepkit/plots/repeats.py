"""The same thing swept again: SWR of the mean with its interval, and of each repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweepkit.conversions import swr_from_gamma_abs
from sweepkit.plots.labels import Names
from sweepkit.plots.look import (
    FAINT,
    PENS,
    SMALL_PT,
    WIDE,
    Margins,
    Pen,
    new_axes,
    shortened,
    sweep_name,
    text_width_pt,
)
from sweepkit.plots.over_frequency import (
    SwrLine,
    interval_words,
    limit_line,
    name_dips,
    name_limit,
    plane_words,
    scale_frequency,
    scale_swr,
    shown_view,
)
from sweepkit.plots.overlay import LEADER_PT, NAME_PT, SAMPLE_PT, last_shown, name_at_the_right
from sweepkit.plots.spans import draw_bands
from sweepkit.plots.traces import Trace
from sweepkit.reviews.plane import LARGEST_GAMMA

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review

MEAN_WIDTH, REPEAT_WIDTH = 1.7, 0.9  # pt
UNNAMED = Pen(FAINT, "-")  # more repeats than pens, or no room for their names
MOST_NAMED = len(PENS) - 1  # the first pen is the mean's


def plot_repeats(
    review: Review, *, named: bool = True, size: tuple[float, float] = WIDE, titled: bool = True
) -> Figure:
    """SWR of the mean of all repeats with its interval, and each repeat as a thin line.

    Drawn at the place of the files' own numbers, where the repeats were swept.

    Parameters
    ----------
    review : Review
        Of :func:`sweepkit.reviews.review_repeats`.
    named : bool
        With the names of up to 11 repeats at the right; otherwise all are grey.
    size, titled
        As for :func:`sweepkit.plots.plot_swr`.

    Returns
    -------
    matplotlib Figure
        One axes: SWR (logarithmic) over frequency in MHz; each line is labelled with its file, the mean with "mean".
    """
    review = review.as_measured()
    view = shown_view(review)
    low_hz, high_hz = float(view.f_hz[0]), float(view.f_hz[-1])
    mean = SwrLine.of(review)
    named = named and len(review.sweeps) <= MOST_NAMED
    pens = PENS[1:] if named else (UNNAMED,) * len(review.sweeps)
    labels = [sweep_name(sweep) for sweep in review.sweeps]
    short = [shortened(label, NAME_PT, SMALL_PT) for label in (*labels, "mean")] if named else []
    right_pt = (
        LEADER_PT + SAMPLE_PT + 12 + max(text_width_pt(name, SMALL_PT) for name in short) if short else 14.0
    )
    figure, axes = new_axes(
        None,
        f"SWR {plane_words(review)}, mean of {len(review.sweeps)} repeats" if titled else "",
        f"SWR to {view.reference_ohm:g} ohm" + interval_words([mean]),
        "frequency, MHz",
        size=size,
        margins=Margins(right=right_pt),
    )
    scale_frequency(axes, low_hz, high_hz)
    curves = [
        SwrLine(
            sweep.f_hz,
            Trace(swr_from_gamma_abs(np.minimum(sweep.gamma_abs, LARGEST_GAMMA))),
            coarse=mean.coarse,
        )
        for sweep in review.sweeps
    ]
    scale_swr(axes, 1.15 * max(float(line.swr.value.max()) for line in (*curves, mean)))
    names = Names(axes)
    mean.draw(axes, names, PENS[0], "mean", width=MEAN_WIDTH)
    for line, label, pen in zip(curves, labels, pens, strict=False):
        line.draw(axes, names, pen, label, width=REPEAT_WIDTH)
    limit_line(axes, review.limit_swr)
    names.keep_off(np.array([low_hz, high_hz]) / 1e6, np.full(2, review.limit_swr))
    draw_bands(axes, review.bands, low_hz=low_hz, high_hz=high_hz, names=names)
    name_limit(names, review.limit_swr, low_hz, high_hz)
    if not mean.coarse:
        name_dips(names, review.main_plane.dips, top=float(axes.get_ylim()[1]))
    mean.name(axes, names)
    if short:
        drawn = list(zip((*curves, mean), (*pens[: len(curves)], PENS[0]), strict=True))
        ends = [last_shown(axes, line.f_hz / 1e6, line.swr.value) for line, _ in drawn]
        name_at_the_right(axes, short, ends, [line.pen(pen) for line, pen in drawn])
    return figure
