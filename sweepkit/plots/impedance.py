"""R and X over frequency with their 95 % intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sweepkit.conversions import z_from_gamma
from sweepkit.errors import BadInput
from sweepkit.plots.labels import Names
from sweepkit.plots.look import FAINT, PENS, WIDE, new_axes
from sweepkit.plots.over_frequency import (
    dips_hz,
    draw_coarse,
    draw_points,
    draw_trace,
    file_name,
    is_coarse,
    name_coarse,
    plane_words,
    scale_around,
    scale_frequency,
    shown_view,
)
from sweepkit.plots.spans import draw_bands
from sweepkit.plots.traces import Traces, trace_curve

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review

R_PEN, X_PEN = PENS[0], PENS[1]
NAMES_AT = (0.12, 0.88, 0.3, 0.7, 0.5)  # shares of the width where a curve may be named, tried in this order


def plot_impedance(
    review: Review, *, traces: Traces | None = None, size: tuple[float, float] = WIDE, titled: bool = True
) -> Figure:
    """Resistance solid, reactance dashed, both named on the curve.

    Parameters
    ----------
    review, traces, size, titled
        As for :func:`sweepkit.plots.swr.plot_swr`.

    Returns
    -------
    matplotlib Figure
        One axes: R and X in ohm over frequency in MHz.

    Raises
    ------
    BadInput
        A sweep without signed phase has no impedance.
    """
    view = shown_view(review)
    traces = traces or trace_curve(view, through_hz=dips_hz(review, view))
    if traces.r_ohm is None or traces.x_ohm is None:
        raise BadInput(
            "no impedance to draw: the sweep has no signed phase; export it with phase, or draw the SWR",
            path=review.sweep.source.path or None,
        )
    coarse = is_coarse(review)
    figure, axes = new_axes(
        file_name(review),
        f"impedance {plane_words(review)}" if titled else "",
        "R and X, ohm" if coarse else "R and X, ohm, 95 % interval shaded",
        "frequency, MHz",
        size=size,
    )
    scale_frequency(axes, float(view.f_hz[0]), float(view.f_hz[-1]))
    scale_around(axes, [traces.r_ohm, traces.x_ohm])
    axes.axhline(0.0, color=FAINT, linewidth=0.9, zorder=1.5)
    names = Names(axes)
    z_ohm = z_from_gamma(view.gamma, view.reference_ohm)
    for trace, points, pen in ((traces.r_ohm, z_ohm.real, R_PEN), (traces.x_ohm, z_ohm.imag, X_PEN)):
        if coarse:
            draw_coarse(axes, view.f_hz, points, colour=pen.colour)
            names.keep_off(view.f_hz / 1e6, points)
            continue
        draw_trace(axes, traces.f_hz, trace, colour=pen.colour, dash=pen.dash)
        draw_points(axes, view.f_hz, points, colour=pen.colour)
        names.keep_off(traces.f_hz / 1e6, trace.value)
    draw_bands(axes, review.bands, low_hz=float(view.f_hz[0]), high_hz=float(view.f_hz[-1]), names=names)
    low, high = axes.get_ylim()
    if coarse:
        name_coarse(names, view.f_hz, z_ohm.real, low=low, high=high)
    for name, trace in (("R, resistance", traces.r_ohm), ("X, reactance", traces.x_ohm)):
        for share in NAMES_AT:
            k = int(share * (traces.f_hz.size - 1))
            is_shown = low < trace.value[k] < high
            if is_shown and names.put(name, float(traces.f_hz[k]) / 1e6, float(trace.value[k])):
                break
    return figure
