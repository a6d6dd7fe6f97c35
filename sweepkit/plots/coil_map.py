"""The map of a tapped coil: where each tap dips with the shortest and the longest whip, and advised settings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sweepkit.conversions import FloatArray
from sweepkit.plots.labels import Names
from sweepkit.plots.look import NAVY, RIBBON_ALPHA, VERMILION, WIDE, new_axes

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def plot_coil_map(
    taps: FloatArray,
    shortest_hz: FloatArray,
    longest_hz: FloatArray,
    settings: Sequence[tuple[float, float, str]],
    *,
    size: tuple[float, float] = WIDE,
    titled: bool = True,
) -> Figure:
    """The dip over the turns in use, arrays of one shape (n,); settings are turns, dip [Hz] and place."""
    words = "where each tap dips" if titled else ""
    figure, axes = new_axes(None, words, "dip, MHz", "turns in use", size=size)
    axes.set_yscale("log")
    axes.minorticks_off()
    low, high = float(longest_hz.min()) / 1e6, float(shortest_hz.max()) / 1e6
    ticks = [
        mark
        for mark in (1.8, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 20.0, 28.0, 40.0)
        if low * 0.9 < mark < high * 1.1
    ]
    axes.set_yticks(ticks, [f"{mark:g}" for mark in ticks])
    axes.set_ylim(low * 0.93, high * 1.07)
    reach = float(taps[-1] - taps[0]) or 1.0
    axes.set_xlim(float(taps[0]) - 0.04 * reach, float(taps[-1]) + 0.04 * reach)
    axes.fill_between(taps, longest_hz / 1e6, shortest_hz / 1e6, color=NAVY, alpha=RIBBON_ALPHA, linewidth=0)
    names = Names(axes)
    for values, text in ((shortest_hz, "shortest whip"), (longest_hz, "longest whip")):
        axes.plot(taps, values / 1e6, color=NAVY, linewidth=1.3)
        names.keep_off(taps, values / 1e6)
        middle = taps.size // 2
        names.put(text, float(taps[middle]), float(values[middle]) / 1e6)
    for tap, dip_hz, _ in settings:
        axes.plot([tap], [dip_hz / 1e6], marker="D", color=VERMILION, markersize=6, linestyle="none")
        names.keep_off_mark(tap, dip_hz / 1e6)
    for tap, dip_hz, name in settings:
        names.put(f"{name}: tap {tap:g}", tap, dip_hz / 1e6)
    return figure
