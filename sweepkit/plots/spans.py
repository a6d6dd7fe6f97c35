"""Bands as spans: a bar along the foot of the picture, a pale field above it, the name where there is room."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from sweepkit.plots.labels import GAP_PT, Box, Names
from sweepkit.plots.look import BAND, INK, SMALL_PT, plain, size_pt, text_width_pt

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BAR_PT = 6.0
CLEAR_PT = 9.0  # kept clear round a band's name by what is named later
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
    """Draw the bands that a picture shows, frequency in MHz along; their names are added."""
    width_pt, height_pt = size_pt(axes)
    pt_per_hz = width_pt / (high_hz - low_hz)
    placed: list[Box] = []
    for band in sorted(bands, key=lambda band: band.low_hz):
        left_hz, right_hz = max(band.low_hz, low_hz), min(band.high_hz, high_hz)
        if left_hz >= right_hz:
            continue
        axes.axvspan(left_hz / 1e6, right_hz / 1e6, color=BAND, alpha=FIELD_ALPHA, linewidth=0)
        axes.axvspan(left_hz / 1e6, right_hz / 1e6, ymax=BAR_PT / height_pt, color=BAND, linewidth=0.5)
        name = plain(band.name)
        name_pt = text_width_pt(name, SMALL_PT)
        ends_pt = ((left_hz - low_hz) * pt_per_hz, (right_hz - low_hz) * pt_per_hz)
        box = _name_box(ends_pt, name_pt, (width_pt, height_pt), names, placed)
        if box is None:
            continue
        placed.append(box)
        axes.annotate(
            name,
            ((box.left + box.right) / 2 / width_pt, (box.bottom + BAR_PT + 1.5) / height_pt),
            xycoords="axes fraction",
            ha="center",
            va="bottom",
            fontsize=SMALL_PT,
            color=INK,
            parse_math=False,
        )
    for box in placed:
        names.keep_off_box(box, clear_pt=CLEAR_PT)


def _name_box(
    ends_pt: tuple[float, float],
    name_pt: float,
    size: tuple[float, float],
    names: Names,
    placed: Sequence[Box],
) -> Box | None:
    """Where a band's name goes, bar included: the middle of its foot, an end of it, or the head, off the curves.

    At an end it lies within the band where there is room, else it begins or ends there. It lies right of
    the names that are placed; None where there is no room.
    """
    left_pt, right_pt = ends_pt
    width_pt, height_pt = size
    high_pt = BAR_PT + 1.6 * SMALL_PT
    middle_pt = min(max((left_pt + right_pt - name_pt) / 2, 0.0), width_pt - name_pt)
    inset_pt = GAP_PT if right_pt - left_pt > name_pt + 2 * GAP_PT else 0.0
    ends_pt = (left_pt + inset_pt, right_pt - name_pt - inset_pt)
    places = [(middle_pt, 0.0), *((at, 0.0) for at in ends_pt if 0 <= at <= width_pt - name_pt)]
    places.append((middle_pt, height_pt - high_pt))
    every = [Box(at, bottom, at + name_pt, bottom + high_pt) for at, bottom in places]
    end_pt = max((box.right + GAP_PT for box in placed), default=0.0)
    free = [box for box in every if box.left >= end_pt and not any(box.meets(other) for other in names.boxes)]
    return next((box for box in free if not box.count_inside(names.points_pt)), free[0] if free else None)
