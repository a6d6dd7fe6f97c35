"""Bands as spans: a bar along the foot of the picture, a pale field above it, the name where there is room."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from sweepkit.plots.labels import GAP_PT, Box, Names
from sweepkit.plots.look import BAND, INK, SMALL_PT, plain, size_pt, text_width_pt

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BAR_PT = 6.0
FIELD_ALPHA = 0.16


class Span(Protocol):
    """A band: a name and two edges."""

    @property
    def name(self) -> str: ...  # noqa: D102

    @property
    def low_hz(self) -> float: ...  # noqa: D102

    @property
    def high_hz(self) -> float: ...  # noqa: D102


def draw_bands(axes: Axes, bands: Sequence[Span], *, low_hz: float, high_hz: float, names: Names) -> None:
    """Draw the bands that a picture from ``low_hz`` to ``high_hz`` shows.

    Parameters
    ----------
    axes : matplotlib Axes
        Frequency in MHz along; limits set.
    bands : sequence of Span
        The bands.
    low_hz, high_hz : float
        What the picture shows. [Hz]
    names : Names
        What is named so far; the bands' names are added.
    """
    width_pt, height_pt = size_pt(axes)
    pt_per_hz = width_pt / (high_hz - low_hz)
    end_pt = -GAP_PT
    for band in sorted(bands, key=lambda band: band.low_hz):
        left_hz, right_hz = max(band.low_hz, low_hz), min(band.high_hz, high_hz)
        if left_hz >= right_hz:
            continue
        axes.axvspan(left_hz / 1e6, right_hz / 1e6, color=BAND, alpha=FIELD_ALPHA, linewidth=0)
        axes.axvspan(left_hz / 1e6, right_hz / 1e6, ymax=BAR_PT / height_pt, color=BAND, linewidth=0.5)
        name = plain(band.name)
        name_pt = text_width_pt(name, SMALL_PT)
        ends_pt = ((left_hz - low_hz) * pt_per_hz, (right_hz - low_hz) * pt_per_hz)
        start_pt = _start_pt(ends_pt, name_pt, width_pt, names)
        if start_pt < end_pt + GAP_PT:
            continue
        end_pt = start_pt + name_pt
        axes.annotate(
            name,
            ((start_pt + name_pt / 2) / width_pt, BAR_PT / height_pt),
            xytext=(0, 1.5),
            textcoords="offset points",
            xycoords="axes fraction",
            ha="center",
            va="bottom",
            fontsize=SMALL_PT,
            color=INK,
            parse_math=False,
        )
        names.keep_off_box(_box(start_pt, name_pt))


def _start_pt(ends_pt: tuple[float, float], name_pt: float, width_pt: float, names: Names) -> float:
    """Where a band's name starts: at its middle, at an end where a curve runs through the middle."""
    left_pt, right_pt = ends_pt
    middle_pt = min(max((left_pt + right_pt - name_pt) / 2, 0.0), width_pt - name_pt)
    inside = (
        [left_pt + GAP_PT, right_pt - name_pt - GAP_PT] if right_pt - left_pt > name_pt + 2 * GAP_PT else []
    )
    free = (at for at in (middle_pt, *inside) if not _box(at, name_pt).count_inside(names.points_pt))
    return next(free, middle_pt)


def _box(start_pt: float, name_pt: float) -> Box:
    return Box(start_pt, 0.0, start_pt + name_pt, BAR_PT + 1.6 * SMALL_PT)
