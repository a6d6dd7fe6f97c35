"""Texts of a figure that lie over one another or leave it, as they are drawn."""

from __future__ import annotations

from itertools import combinations

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text


def drawn_texts(figure: Figure) -> list[Text]:
    """Every text that is seen."""
    FigureCanvasAgg(figure).draw()
    return [text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]


def overlapping(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts that share a point."""
    texts = _inside_the_limits(figure)
    boxes = [(text.get_text(), Text.get_window_extent(text)) for text in texts]
    return [(a, b) for (a, one), (b, other) in combinations(boxes, 2) if one.overlaps(other)]


def outside(figure: Figure) -> list[str]:
    """Texts that the edge of the picture cuts."""
    width, height = figure.bbox.width, figure.bbox.height
    boxes = [(text.get_text(), Text.get_window_extent(text)) for text in _inside_the_limits(figure)]
    return [
        text
        for text, box in boxes
        if box.x0 < -0.5 or box.y0 < -0.5 or box.x1 > width + 0.5 or box.y1 > height + 0.5
    ]


def _inside_the_limits(figure: Figure) -> list[Text]:
    """Without the numbers of ticks beyond the limits, which matplotlib keeps but does not draw."""
    texts = drawn_texts(figure)
    idle: set[int] = set()
    for axes in figure.axes:
        for axis, (low, high) in (
            (axes.xaxis, sorted(axes.get_xlim())),
            (axes.yaxis, sorted(axes.get_ylim())),
        ):
            slack = 1e-6 * (high - low)
            for tick in [*axis.get_major_ticks(), *axis.get_minor_ticks()]:
                if not low - slack <= tick.get_loc() <= high + slack:
                    idle |= {id(tick.label1), id(tick.label2)}
    return [text for text in texts if id(text) not in idle]
