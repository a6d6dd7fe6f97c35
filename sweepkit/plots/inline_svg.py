"""A figure as SVG inside a page: text as text, names of its own, and where its axes lie for a readout."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sweepkit.plots.look import POINTS_PER_INCH

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class InlineSvg:
    """A picture of a page."""

    svg: str  # the text of users in it is escaped
    # of its first axes, in the units of the drawing: left, top, right, bottom, the limits x and y (at left and right,
    # at bottom and top), log for a logarithmic upward scale
    frame: dict[str, Any]


def inline_svg(figure: Figure, *, prefix: str) -> InlineSvg:
    """Draw a figure for a page.

    ``prefix``: letters, digits and hyphens; before every name in it, so that two pictures on a page do not mix.
    """
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
    return InlineSvg(svg.strip(), _frame(figure))


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
