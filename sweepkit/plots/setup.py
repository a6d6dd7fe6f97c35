"""Several sweeps of one setup: SWR over what was swept, a panel for each stretch, the gaps left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from sweepkit.errors import BadInput
from sweepkit.plots.labels import Names
from sweepkit.plots.look import INK, PENS, TEXT_PT, Panel, Pen, add_panel, put_title, sweep_name
from sweepkit.plots.over_frequency import (
    SwrLine,
    interval_words,
    limit_line,
    name_dips,
    plane_words,
    scale_frequency,
    scale_swr,
    shown_view,
)
from sweepkit.plots.overlay import NAME_ROW_PT, name_above
from sweepkit.plots.spans import draw_bands

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review

WIDTH_INCHES = 7.0
MOST_COLUMNS = 3
LEFT_PT, RIGHT_PT, TOP_PT, BOTTOM_PT, GAP_PT = 40.0, 18.0, 44.0, 36.0, 24.0
ONE_ROW_PT, ROW_PT = 210.0, 150.0  # height of a panel in a single row, in one of several
TICKS_PT = 22.0  # height of the numbers below a panel


@dataclass(frozen=True, eq=False)
class Curve:
    """One sweep of the setup."""

    name: str
    line: SwrLine
    step_hz: float
    pen: Pen

    @property
    def low_hz(self) -> float:
        """Lowest frequency. [Hz]"""
        return float(self.line.f_hz[0])

    @property
    def high_hz(self) -> float:
        """Highest frequency. [Hz]"""
        return float(self.line.f_hz[-1])


@dataclass
class Stretch:
    """Frequencies swept without a gap, and the sweeps of them."""

    low_hz: float
    high_hz: float
    curves: list[Curve] = field(default_factory=list)


def plot_setup(review: Review) -> Figure:
    """The one answer of several sweeps: every sweep where it was swept, the dips of the answer named.

    Each stretch without a gap has a panel with its own frequency scale; SWR has one scale throughout.

    Parameters
    ----------
    review : Review
        Of :func:`sweepkit.reviews.review_setup`, with parts.

    Returns
    -------
    matplotlib Figure
        An axes for each stretch, rising in frequency: SWR (logarithmic) over frequency in MHz.

    Raises
    ------
    BadInput
        No parts, or more sweeps than can be told apart.
    """
    from matplotlib.figure import Figure

    if not 1 <= len(review.parts) <= len(PENS):
        raise BadInput(
            f"{len(review.parts)} sweeps; a picture takes 1 to {len(PENS)}; name fewer files, or use --csv"
        )
    stretches = find_stretches([_curve(part, pen) for part, pen in zip(review.parts, PENS, strict=False)])
    columns = min(len(stretches), MOST_COLUMNS)
    rows = [stretches[k : k + columns] for k in range(0, len(stretches), columns)]
    panel_pt = ONE_ROW_PT if len(rows) == 1 else ROW_PT
    names_pt = [NAME_ROW_PT * max(len(stretch.curves) for stretch in row) for row in rows]
    height_pt = TOP_PT + sum(names_pt) + len(rows) * (panel_pt + TICKS_PT) + BOTTOM_PT - TICKS_PT
    width_pt = WIDTH_INCHES * 72
    figure = Figure(figsize=(WIDTH_INCHES, height_pt / 72))
    put_title(figure, None, f"SWR {plane_words(review)}, {len(review.parts)} sweeps of one setup")
    reference_ohm = shown_view(review).reference_ohm
    say: dict[str, Any] = {"fontsize": TEXT_PT, "color": INK, "ha": "left"}
    lines = [curve.line for stretch in stretches for curve in stretch.curves]
    up = f"SWR to {reference_ohm:g} ohm{interval_words(lines)}, limit {review.limit_swr:g} dashed"
    figure.text(6 / width_pt, 1 - 26 / height_pt, up, va="top", **say)
    gaps = "; what was not swept is left out" if len(stretches) > 1 else ""
    figure.text(LEFT_PT / width_pt, 5 / height_pt, f"frequency, MHz{gaps}", va="bottom", **say)
    top = 1.15 * max(float(line.swr.value.max()) for line in lines)
    wide_pt = (width_pt - LEFT_PT - RIGHT_PT - (columns - 1) * GAP_PT) / columns
    bottom_pt = height_pt - TOP_PT
    for row, name_pt in zip(rows, names_pt, strict=True):
        bottom_pt -= name_pt + panel_pt
        for column, stretch in enumerate(row):
            left_pt = LEFT_PT + column * (wide_pt + GAP_PT)
            axes = add_panel(figure, Panel(left_pt, bottom_pt, wide_pt, panel_pt))
            _draw(axes, stretch, review, top)
            axes.tick_params(labelleft=column == 0)
            name_above(
                axes,
                [curve.name for curve in stretch.curves],
                [curve.line.pen(curve.pen) for curve in stretch.curves],
                up_pt=NAME_ROW_PT * len(stretch.curves),
            )
        bottom_pt -= TICKS_PT
    return figure


def find_stretches(curves: Sequence[Curve]) -> list[Stretch]:
    """Join sweeps that overlap or meet."""
    stretches: list[Stretch] = []
    for curve in sorted(curves, key=lambda curve: curve.low_hz):
        if not stretches or curve.low_hz > stretches[-1].high_hz:
            stretches.append(Stretch(curve.low_hz, curve.high_hz))
        stretches[-1].high_hz = max(stretches[-1].high_hz, curve.high_hz)
        stretches[-1].curves.append(curve)
    return stretches


def _curve(part: Review, pen: Pen) -> Curve:
    return Curve(sweep_name(part.sweep), SwrLine.of(part), shown_view(part).step_hz, pen)


def _draw(axes: Axes, stretch: Stretch, review: Review, top: float) -> None:
    """One panel; where sweeps overlap the finest lies on top, as it does in the answer."""
    low_hz, high_hz = stretch.low_hz, stretch.high_hz
    scale_frequency(axes, low_hz, high_hz)
    scale_swr(axes, top)
    names = Names(axes)
    for curve in sorted(stretch.curves, key=lambda curve: -curve.step_hz):
        curve.line.draw(axes, names, curve.pen, curve.name)
    limit_line(axes, review.limit_swr)
    names.keep_off(np.array([low_hz, high_hz]) / 1e6, np.full(2, review.limit_swr))
    told = [curve for curve in stretch.curves if not curve.line.coarse]
    inside = [
        dip
        for dip in review.main_plane.dips
        if any(curve.low_hz <= (dip.f_hz.value or 0.0) <= curve.high_hz for curve in told)
    ]
    name_dips(names, inside, top=float(axes.get_ylim()[1]))
    draw_bands(axes, review.bands, low_hz=low_hz, high_hz=high_hz, names=names)
    for curve in stretch.curves:
        curve.line.name(axes, names)
