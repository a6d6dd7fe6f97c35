"""The look of every picture: paper white, three inks that differ in lightness, names where the thing is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sweepkit.visible import visible

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sweepkit.sweep import Sweep

WIDE = (7.0, 4.2)  # inches: for a document
NARROW = (3.5, 3.2)  # inches: on a page of 360 px, less its margins, the smallest text is above 11 px
POINTS_PER_INCH = 72.0

# Navy, vermilion and sky: apart in lightness (L* about 17, 49 and 71), so apart in greyscale and to every kind of
# colour vision. tests/plots/test_look.py measures it.
NAVY, VERMILION, SKY = "#14284b", "#c2491d", "#78b7d8"
INK, FAINT, GRID = "#1b1b1b", "#6b6b6b", "#dcdcdc"
RIBBON_ALPHA = 0.22
BAND = "#e8c468"
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (1.5, 1.5)), (0, (7, 2, 1.5, 2)))
TITLE_PT, TEXT_PT, SMALL_PT = 11.0, 10.0, 8.5
TITLE_ROOM_PT = 22.0
ALONG_ROOM_PT = 36.0  # what the words below the axes, in their middle, cannot have of the width
ELLIPSIS = "…"


@dataclass(frozen=True)
class Pen:
    """How one curve is drawn: one of the three inks, one of the four dashes."""

    colour: str
    dash: Any


# Neighbours differ in ink and in dash; twelve before one comes again.
PENS = tuple(Pen((NAVY, VERMILION, SKY)[k % 3], DASHES[k % 4]) for k in range(12))


@dataclass(frozen=True)
class Margins:
    """Room round the axes. [pt]"""

    left: float = 40.0
    right: float = 14.0
    top: float = 46.0
    bottom: float = 36.0


def new_axes(
    name: str | None,
    words: str,
    up: str,
    along: str,
    *,
    size: tuple[float, float] = WIDE,
    margins: Margins | None = None,
) -> tuple[Figure, Axes]:
    """A figure with one axes of known place, its title and what its two directions show.

    The name of the upward direction stands level above the axis, where it is read without turning the head. ``name``
    is text of a user, shortened where it is long; empty ``words`` are no title.
    """
    from matplotlib.figure import Figure

    room = margins or Margins()
    if not words:
        room = replace(room, top=room.top - TITLE_ROOM_PT)
    width_pt, height_pt = (inches * POINTS_PER_INCH for inches in size)
    figure = Figure(figsize=size)
    place = (
        room.left / width_pt,
        room.bottom / height_pt,
        1 - (room.left + room.right) / width_pt,
        1 - (room.top + room.bottom) / height_pt,
    )
    axes = figure.add_axes(place)
    _dress(axes)
    axes.set_xlabel(along, fontsize=TEXT_PT)
    axes.set_ylabel(up, fontsize=TEXT_PT, rotation=0, ha="left", va="bottom")
    axes.yaxis.set_label_coords(-(room.left - 6) / (width_pt - room.left - room.right), _above(axes, 6))
    if not words:
        return figure, axes
    put_title(figure, name, words)
    return figure, axes


@dataclass(frozen=True)
class Panel:
    """Where one of several axes stands, from the lower left corner of the figure. [pt]"""

    left: float
    bottom: float
    width: float
    height: float


def add_panel(figure: Figure, place: Panel) -> Axes:
    """One of several axes of a figure."""
    width_pt, height_pt = (float(inches) * POINTS_PER_INCH for inches in figure.get_size_inches())
    axes = figure.add_axes(
        (place.left / width_pt, place.bottom / height_pt, place.width / width_pt, place.height / height_pt)
    )
    _dress(axes)
    return axes


def put_title(figure: Figure, name: str | None, words: str) -> None:
    """The title at the top left; ``name``, text of a user, stands first."""
    width_pt, height_pt = (float(inches) * POINTS_PER_INCH for inches in figure.get_size_inches())
    figure.text(
        6 / width_pt,
        1 - 6 / height_pt,
        _title(name, words, width_pt - 12),
        fontsize=TITLE_PT,
        fontweight="bold",
        ha="left",
        va="top",
        parse_math=False,
    )


def _dress(axes: Axes) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(FAINT)
    axes.tick_params(labelsize=SMALL_PT, color=FAINT)
    axes.grid(True, color=GRID, linewidth=0.6)
    axes.set_axisbelow(True)


def _title(name: str | None, words: str, room_pt: float) -> str:
    """Name and words on one line; the name gives way."""
    if name is None:
        return shortened(words[:1].upper() + words[1:], room_pt, TITLE_PT, bold=True)
    name_pt = room_pt - text_width_pt(f": {words}", TITLE_PT, bold=True)
    return f"{shortened(name, name_pt, TITLE_PT, bold=True)}: {words}"


def sweep_name(sweep: Sweep) -> str:
    """The name of a sweep's file without its folders."""
    return visible(sweep.source.name) or "sweep"


def size_pt(axes: Axes) -> tuple[float, float]:
    """Width and height of the axes. [pt]"""
    figure = axes.get_figure()
    width, height = figure.get_size_inches()  # type: ignore[union-attr]
    box = axes.get_position()
    return box.width * width * POINTS_PER_INCH, box.height * height * POINTS_PER_INCH


def _above(axes: Axes, gap_pt: float) -> float:
    """Height just above the axes, as a share of theirs."""
    return 1 + gap_pt / size_pt(axes)[1]


def plain(text: str, *, bold: bool = False) -> str:
    """Text of a user with a mark for whatever cannot be printed with the font at hand."""
    known = _font(bold).get_charmap()
    return "".join(c if ord(c) in known else "?" for c in visible(text))


def text_width_pt(text: str, font_pt: float, *, bold: bool = False) -> float:
    """Width of a line of text, after :func:`plain`. [pt]"""
    font = _font(bold)
    font.set_size(font_pt, POINTS_PER_INCH)
    font.set_text(text)
    return float(font.get_width_height()[0]) / 64  # the font's own unit is 1/64 of a point here


def shortened(text: str, width_pt: float, font_pt: float, *, bold: bool = False) -> str:
    """The text, its front left out where it is too long: sweeps of one outing begin alike and differ at the end."""
    text = plain(text, bold=bold)
    if text_width_pt(text, font_pt, bold=bold) <= width_pt:
        return text
    for first in range(1, len(text) - 1):
        tried = ELLIPSIS + text[first:]
        if text_width_pt(tried, font_pt, bold=bold) <= width_pt:
            return tried
    return ELLIPSIS


def fitting(*texts: str, size: tuple[float, float]) -> str:
    """The first of several wordings, longest first, that has room below the axes of a picture [inch], or the last."""
    room_pt = size[0] * POINTS_PER_INCH - ALONG_ROOM_PT
    return next((text for text in texts if text_width_pt(text, TEXT_PT) <= room_pt), texts[-1])


def _font(bold: bool) -> Any:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    return get_font(findfont(FontProperties(weight="bold" if bold else "normal")))
