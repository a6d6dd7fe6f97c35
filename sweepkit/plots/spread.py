"""Spread of an antenna over sites: a row for each, its setups with their intervals, the middle of all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.errors import BadInput
from sweepkit.figures import Figure as Value
from sweepkit.plots.look import FAINT, INK, NAVY, SMALL_PT, Margins, new_axes, shortened, text_width_pt
from sweepkit.plots.whiskers import draw_whiskers, ends_of, roomy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_PT, NAME_PT, WIDTH_INCHES = 24.0, 140.0, 7.0


def plot_spread(
    groups: Mapping[str, Sequence[Value]],
    *,
    words: str,
    along: str,
    scale: float = 1.0,
    usual_spread: float | None = None,
    means: Mapping[str, Value] | None = None,
    name: str | None = None,
    width_inches: float = WIDTH_INCHES,
) -> Figure:
    """One row for each site, setup or antenna.

    Parameters
    ----------
    groups : mapping of str to sequence of Figure
        What was measured in each; names are text of a user. Figures without a value are left out.
    words : str
        Title, such as "dip at each site".
    along : str
        Quantity and unit, such as "dip, MHz".
    scale : float
        From the figures' unit to that of ``along``. [-]
    usual_spread : float, optional
        Standard deviation that repeated setups usually show, drawn round the middle of all; same unit as the
        figures.
    means : mapping of str to Figure, optional
        Mean of each group with the interval another such group would lie in: a bar behind its setups.
    name : str, optional
        Antenna; text of a user.
    width_inches : float
        Width of the picture. [inch]

    Returns
    -------
    matplotlib Figure
        One axes; each group is one line of it, from the top down in the order given.

    Raises
    ------
    BadInput
        Nothing has a value.
    """
    values = [figure.value * scale for row in groups.values() for figure in row if figure.value is not None]
    if not values:
        raise BadInput("no setup has this figure, so there is no spread to draw; choose another")
    labels = [shortened(label, NAME_PT * width_inches / WIDTH_INCHES, SMALL_PT) for label in groups]
    left = 14 + max(text_width_pt(label, SMALL_PT) for label in labels)
    size = (width_inches, (ROW_PT * len(labels) + 96) / 72)
    figure, axes = new_axes(name, words, "", along, size=size, margins=Margins(left=left, top=34))
    middle = float(np.median(values))
    reach = [middle + k * 2 * usual_spread * scale for k in (-1, 1)] if usual_spread else []
    bars = [
        bar for label in groups if (bar := (means or {}).get(label)) is not None and bar.value is not None
    ]
    shown = [*bars, *(figure for row in groups.values() for figure in row)]
    axes.set_xlim(*roomy([*reach, *ends_of(shown, scale=scale)]))
    axes.set_ylim(len(labels) - 0.4, -0.9)
    axes.ticklabel_format(axis="x", useOffset=False)
    if reach:
        axes.axvspan(*reach, color=NAVY, alpha=0.1, linewidth=0)
    axes.axvline(middle, color=FAINT, linewidth=1.0, linestyle=(0, (5, 3)))
    notes = ["shaded: usual spread, 95 %"] if reach else []
    notes += ["bars: means, 95 %"] if bars else []
    is_left = middle < sum(axes.get_xlim()) / 2
    axes.annotate(
        "; ".join([f"middle {middle:.4g}", *notes]),
        (middle, -0.9),
        xytext=(4 if is_left else -4, -2),
        textcoords="offset points",
        va="top",
        ha="left" if is_left else "right",
        fontsize=SMALL_PT,
        color=INK,
    )
    for row, label in enumerate(groups):
        _draw_mean(axes, row, (means or {}).get(label), scale=scale)
    for row, figures in enumerate(groups.values()):
        draw_whiskers(axes, _rows(row, figures), figures, scale=scale, level=True)
    axes.set_yticks(range(len(labels)), labels, parse_math=False)
    axes.grid(False, axis="y")
    return figure


def _draw_mean(axes: Axes, row: int, mean: Value | None, *, scale: float) -> None:
    """A bar from end to end of the interval, and a line at the mean."""
    if mean is None or mean.value is None or mean.low is None or mean.high is None:
        return
    low, high = mean.low * scale, mean.high * scale
    axes.barh(row, high - low, left=low, height=0.7, color=NAVY, alpha=0.12, linewidth=0)
    axes.vlines(mean.value * scale, row - 0.35, row + 0.35, color=NAVY, linewidth=1.4)


def _rows(row: int, figures: Sequence[Value]) -> list[float]:
    """Heights of a row's marks, a little apart so that none hides another."""
    return list(row + np.linspace(-0.22, 0.22, len(figures))) if len(figures) > 1 else [float(row)]
