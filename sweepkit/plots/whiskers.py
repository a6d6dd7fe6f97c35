"""Figures on a picture: a mark with its 95 % interval as a whisker; one without an answer is left out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sweepkit.figures import Figure as Value
from sweepkit.plots.look import NAVY

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def draw_whiskers(
    axes: Axes,
    places: Sequence[float],
    figures: Sequence[Value],
    *,
    scale: float = 1.0,
    colour: str = NAVY,
    mark: str = "o",
    hollow: bool = False,
    level: bool = False,
) -> None:
    """Marks, hollow for what is not counted, which are one line of the axes, with upright whiskers, or level ones."""
    known = [
        (at, one.scaled(scale)) for at, one in zip(places, figures, strict=True) if one.value is not None
    ]
    for at, figure in known:
        if figure.low is not None and figure.high is not None:
            draw = axes.hlines if level else axes.vlines
            draw(at, figure.low, figure.high, color=colour, linewidth=1.3, zorder=2)
    middles = [at for at, _ in known], [figure.value for _, figure in known if figure.value is not None]
    axes.plot(
        *(middles[::-1] if level else middles),
        linestyle="none",
        marker=mark,
        markersize=6,
        color=colour,
        markerfacecolor="white" if hollow else colour,
        zorder=3,
    )


def ends_of(figures: Sequence[Value], *, scale: float = 1.0) -> list[float]:
    """Every value and end of an interval, for limits that hold them all."""
    ends = (end for figure in figures for end in (figure.value, figure.low, figure.high))
    return [end * scale for end in ends if end is not None]


def roomy(values: Sequence[float], *, share: float = 0.1) -> tuple[float, float]:
    """Limits round values, with a share of what they span as room at each end."""
    low, high = min(values), max(values)
    room = share * ((high - low) or abs(high) or 1.0)
    return low - room, high + room
