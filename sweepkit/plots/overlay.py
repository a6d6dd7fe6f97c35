"""Several sweeps over one another: SWR with intervals, each named at the right with a piece of its own line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.plots.labels import LINE_HEIGHT, Names, spread_out
from sweepkit.plots.look import (
    FAINT,
    INK,
    PENS,
    POINTS_PER_INCH,
    SMALL_PT,
    WIDE,
    Margins,
    Pen,
    new_axes,
    shortened,
    size_pt,
    sweep_name,
    text_width_pt,
)
from sweepkit.plots.over_frequency import (
    SwrLine,
    interval_words,
    limit_line,
    name_limit,
    scale_frequency,
    scale_swr,
)
from sweepkit.plots.spans import Span, draw_bands

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review

MOST_CURVES = len(PENS)
NAME_PT = 120.0  # room for a name at the right
SAMPLE_PT = 22.0  # piece of line before a name
LEADER_PT = 16.0  # from the end of a curve to that piece
AT_THE_RIGHT = 0.97  # a curve that leaves the picture further left than this share of the width has no leader
ROOMY = 1.7  # font sizes from one name to the next, where the height allows it
NARROW_PT = 300.0  # in a picture below this width names stand above the curves
NAME_ROW_PT, LABEL_PT = 12.0, 18.0  # height of a row of them, and of what the upward direction shows below


class NamedLine(NamedTuple):
    """One line of an overlay, and what stands beside it; text of a user."""

    name: str
    line: SwrLine


def plot_overlay(
    reviews: Sequence[Review], *, size: tuple[float, float] = WIDE, titled: bool = True
) -> Figure:
    """SWR of several reviewed sweeps, each at its radio or where that is not known at its feedpoint.

    Parameters
    ----------
    reviews : sequence of Review
        1 to 12.
    size, titled
        As for :func:`sweepkit.plots.plot_swr`.

    Raises
    ------
    BadInput
        None, or more than 12.
    """
    places = [_place(review) for review in reviews]
    where = places[0] if len(set(places)) == 1 else ""
    curves = [
        NamedLine(
            sweep_name(review.sweep) + (f", {place}" if place and not where else ""), SwrLine.of(review)
        )
        for review, place in zip(reviews, places, strict=True)
    ]
    bands = {band.name: band for review in reviews for band in review.bands}
    limits = {review.limit_swr for review in reviews}
    return overlay_swr(
        curves,
        bands=tuple(bands.values()),
        limit_swr=limits.pop() if len(limits) == 1 else None,
        words="SWR of several sweeps" + (f" at the {where}" if where else "") if titled else "",
        size=size,
    )


def _place(review: Review) -> str:
    """The plane whose SWR is drawn, in a word; empty where it is not known."""
    if review.planes.measured_at == "unknown":
        return ""
    return "feedpoint" if review.planes.radio is None else "radio"


def overlay_swr(
    curves: Sequence[NamedLine],
    *,
    bands: Sequence[Span] = (),
    limit_swr: float | None = None,
    reference_ohm: float = 50.0,
    words: str = "SWR of several sweeps",
    size: tuple[float, float] = WIDE,
) -> Figure:
    """1 to 12 curves over one another, each labelled; a narrow picture grows by the names above its curves."""
    if not 1 <= len(curves) <= MOST_CURVES:
        raise BadInput(f"{len(curves)} curves; a picture takes 1 to {MOST_CURVES}; name fewer files")
    lines = [curve.line for curve in curves]
    above = size[0] * POINTS_PER_INCH < NARROW_PT
    names = [] if above else [shortened(curve.name, NAME_PT, SMALL_PT) for curve in curves]
    rows_pt = NAME_ROW_PT * len(curves) if above else 0.0
    widest_pt = max((text_width_pt(name, SMALL_PT) for name in names), default=0.0)
    margins = Margins(top=46.0 + rows_pt) if above else Margins(right=LEADER_PT + SAMPLE_PT + widest_pt + 12)
    figure, axes = new_axes(
        None,
        words,
        f"SWR to {reference_ohm:g} ohm" + interval_words(lines),
        "frequency, MHz",
        size=(size[0], size[1] + rows_pt / POINTS_PER_INCH),
        margins=margins,
    )
    low_hz = min(float(line.f_hz[0]) for line in lines)
    high_hz = max(float(line.f_hz[-1]) for line in lines)
    scale_frequency(axes, low_hz, high_hz)
    scale_swr(axes, 1.15 * max(float(line.swr.value.max()) for line in lines))
    taken = Names(axes)
    for curve, pen in zip(curves, PENS, strict=False):
        curve.line.draw(axes, taken, pen, curve.name)
    draw_bands(axes, bands, low_hz=low_hz, high_hz=high_hz, names=taken)
    if limit_swr is not None:
        limit_line(axes, limit_swr)
        name_limit(taken, limit_swr, low_hz, high_hz)
    for line in lines:
        line.name(axes, taken)
    pens = [line.pen(pen) for line, pen in zip(lines, PENS, strict=False)]
    if above:
        name_above(axes, [curve.name for curve in curves], pens, up_pt=LABEL_PT + rows_pt)
        return figure
    name_at_the_right(
        axes, names, [last_shown(axes, line.f_hz / 1e6, line.swr.value) for line in lines], pens
    )
    return figure


def last_shown(axes: Axes, x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Where a curve is seen last, from left to right; its end where none of it is. The limits of the axes are set."""
    low, high = sorted(axes.get_ylim())
    seen = np.flatnonzero((y >= low) & (y <= high))
    last = int(seen[-1]) if seen.size else -1
    return float(x[last]), float(y[last])


