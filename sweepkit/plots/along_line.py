"""Reflections against distance: how much comes back from where along a line."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.feedline.reflections import trace_reflections
from sweepkit.figures import Figure as Value
from sweepkit.plots.labels import Names
from sweepkit.plots.look import NAVY, VERMILION, WIDE, fitting, new_axes, sweep_name
from sweepkit.plots.whiskers import draw_whiskers

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from sweepkit.feedline.measure import LineMeasurement
    from sweepkit.sweep import Sweep

SHOWN_BEYOND = 1.35  # of the farthest place that is named; what lies beyond is the wave going to and fro
MOST_POINTS = 600  # drawn, and read off on a page
NAME_COLUMNS = 18  # longer words go on the next line
FLOOR_DB = -60.0  # what is smaller is drawn here


@dataclass(frozen=True)
class Place:
    """A place that reflects."""

    distance_m: Value  # from the near end
    size_db: float  # relative to a total reflection, 0 or less
    words: str  # what it looks like


def trace_line(measured: LineMeasurement, sweep: Sweep) -> tuple[FloatArray, FloatArray]:
    """Up to a little beyond the farthest place: distance [m], reflection relative to a total one [dB]."""
    if sweep.gamma is None:
        raise ValueError("a measured line has sweeps with phase")
    above_zero = sweep.f_hz > 0
    distance_m, size_db = trace_reflections(
        measured.identified, measured.scale, sweep.f_hz[above_zero], sweep.gamma[above_zero]
    )
    places_m = [r.distance_m.value for r in measured.reflections if r.distance_m.value is not None]
    far_m = SHOWN_BEYOND * max(places_m) if places_m else float(distance_m[-1])
    shown = distance_m <= max(far_m, 3 * measured.resolution_m)
    every = max(1, int(np.count_nonzero(shown)) // MOST_POINTS)
    return distance_m[shown][::every], size_db[shown][::every]


def plot_line(
    measured: LineMeasurement,
    sweep: Sweep,
    *,
    size: tuple[float, float] = WIDE,
    titled: bool = True,
    brief: bool = False,
) -> Figure:
    """Reflections along a measured line, its joints, faults and far end named.

    Parameters
    ----------
    measured : LineMeasurement
        The line.
    sweep : Sweep
        One of its sweeps, with phase.
    size, titled, brief
        As for :func:`plot_along_line`.

    Returns
    -------
    matplotlib Figure
        As of :func:`plot_along_line`.
    """
    distance_m, size_db = trace_line(measured, sweep)
    return plot_along_line(
        distance_m,
        size_db,
        places=[Place(r.distance_m, r.size_db, r.looks_like) for r in measured.reflections],
        resolution_m=measured.resolution_m,
        velocity_factor=float(measured.scale.velocity_factor[0]),
        name=sweep_name(sweep),
        size=size,
        titled=titled,
        brief=brief,
    )


def plot_along_line(
    distance_m: FloatArray,
    size_db: FloatArray,
    *,
    places: Sequence[Place] = (),
    resolution_m: float | None = None,
    velocity_factor: float | None = None,
    name: str | None = None,
    size: tuple[float, float] = WIDE,
    titled: bool = True,
    brief: bool = False,
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
    velocity_factor : float, optional
        That the distances rest on; said below them. [-]
    name : str, optional
        File or line; text of a user.
    size, titled
        As for :func:`sweepkit.plots.plot_swr`.
    brief : bool
        Places are named by their distance alone, where a table beside the picture has the rest.

    Returns
    -------
    matplotlib Figure
        One axes: size in dB over distance in m.
    """
    words = "reflections along the line"
    if resolution_m is not None:
        words += f", nearer than {2 * resolution_m:.2g} m they merge"
    at = "" if velocity_factor is None else f", at velocity factor {velocity_factor:.2f}"
    along = fitting(f"distance from the near end, m{at}", f"distance, m{at}", size=size)
    figure, axes = new_axes(
        name, words if titled else "", "reflection relative to a total one, dB", along, size=size
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
        draw_whiskers(axes, [place.distance_m.value], [Value(at_db)], colour=VERMILION, mark="D")
        interval = "" if low_m is None or high_m is None else f"\n({low_m:.2f} to {high_m:.2f})"
        distance = f"{place.distance_m.value:.2f} m"
        whole = f"{distance}{interval}\n" + textwrap.fill(
            f"{place.words}, {place.size_db:.0f} dB", NAME_COLUMNS, break_on_hyphens=False
        )
        for text in (distance,) if brief else (whole, distance):
            if names.put(text, place.distance_m.value, at_db, leftwards=_is_crowded_on_the_right(places, k)):
                break
    return figure


def _is_crowded_on_the_right(places: Sequence[Place], k: int) -> bool:
    """Whether the next place is nearer than the one before, the near end counted as one."""
    here_m = places[k].distance_m.value or 0.0
    others_m = [0.0, *(place.distance_m.value for place in places if place.distance_m.value is not None)]
    left_m = min((here_m - other for other in others_m if other < here_m), default=here_m)
    right_m = min((other - here_m for other in others_m if other > here_m), default=float("inf"))
    return right_m < left_m
