"""Where names go: beside what they name, over nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.plots.look import INK, SMALL_PT, plain, size_pt, text_width_pt

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LINE_HEIGHT = 1.28  # of the font size
GAP_PT = 3.0  # kept clear round a name
FAR_PT = (9.0, 16.0, 26.0, 40.0, 58.0, 80.0)  # how far off a name may stand, tried in this order
# Directions tried at each distance: (across, up) of the name's nearest point, and how the name lies to it.
DIRECTIONS = (
    *((1, 0), (-1, 0), (0.7, 0.7), (-0.7, 0.7), (0.4, 0.9), (-0.4, 0.9), (0, 1)),
    *((0.7, -0.7), (-0.7, -0.7), (0.4, -0.9), (-0.4, -0.9), (0, -1)),
)


@dataclass(frozen=True)
class Box:
    """A rectangle in the axes, from their lower left corner. [pt]"""

    left: float
    bottom: float
    right: float
    top: float

    def meets(self, other: Box) -> bool:
        """Whether two rectangles share a point."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.bottom < other.top
            and other.bottom < self.top
        )

    def count_inside(self, points_pt: FloatArray) -> int:
        """How many points, shape (n, 2), lie inside."""
        x, y = points_pt[:, 0], points_pt[:, 1]
        return int(np.count_nonzero((x > self.left) & (x < self.right) & (y > self.bottom) & (y < self.top)))


