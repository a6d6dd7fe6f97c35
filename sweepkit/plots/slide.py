"""SWR over a band with the dip where it is and where it would serve best."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweepkit.plots.labels import Names
from sweepkit.plots.look import FAINT, NAVY, RIBBON_ALPHA, WIDE, new_axes
from sweepkit.plots.over_frequency import limit_line, name_limit, scale_frequency, scale_swr
from sweepkit.plots.spans import draw_bands

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sweepkit.conversions import FloatArray
    from sweepkit.reviews.slides import Slid, Slides

TOP_SWR = 8.0  # what lies above is far from any use
AS_NOW = (0, (2, 2))


def plot_slide(
    slides: Slides, *, reference_ohm: float = 50.0, size: tuple[float, float] = WIDE, titled: bool = True
) -> Figure:
    """The present curve dashed, the best one with its interval: SWR (logarithmic) over frequency in MHz."""
    low_hz, high_hz = float(slides.f_hz[0]), float(slides.f_hz[-1])
    figure, axes = new_axes(
        None,
        "SWR with the dip elsewhere" if titled else "",
        f"SWR to {reference_ohm:g} ohm, 95 % interval shaded",
        "frequency, MHz",
        size=size,
    )
    scale_frequency(axes, low_hz, high_hz)
    scale_swr(axes, TOP_SWR)
    now, best = slides.states[slides.now], slides.states[slides.best]
    names = Names(axes)
    if best is not now:
        _draw(axes, names, slides.f_hz, now, colour=FAINT, dash=AS_NOW)
    axes.fill_between(
        slides.f_hz / 1e6, best.swr[1], best.swr[2], color=NAVY, alpha=RIBBON_ALPHA, linewidth=0
    )
    _draw(axes, names, slides.f_hz, best, colour=NAVY, dash="-")
    limit_line(axes, slides.limit_swr)
    names.keep_off(np.array([low_hz, high_hz]) / 1e6, np.full(2, slides.limit_swr))
    draw_bands(axes, (best.band,), low_hz=low_hz, high_hz=high_hz, names=names)
    if best is not now:
        _name(names, slides.f_hz, now, "now", top=TOP_SWR)
    _name(names, slides.f_hz, best, "now, and best" if best is now else "best", top=TOP_SWR)
    name_limit(names, slides.limit_swr, low_hz, high_hz)
    return figure


def _draw(axes: Axes, names: Names, f_hz: FloatArray, state: Slid, *, colour: str, dash: object) -> None:
    axes.plot(f_hz / 1e6, state.swr[0], color=colour, linestyle=dash, linewidth=1.6, zorder=3)
    inside = np.flatnonzero(state.swr[0] <= TOP_SWR)
    names.keep_off(f_hz[inside] / 1e6, state.swr[0][inside])


def _name(names: Names, f_hz: FloatArray, state: Slid, word: str, *, top: float) -> None:
    """At its lowest point that is shown."""
    k = int(np.nanargmin(state.swr[0]))
    if state.swr[0][k] <= top:
        names.put(f"{word}\n{state.dip_hz / 1e6:.3f} MHz", float(f_hz[k]) / 1e6, float(state.swr[0][k]))
