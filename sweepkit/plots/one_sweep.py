"""One sweep over frequency: SWR, return loss, R and X with the 95 % interval, bands along the foot, dips in words."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.conversions import FloatArray, return_loss_db_from_gamma_abs, z_from_gamma
from sweepkit.errors import BadInput
from sweepkit.plots.labels import Names
from sweepkit.plots.look import FAINT, INK, PENS, VERMILION, WIDE, Pen, new_axes, sweep_name
from sweepkit.plots.over_frequency import (
    MOST_TOP,
    NAMED_DIPS,
    dips_hz,
    draw_coarse,
    draw_points,
    draw_trace,
    is_coarse,
    limit_line,
    name_coarse,
    name_dips,
    name_limit,
    plane_words,
    scale_around,
    scale_frequency,
    scale_swr,
    shown_view,
    swr_of_points,
)
from sweepkit.plots.spans import draw_bands
from sweepkit.plots.traces import SMALLEST_GAMMA, Trace, Traces, trace_curve

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review
    from sweepkit.reviews.view import View

R_PEN, X_PEN = PENS[0], PENS[1]
NAMES_AT = (0.12, 0.88, 0.3, 0.7, 0.5)  # shares of the width where a curve may be named, tried in this order
MOST_DB = 45.0  # what a handheld analyzer can hardly tell from a perfect match; common practice, no source
LEAST_DB = 6.0


@dataclass(frozen=True, eq=False)
class _Sheet:
    """Axes over the frequencies of a sweep, and its curves: points alone where they do not tell where a curve runs."""

    review: Review
    view: View
    traces: Traces
    coarse: bool
    figure: Figure
    axes: Axes

    @classmethod
    def begin(
        cls,
        review: Review,
        traces: Traces | None,
        quantity: str,
        up: str,
        *,
        size: tuple[float, float],
        titled: bool,
    ) -> _Sheet:
        view, coarse = shown_view(review), is_coarse(review)
        traces = traces or trace_curve(view, through_hz=dips_hz(review, view))
        figure, axes = new_axes(
            sweep_name(review.sweep),
            f"{quantity} {plane_words(review)}" if titled else "",
            up.format(view.reference_ohm) + ("" if coarse else ", 95 % interval shaded"),
            "frequency, MHz",
            size=size,
        )
        sheet = cls(review, view, traces, coarse, figure, axes)
        scale_frequency(axes, *sheet.ends_hz)
        return sheet

    @property
    def ends_hz(self) -> tuple[float, float]:
        return float(self.view.f_hz[0]), float(self.view.f_hz[-1])

    @property
    def drawn_hz(self) -> FloatArray:
        return self.view.f_hz if self.coarse else self.traces.f_hz

    @cached_property
    def names(self) -> Names:
        """Asked for once the limits of the axes are final."""
        return Names(self.axes)

    def draw(self, points: FloatArray, trace: Trace, pen: Pen = PENS[0], dots: str = INK) -> None:
        if self.coarse:
            draw_coarse(self.axes, self.view.f_hz, points, colour=pen.colour)
        else:
            draw_trace(self.axes, self.traces.f_hz, trace, colour=pen.colour, dash=pen.dash)
            draw_points(self.axes, self.view.f_hz, points, colour=dots)

    def draw_bands(self) -> None:
        low_hz, high_hz = self.ends_hz
        draw_bands(self.axes, self.review.bands, low_hz=low_hz, high_hz=high_hz, names=self.names)


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
    sheet = _Sheet.begin(review, traces, "SWR", "SWR to {:g} ohm", size=size, titled=titled)
    axes, points = sheet.axes, swr_of_points(sheet.view)
    drawn = points if sheet.coarse else sheet.traces.swr.value
    scale_swr(axes, 1.15 * float(drawn.max()))
    sheet.draw(points, sheet.traces.swr)
    limit_line(axes, review.limit_swr)
    names, ends_hz = sheet.names, sheet.ends_hz
    names.keep_off(sheet.drawn_hz / 1e6, np.minimum(drawn, MOST_TOP))
    names.keep_off(np.array(ends_hz) / 1e6, np.full(2, review.limit_swr))
    sheet.draw_bands()
    if target_hz is not None and ends_hz[0] < target_hz < ends_hz[1]:
        _draw_target(axes, names, target_hz)
    name_limit(names, review.limit_swr, *ends_hz)
    low, high = axes.get_ylim()
    if sheet.coarse:
        name_coarse(names, sheet.view.f_hz, points, low=low, high=high)
    else:
        name_dips(names, review.main_plane.dips, top=float(high))
    return sheet.figure


def _draw_target(axes: Axes, names: Names, target_hz: float) -> None:
    """An upright line, its name near the top where most curves are not."""
    low, high = axes.get_ylim()
    axes.axvline(target_hz / 1e6, color=VERMILION, linewidth=1.1, linestyle=(0, (1.5, 1.5)), zorder=1.5)
    names.keep_off(np.full(2, target_hz / 1e6), np.array([low, high]))
    for share in (0.93, 0.75, 0.55):
        if names.put(f"target\n{target_hz / 1e6:.3f} MHz", target_hz / 1e6, low * (high / low) ** share):
            return


def plot_return_loss(
    review: Review, *, traces: Traces | None = None, size: tuple[float, float] = WIDE, titled: bool = True
) -> Figure:
    """Return loss, positive, deep ones down, so that a dip looks like a dip.

    Parameters
    ----------
    review, traces, size, titled
        As for :func:`sweepkit.plots.plot_swr`.

    Returns
    -------
    matplotlib Figure
        One axes: return loss in dB over frequency in MHz.
    """
    up = "return loss to {:g} ohm, dB"
    sheet = _Sheet.begin(review, traces, "return loss", up, size=size, titled=titled)
    loss_db, view = sheet.traces.return_loss_db, sheet.view
    points = return_loss_db_from_gamma_abs(np.maximum(np.abs(view.gamma), SMALLEST_GAMMA))
    drawn = points if sheet.coarse else loss_db.value
    deepest, least = float(np.clip(1.2 * drawn.max() + 2, LEAST_DB, MOST_DB)), min(0.0, float(drawn.min()))
    sheet.axes.set_ylim(deepest, least - 0.04 * deepest)
    sheet.draw(points, loss_db)
    sheet.names.keep_off(sheet.drawn_hz / 1e6, np.minimum(drawn, deepest))
    sheet.draw_bands()
    if sheet.coarse:
        name_coarse(sheet.names, view.f_hz, points, low=least, high=deepest)
    for dip in () if sheet.coarse else review.main_plane.dips[:NAMED_DIPS]:
        if dip.f_hz.value is not None and dip.return_loss_db.value is not None:
            mhz, db = dip.f_hz.value / 1e6, dip.return_loss_db.value
            sheet.names.put(f"{mhz:.3f} MHz\n{db:.1f} dB", mhz, min(db, deepest))
    return sheet.figure


def plot_impedance(
    review: Review, *, traces: Traces | None = None, size: tuple[float, float] = WIDE, titled: bool = True
) -> Figure:
    """Resistance solid, reactance dashed, both named on the curve.

    Parameters
    ----------
    review, traces, size, titled
        As for :func:`sweepkit.plots.plot_swr`.

    Returns
    -------
    matplotlib Figure
        One axes: R and X in ohm over frequency in MHz.

    Raises
    ------
    BadInput
        A sweep without signed phase has no impedance.
    """
    sheet = _Sheet.begin(review, traces, "impedance", "R and X, ohm", size=size, titled=titled)
    axes, view, traces = sheet.axes, sheet.view, sheet.traces
    if traces.r_ohm is None or traces.x_ohm is None:
        raise BadInput(
            "no impedance to draw: the sweep has no signed phase; export it with phase, or draw the SWR",
            path=review.sweep.source.path or None,
        )
    scale_around(axes, [traces.r_ohm, traces.x_ohm])
    axes.axhline(0.0, color=FAINT, linewidth=0.9, zorder=1.5)
    names, z_ohm = sheet.names, z_from_gamma(view.gamma, view.reference_ohm)
    for trace, points, pen in ((traces.r_ohm, z_ohm.real, R_PEN), (traces.x_ohm, z_ohm.imag, X_PEN)):
        sheet.draw(points, trace, pen, dots=pen.colour)
        names.keep_off(sheet.drawn_hz / 1e6, points if sheet.coarse else trace.value)
    sheet.draw_bands()
    low, high = axes.get_ylim()
    if sheet.coarse:
        name_coarse(names, view.f_hz, z_ohm.real, low=low, high=high)
    for name, trace in (("R, resistance", traces.r_ohm), ("X, reactance", traces.x_ohm)):
        for share in NAMES_AT:
            k = int(share * (traces.f_hz.size - 1))
            is_shown = low < trace.value[k] < high
            if is_shown and names.put(name, float(traces.f_hz[k]) / 1e6, float(trace.value[k])):
                break
    return sheet.figure