def name_at_the_right(
    axes: Axes, names: Sequence[str], ends: Sequence[tuple[float, float]], pens: Sequence[Pen]
) -> None:
    """A column of names in the right margin, in the order in which the curves end, with thin lines to them."""
    width_pt, height_pt = size_pt(axes)
    low, high = sorted(axes.get_ylim())
    clipped = np.array([(x, np.clip(y, low, high)) for x, y in ends])
    shares = (axes.transData + axes.transAxes.inverted()).transform(clipped)
    places = spread_out(
        [float(share) for share in shares[:, 1]],
        apart=max(LINE_HEIGHT, min(ROOMY, 0.97 * height_pt / SMALL_PT / len(names))) * SMALL_PT / height_pt,
        low=0.03,
        high=1.0,
    )
    start, stop = 1 + LEADER_PT / width_pt, 1 + (LEADER_PT + SAMPLE_PT) / width_pt
    for name, share, place, pen in zip(names, shares, places, pens, strict=False):
        across: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False}
        if share[0] >= AT_THE_RIGHT:
            axes.plot([share[0], start], [share[1], place], color=FAINT, linewidth=0.6, **across)
        axes.plot(
            [start, stop], [place, place], color=pen.colour, linestyle=pen.dash, linewidth=1.6, **across
        )
        _write_name(axes, stop + 4 / width_pt, place, name)


def name_above(axes: Axes, names: Sequence[str], pens: Sequence[Pen], *, up_pt: float) -> None:
    """A row for each curve above the axes: a piece of its line and its name, shortened to the width."""
    width_pt, height_pt = size_pt(axes)
    for k, (name, pen) in enumerate(zip(names, pens, strict=True)):
        up = 1 + (up_pt - NAME_ROW_PT * k - 5) / height_pt
        across: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False}
        sample = [0, SAMPLE_PT / width_pt]
        axes.plot(sample, [up, up], color=pen.colour, linestyle=pen.dash, linewidth=1.6, **across)
        _write_name(axes, (SAMPLE_PT + 4) / width_pt, up, shortened(name, width_pt - SAMPLE_PT - 4, SMALL_PT))


def _write_name(axes: Axes, across: float, up: float, name: str) -> None:
    """A name beside the piece of its line, in shares of the axes."""
    axes.text(
        across,
        up,
        name,
        transform=axes.transAxes,
        va="center",
        ha="left",
        fontsize=SMALL_PT,
        color=INK,
        parse_math=False,
    )
