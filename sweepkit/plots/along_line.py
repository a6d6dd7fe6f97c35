"""Reflections against distance: how much comes back from where along a line."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure as Value
from sweepkit.plots.labels import Names
from sweepkit.plots.look import NAVY, VERMILION, WIDE, new_axes
from sweepkit.plots.whiskers import draw_upright

if TYPE_CHECKING:
    from matplotlib.figure import Figure

NAME_COLUMNS = 18  # longer words go on the next line
FLOOR_DB = -60.0  # what is smaller is drawn here


@dataclass(frozen=True)
class Place:
    """A place that reflects.

    Parameters
    ----------
    distance_m : Figure
        From the near end. [m]
    size_db : float
        Relative to a total reflection, 0 or less. [dB]
    words : str
        What it looks like.
    """

    distance_m: Value
    size_db: float
    words: str


def plot_along_line(
    distance_m: FloatArray,
    size_db: FloatArray,
    *,
    places: Sequence[Place] = (),
    resolution_m: float | None = None,
    name: str | None = None,
    size: tuple[float, float] = WIDE,
) -> Figure:
    """Size of the reflection over distance, the found places named with their intervals.

    Parameters
    ----------
    distance_m : float array, shape (n,)
        From the near end, rising. [m]
    size_db : float array, shape (n,)
        Reflection there, relative to a total one. [dB]
    places : sequence of Place
        What was found.
    resolution_m : float, optional
        Places nearer to each other than this cannot be told apart; said in the title. [m]
    name : str, optional
        File or line; text of a user.
    size : tuple of float
        Width and height. [inch]

    Returns
    -------
    matplotlib Figure
        One axes: size in dB over distance in m.
    """
    words = "reflections along the line"
    if resolution_m is not None:
        words += f", nearer than {2 * resolution_m:.2g} m they merge"
    figure, axes = new_axes(
        name, words, "reflection relative to a total one, dB", "distance from the near end, m", size=size
    )
    axes.set_xlim(max(float(distance_m[0]), 0.0), float(distance_m[-1]))
    axes.set_ylim(FLOOR_DB, 8.0)
    axes.set_yticks(np.arange(FLOOR_DB, 1, 10))
    shown_db = np.maximum(size_db, FLOOR_DB)
    axes.fill_between(distance_m, FLOOR_DB, shown_db, color=NAVY, alpha=0.12, linewidth=0)
    axes.plot(distance_m, shown_db, color=NAVY, linewidth=1.5)
    names = Names(axes)
    names.keep_off(distance_m, shown_db)
    for place in places:
        if place.distance_m.value is not None:
            names.keep_off_mark(place.distance_m.value, max(place.size_db, FLOOR_DB))
    for k, place in enumerate(places):
        if place.distance_m.value is None:
            continue
        low_m, high_m = place.distance_m.low, place.distance_m.high
        if low_m is not None and high_m is not None:
            axes.axvspan(low_m, high_m, color=VERMILION, alpha=0.25, linewidth=0)
        at_db = max(place.size_db, FLOOR_DB)
        draw_upright(axes, [place.distance_m.value], [Value(at_db)], colour=VERMILION, mark="D")
        interval = "" if low_m is None or high_m is None else f"\n({low_m:.2f} to {high_m:.2f})"
        names.put(
            f"{place.distance_m.value:.2f} m{interval}\n"
            + _wrapped(f"{place.words}, {place.size_db:.0f} dB"),
            place.distance_m.value,
            at_db,
            leftwards=_is_crowded_on_the_right(places, k),
        )
    return figure


def _wrapped(words: str) -> str:
    return textwrap.fill(words, NAME_COLUMNS, break_on_hyphens=False)


def _is_crowded_on_the_right(places: Sequence[Place], k: int) -> bool:
    """Whether the next place is nearer than the one before, the near end counted as one."""
    here_m = places[k].distance_m.value or 0.0
    others_m = [0.0, *(place.distance_m.value for place in places if place.distance_m.value is not None)]
    left_m = min((here_m - other for other in others_m if other < here_m), default=here_m)
    right_m = min((other - here_m for other in others_m if other > here_m), default=float("inf"))
    return right_m < left_m
