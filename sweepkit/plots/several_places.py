"""Plans for several places: SWR of each over the length of one wire; the map of a tapped coil, tap by tap."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.plots.labels import Names
from sweepkit.plots.look import (
    FAINT,
    NAVY,
    PENS,
    POINTS_PER_INCH,
    RIBBON_ALPHA,
    SMALL_PT,
    VERMILION,
    WIDE,
    Margins,
    new_axes,
    plain,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

KEY_LINE_PT = 14.0  # height of a line of the key
MOST_SWR = 10.0  # above, a place is out of every reach; the scale is logarithmic


def plot_bands_over_length(
    length_m: FloatArray,
    swr: Mapping[str, FloatArray],
    *,
    now_m: float,
    best_m: float,
    first_m: float | None = None,
    limit_swr: float = 2.0,
    size: tuple[float, float] = WIDE,
    titled: bool = True,
) -> Figure:
    """Best SWR that each place holds over the length: arrays of one shape (n,), NaN where it is not known."""
    upright = [(now_m, FAINT, "today"), (best_m, VERMILION, "best")]
    if first_m is not None and abs(first_m - best_m) > 1e-3 and abs(first_m - now_m) > 1e-3:
        upright.append((first_m, VERMILION, "first move"))
    below_pt = KEY_LINE_PT * -(-(len(swr) + len(upright)) // 2)
    figure, axes = new_axes(
        None,
        "SWR of each place over the length" if titled else "",
        "best SWR in the place",
        "length, m",
        size=(size[0], size[1] + below_pt / POINTS_PER_INCH),
        margins=Margins(bottom=Margins.bottom + below_pt),
    )
    axes.set_yscale("log")
    axes.set_ylim(1.0, MOST_SWR)
    axes.set_xlim(float(length_m[0]), float(length_m[-1]))
    marks = (1.0, 1.5, 2.0, 3.0, 5.0, 10.0)
    axes.set_yticks(marks, [f"{mark:g}" for mark in marks])
    axes.minorticks_off()
    axes.axhline(limit_swr, color=FAINT, linewidth=1.0, linestyle=(0, (5, 3)))
    for (name, values), pen in zip(swr.items(), PENS, strict=False):
        shown = np.minimum(np.where(np.isfinite(values), values, np.nan), 3 * MOST_SWR)
        axes.plot(length_m, shown, color=pen.colour, linestyle=pen.dash, linewidth=1.6, label=plain(name))
    for at_m, colour, text in upright:
        dash = "-" if text == "best" else (0, (4, 3))
        axes.axvline(at_m, color=colour, linewidth=1.2, linestyle=dash, label=f"{text} {at_m:.2f} m")
    # several curves meet at their lowest: names beside them find no room, and are left out or cross them
    figure.legend(
        loc="lower center", ncols=2, frameon=False, fontsize=SMALL_PT, handlelength=3.0, borderpad=0.1
    )
    return figure


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
