"""A figure as a picture of a page: SVG with text as text, names of its own, and where its axes lie for a readout."""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sweepkit.plots.look import POINTS_PER_INCH
from sweepkit.report.page import Picture

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def as_picture(
    figure: Figure,
    name: str,
    title: str,
    description: str,
    *,
    shows: Sequence[str] = (),
    readout: int | None = None,
    note: str = "",
    moves: Mapping[str, Any] | None = None,
) -> Picture:
    """Of a ``Picture``, with the quantities of the readout that are drawn."""
    frame = _frame(figure) | ({"shows": list(shows)} if shows else {})
    return Picture(name, title, description, _svg(figure, name), frame, readout, note, moves)


def _svg(figure: Figure, prefix: str) -> str:
    """The prefix stands before every name in it, so that pictures of a page do not mix; text of users is escaped."""
    from matplotlib import rc_context

    buffer = io.StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": prefix}):
        figure.savefig(
            buffer, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None}
        )
    svg = buffer.getvalue()
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'\bid="', f'id="{prefix}-', svg)
    svg = svg.replace("url(#", f"url(#{prefix}-").replace('href="#', f'href="#{prefix}-')
    svg = re.sub(r"<svg ([^>]*?)width=\"[^\"]*\"", r"<svg \1", svg, count=1)
    svg = re.sub(r"<svg ([^>]*?)height=\"[^\"]*\"", r"<svg \1", svg, count=1)
    return svg.strip()


def _frame(figure: Figure) -> dict[str, Any]:
    axes = figure.axes[0]
    width, height = (float(inches) * POINTS_PER_INCH for inches in figure.get_size_inches())
    box = axes.get_position()
    return {
        "left": round(box.x0 * width, 2),
        "right": round(box.x1 * width, 2),
        "top": round((1 - box.y1) * height, 2),
        "bottom": round((1 - box.y0) * height, 2),
        "x": [float(end) for end in axes.get_xlim()],
        "y": [float(end) for end in axes.get_ylim()],
        "log": axes.get_yscale() == "log",
    }