class Names:
    """Names on one axes whose limits are set; each keeps clear of the curves and of the names before it."""

    def __init__(self, axes: Axes) -> None:
        self.axes = axes
        self.boxes: list[Box] = []  # where no name goes
        self.solid: list[Box] = []  # where no line to a name goes
        self.points_pt: FloatArray = np.empty((0, 2))

    def keep_off(self, x: FloatArray, y: FloatArray) -> None:
        """Keep names off a curve in the units of the axes."""
        points = self._pt(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
        self.points_pt = np.concatenate([self.points_pt, _close_up(points)])

    def keep_off_mark(self, x: float, y: float, *, half_pt: float = 3.0) -> None:
        """Keep names, not the line to its own name, off a mark, whose middle is in the units of the axes."""
        around = half_pt * np.array([(-1, -1), (-1, 1), (1, -1), (1, 1), (0, 0)], dtype=float)
        self.points_pt = np.concatenate([self.points_pt, self._pt(np.array([x]), np.array([y])) + around])

    def keep_off_box(self, box: Box, *, clear_pt: float = 0.0) -> None:
        """Keep names off a place and what is clear left, right and above of it, and their lines off the place."""
        self.boxes.append(Box(box.left - clear_pt, box.bottom, box.right + clear_pt, box.top + clear_pt))
        self.solid.append(box)

    def keep_off_text(self, text: str, x: float, y: float, *, font_pt: float, ha: str, va: str) -> None:
        """Keep names off a text that stands at a point."""
        self.keep_off_box(self._text_at(text, x, y, font_pt, ha, va))

    def count_under(self, text: str, x: float, y: float, font_pt: float, ha: str, va: str) -> int:
        """How many points of curves would lie under a text that stands at a point."""
        return self._text_at(text, x, y, font_pt, ha, va).count_inside(self.points_pt)

    def _text_at(self, text: str, x: float, y: float, font_pt: float, ha: str, va: str) -> Box:
        width, height = text_box(text, font_pt)
        at_x, at_y = (float(at) for at in self._pt(np.array([x]), np.array([y]))[0])
        left = at_x - {"left": 0.0, "center": width / 2, "right": width}[ha]
        bottom = at_y - {"bottom": 0.0, "center": height / 2, "top": height}[va]
        return Box(left, bottom, left + width, bottom + height)

    def beside_line(self, text: str, x: float, y: float, *, font_pt: float = SMALL_PT) -> bool:
        """Name a level line just above or below one of its points; false where there was no free place."""
        text = plain(text)
        width, height = text_box(text, font_pt)
        whole = size_pt(self.axes)
        at_x, at_y = (float(at) for at in self._pt(np.array([x]), np.array([y]))[0])
        left = min(max(at_x - width / 2, GAP_PT), whole[0] - width - GAP_PT)
        for bottom in (at_y + 2, at_y - height - 2):
            box = Box(left - GAP_PT, bottom, left + width + GAP_PT, bottom + height)
            is_free = not any(box.meets(other) for other in self.boxes)
            if is_free and box.bottom >= 0 and box.top <= whole[1] and box.count_inside(self.points_pt) == 0:
                self.keep_off_box(box)
                place = (left / whole[0], (bottom + height / 2) / whole[1])
                self.axes.text(
                    *place,
                    text,
                    transform=self.axes.transAxes,
                    ha="left",
                    va="center",
                    fontsize=font_pt,
                    color=INK,
                    parse_math=False,
                )
                return True
        return False

    def put(
        self, text: str, x: float, y: float, *, font_pt: float = SMALL_PT, leftwards: bool = False
    ) -> bool:
        """Name a point, with a thin line to it; false where there was no free place, the name is then left out."""
        text = "\n".join(plain(line) for line in text.split("\n"))
        at_x, at_y = self._pt(np.array([x]), np.array([y]))[0]
        place = self._free_place(text_box(text, font_pt), float(at_x), float(at_y), -1 if leftwards else 1)
        if place is None:
            return False
        dx, dy, align, box = place
        self.keep_off_box(box)
        leader = np.array([[at_x, at_y], [at_x + dx, at_y + dy]])
        self.points_pt = np.concatenate([self.points_pt, _close_up(leader)])
        self.axes.annotate(
            text,
            (x, y),
            xytext=(dx, dy),
            textcoords="offset points",
            ha=align[0],
            va=align[1],
            fontsize=font_pt,
            color=INK,
            parse_math=False,
            arrowprops={"arrowstyle": "-", "linewidth": 0.7, "color": INK, "shrinkA": 1, "shrinkB": 2},
        )
        return True

    def _free_place(
        self, size: tuple[float, float], at_x: float, at_y: float, side: int
    ) -> tuple[float, float, tuple[str, str], Box] | None:
        width, height = size
        whole = size_pt(self.axes)
        for far in FAR_PT:
            for rightwards, up in DIRECTIONS:
                across = side * rightwards
                dx, dy = far * across, far * up
                left = at_x + dx - (0 if across > 0 else width if across < 0 else width / 2)
                bottom = at_y + dy - (0 if up > 0 else height if up < 0 else height / 2)
                box = Box(left - GAP_PT, bottom - GAP_PT, left + width + GAP_PT, bottom + height + GAP_PT)
                inside = box.left >= 0 and box.bottom >= 0 and box.right <= whole[0] and box.top <= whole[1]
                if not inside or any(box.meets(other) for other in self.boxes):
                    continue
                leader = _close_up(np.array([[at_x, at_y], [at_x + dx, at_y + dy]]))
                if any(other.count_inside(leader) for other in self.solid):
                    continue
                if box.count_inside(self.points_pt) == 0:
                    align = (
                        "left" if across > 0 else "right" if across < 0 else "center",
                        "bottom" if up > 0 else "top" if up < 0 else "center",
                    )
                    return dx, dy, align, box
        return None

    def _pt(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Points of the axes from their lower left corner. [pt]"""
        shares = (self.axes.transData + self.axes.transAxes.inverted()).transform(np.column_stack([x, y]))
        return np.asarray(shares * np.array(size_pt(self.axes)), dtype=float)


def text_box(text: str, font_pt: float) -> tuple[float, float]:
    """Width and height of a name. [pt]"""
    lines = text.split("\n")
    return max(text_width_pt(line, font_pt) for line in lines), LINE_HEIGHT * font_pt * len(lines)


def spread_out(wanted: Sequence[float], *, apart: float, low: float, high: float) -> list[float]:
    """Places near the wanted ones, in the same order, ``apart`` from one another or less where they do not fit."""
    n = len(wanted)
    if n == 0:
        return []
    apart = min(apart, (high - low) / max(n - 1, 1))
    order = sorted(range(n), key=lambda k: wanted[k])
    # Groups that touch move as one, to the mean of where their members would stand.
    groups: list[list[float]] = []  # [sum of wanted starts, members]
    for k, index in enumerate(order):
        groups.append([wanted[index] - k * apart, 1])
        while len(groups) > 1 and groups[-2][0] / groups[-2][1] > groups[-1][0] / groups[-1][1]:
            total, members = groups.pop()
            groups[-1][0] += total
            groups[-1][1] += members
    placed = [0.0] * n
    k = 0
    for total, members in groups:
        for _ in range(int(members)):
            start = min(max(total / members, low), high - (n - 1) * apart)
            placed[order[k]] = start + k * apart
            k += 1
    return placed


def _close_up(points: FloatArray, step_pt: float = 2.0) -> FloatArray:
    """A curve as points so close that no name fits between them."""
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < 2:
        return points
    gaps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(gaps)])
    if not along[-1] > 0:
        return points[:1]
    count = int(min(along[-1] / step_pt + 2, 20_000))
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1])])
