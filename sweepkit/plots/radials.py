"""Change of dip, R and Q with the number of radials, one above the other over one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sweepkit.errors import BadInput
from sweepkit.figures import Figure as Value
from sweepkit.plots.look import FAINT, GRID, NAVY, SMALL_PT, TEXT_PT, put_title
from sweepkit.plots.whiskers import draw_whiskers, ends_of, roomy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH_INCHES, PANEL_INCHES = 7.0, 1.75
LEFT_PT, RIGHT_PT, TOP_PT, BOTTOM_PT, GAP_PT = 50.0, 14.0, 44.0, 36.0, 26.0


@dataclass(frozen=True)
class RadialStep:
    """One setup.

    ``radials``: how many.
    ``dip_hz``, ``r_ohm``, ``q``: at the feedpoint. [Hz, ohm, -]
    """

    radials: int
    dip_hz: Value
    r_ohm: Value
    q: Value


def plot_radials(
    steps: Sequence[RadialStep], *, name: str | None = None, width_inches: float = WIDTH_INCHES
) -> Figure:
    """Dip, R and Q against the number of radials; a quantity nobody has is left out.

    Parameters
    ----------
    steps : sequence of RadialStep
        One or more.
    name : str, optional
        Antenna; text of a user.
    width_inches : float
        Width of the picture. [inch]

    Returns
    -------
    matplotlib Figure
        An axes for each quantity that has values.

    Raises
    ------
    BadInput
        Nothing has a value.
    """
    from matplotlib.figure import Figure

    panels = [
        (label, [getattr(step, key) for step in steps], scale)
        for label, key, scale in (
            ("dip, MHz", "dip_hz", 1e-6),
            ("R at the dip, ohm", "r_ohm", 1.0),
            ("Q", "q", 1.0),
        )
    ]
    panels = [panel for panel in panels if ends_of(panel[1])]
    if not panels:
        raise BadInput("no setup has a dip, R or Q, so there is no change to draw; sweep again")
    width_pt = width_inches * 72
    height_pt = PANEL_INCHES * 72 * len(panels) + TOP_PT + BOTTOM_PT
    figure = Figure(figsize=(width_inches, height_pt / 72))
    put_title(figure, name or None, "change with radials, 95 % intervals")
    counts = [step.radials for step in steps]
    panel_pt = PANEL_INCHES * 72 - GAP_PT
    for k, (label, figures, scale) in enumerate(panels):
        top_pt = height_pt - TOP_PT - k * PANEL_INCHES * 72
        axes = figure.add_axes(
            (
                LEFT_PT / width_pt,
                (top_pt - panel_pt) / height_pt,
                1 - (LEFT_PT + RIGHT_PT) / width_pt,
                panel_pt / height_pt,
            )
        )
        _draw_panel(axes, counts, figures, label=label, scale=scale, is_last=k == len(panels) - 1)
    axes.set_xlabel("radials", fontsize=TEXT_PT)
    return figure


def _draw_panel(
    axes: Axes, counts: Sequence[int], figures: Sequence[Value], *, label: str, scale: float, is_last: bool
) -> None:
    """One quantity; the numbers of radials stand below the last alone."""
    from matplotlib.ticker import MaxNLocator

    draw_whiskers(axes, counts, figures, scale=scale, colour=NAVY)
    known = sorted(
        (count, figure.value * scale)
        for count, figure in zip(counts, figures, strict=True)
        if figure.value is not None
    )
    axes.plot(*zip(*known, strict=True), color=FAINT, linewidth=0.8, zorder=1)
    axes.set_xlim(min(counts) - 0.6, max(counts) + 0.6)
    axes.set_ylim(*roomy(ends_of(figures, scale=scale), share=0.15))
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.yaxis.set_major_locator(MaxNLocator(nbins=4))
    axes.ticklabel_format(axis="y", useOffset=False)
    axes.grid(True, color=GRID, linewidth=0.6)
    axes.tick_params(labelsize=SMALL_PT, color=FAINT, labelbottom=is_last)
    axes.set_title(label, loc="left", fontsize=TEXT_PT)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
