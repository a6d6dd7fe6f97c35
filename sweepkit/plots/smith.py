"""Smith chart: a light grid of arcs, the sweep from its start to its end, the bands as thick stretches."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray, gamma_abs_from_swr
from sweepkit.errors import BadInput
from sweepkit.plots.labels import Names
from sweepkit.plots.look import (
    BAND,
    FAINT,
    GRID,
    NAVY,
    SMALL_PT,
    Margins,
    fitting,
    new_axes,
    size_pt,
    sweep_name,
)
from sweepkit.plots.over_frequency import (
    COARSE_DASH,
    NAMED_SWR,
    dips_hz,
    draw_dotted,
    is_coarse,
    plane_words,
    shown_view,
)
from sweepkit.plots.traces import Traces, trace_curve

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from sweepkit.plots.spans import Span
    from sweepkit.reviews import Review
    from sweepkit.reviews.plane import DipFigures

SQUARE = (5.2, 5.75)  # inches
RATIOS = (0.2, 0.5, 1.0, 2.0, 5.0)  # R and X over the reference whose lines are drawn
ARC_POINTS = 181
REACH = 1.1  # of the chart's radius that is shown
NAMED_DIPS = 4
GRID_PT = 8.3
MARKS = 6  # about as many frequencies are marked along the curve
# Stop over start from which on only what lies in and round the bands asked for is drawn strong
WIDE_SWEEP = 1.5
# Of the band's frequency to either side that is drawn strong with it; common practice, no source
ROUND_BAND = 0.1
WHITE = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}


def plot_smith(
    review: Review, *, traces: Traces | None = None, size: tuple[float, float] = SQUARE, titled: bool = True
) -> Figure:
    """Reflection in its plane, over lines of equal R and of equal X (Pozar, Microwave Engineering, section 2.4).

    Parameters
    ----------
    review, traces, size, titled
        As for :func:`sweepkit.plots.plot_swr`.

    Returns
    -------
    matplotlib Figure
        One axes; the sweep is its last line but the bands' and is labelled ``sweep``.

    Raises
    ------
    BadInput
        A sweep without signed phase has no place in the plane.
    """
    view = shown_view(review)
    if view.phase != "signed":
        raise BadInput(
            "no Smith chart: the sweep has no signed phase; export it with phase, or draw the SWR",
            path=review.sweep.source.path or None,
        )
    traces = traces or trace_curve(view, through_hz=dips_hz(review, view))
    coarse = is_coarse(review)
    f_hz, gamma = (view.f_hz, view.gamma) if coarse else (traces.f_hz, traces.gamma)
    usable = [band for band in review.bands if (band.best_swr.value or np.inf) <= NAMED_SWR]
    asked = _asked(f_hz, usable or review.bands)
    figure, axes = new_axes(
        sweep_name(review.sweep),
        f"reflection {plane_words(review)}" if titled else "",
        "",
        "Smith chart, lines of R and X in ohm; dots in MHz\n"
        + _key(review, f"reference {view.reference_ohm:g} ohm; ", rest=not asked.all(), size=size),
        size=size,
        margins=Margins(left=8, right=8, top=28, bottom=32),
    )
    _prepare(axes)
    names = Names(axes)
    strong = np.where(asked, gamma, np.nan)  # a line ends where it is not a number
    names.keep_off(strong.real, strong.imag)
    draw_smith_grid(axes, view.reference_ohm, names)
    _draw_limit(axes, review.limit_swr)
    for band in review.bands:
        inside = (f_hz >= band.low_hz) & (f_hz <= band.high_hz)
        _draw_band(axes, gamma[inside], f"band {band.name}", coarse=coarse)
    if not asked.all():
        dash = COARSE_DASH if coarse else "-"
        axes.plot(gamma.real, gamma.imag, color=FAINT, linewidth=0.6, linestyle=dash, alpha=0.6, zorder=2)
    if coarse:
        draw_dotted(axes, strong.real, strong.imag)
    else:
        axes.plot(strong.real, strong.imag, color=NAVY, linewidth=1.8, zorder=3)
    axes.lines[-1].set_label("sweep")
    dips = () if coarse else review.main_plane.dips[:NAMED_DIPS]
    _name_places(names, f_hz, strong, dips)
    if coarse:
        _name_coarse(names, strong)
    else:
        _mark_frequencies(axes, names, f_hz, strong)
    return figure


def draw_smith_grid(axes: Axes, reference_ohm: float, names: Names) -> None:
    """Lines of equal resistance and of equal reactance, with their values in ohm, which are added to the names."""
    for line in smith_lines():
        axes.plot(line.real, line.imag, color=GRID, linewidth=0.8, zorder=1)
    rim = np.exp(1j * np.linspace(0, 2 * np.pi, 2 * ARC_POINTS))
    axes.plot(rim.real, rim.imag, color=FAINT, linewidth=1.0, zorder=1.2)
    axes.plot([-1, 1], [0, 0], color=GRID, linewidth=0.8, zorder=1)
    for ratio in RATIOS:
        at = (ratio - 1) / (ratio + 1)
        value = f"{ratio * reference_ohm:g}"
        sides = [(ha, va) for va in ("bottom", "top") for ha in ("left", "right")]
        ha, va = min(sides, key=lambda side: names.count_under(value, at, 0.0, GRID_PT, *side))
        _write(axes, names, value, at, 0.0, ha, va)
        for sign in (1, -1):
            z = 1j * sign * ratio
            place = 1.055 * (z - 1) / (z + 1)
            _write(
                axes, names, f"{'+' if sign > 0 else '−'}{ratio * reference_ohm:g}", place.real, place.imag
            )


def smith_lines() -> Iterator[ComplexArray]:
    """The grid: for each ratio a circle of equal R, and two arcs of equal X."""
    swing = np.tan(np.linspace(-np.pi / 2 + 1e-6, np.pi / 2 - 1e-6, ARC_POINTS))
    positive = np.tan(np.linspace(0, np.pi / 2 - 1e-6, ARC_POINTS))
    for ratio in RATIOS:
        for z in (ratio + 1j * swing, positive + 1j * ratio, positive - 1j * ratio):
            yield (z - 1) / (z + 1)


def _prepare(axes: Axes) -> None:
    width, height = size_pt(axes)
    axes.set_xlim(-REACH * max(1.0, width / height), REACH * max(1.0, width / height))
    axes.set_ylim(-REACH * max(1.0, height / width), REACH * max(1.0, height / width))
    axes.set_aspect("equal")
    axes.grid(False)
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.xaxis.label.set_fontsize(SMALL_PT)


def _draw_limit(axes: Axes, limit_swr: float) -> None:
    circle = gamma_abs_from_swr(limit_swr) * np.exp(1j * np.linspace(0, 2 * np.pi, ARC_POINTS))
    axes.plot(circle.real, circle.imag, color=FAINT, linewidth=1.0, linestyle=(0, (5, 3)), zorder=1.5)


def _draw_band(axes: Axes, gamma: ComplexArray, label: str, *, coarse: bool) -> None:
    """A thick stretch, or thick dots where the points do not tell where the curve runs."""
    as_drawn: dict[str, Any] = (
        {"linestyle": "none", "marker": "o", "markersize": 8} if coarse else {"solid_capstyle": "butt"}
    )
    axes.plot(gamma.real, gamma.imag, color=BAND, linewidth=7, zorder=2.5, label=label, **as_drawn)


def _key(review: Review, reference: str, *, rest: bool, size: tuple[float, float]) -> str:
    """What circle and colours stand for, below the chart, as far as there is room."""
    circle = f"{reference}circle: SWR {review.limit_swr:g}"
    gold = f"{circle}; gold: bands" if review.bands else circle
    return fitting(f"{gold}; thin grey: the rest" if rest else gold, gold, circle, size=size)


def _asked(f_hz: FloatArray, bands: Sequence[Span]) -> NDArray[np.bool_]:
    """Where the curve is drawn strong: all of a sweep that is not wide, else in and round the bands asked for."""
    if f_hz[-1] < WIDE_SWEEP * f_hz[0] or not bands:
        return np.ones(f_hz.size, dtype=bool)
    low, high = 1 - ROUND_BAND, 1 + ROUND_BAND
    near = [(f_hz >= low * band.low_hz) & (f_hz <= high * band.high_hz) for band in bands]
    return np.asarray(np.any(near, axis=0))


def _mark_frequencies(axes: Axes, names: Names, f_hz: FloatArray, gamma: ComplexArray) -> None:
    """Dots at round frequencies along the curve, named in MHz where there is room."""
    from matplotlib.ticker import MaxNLocator

    shown = np.flatnonzero(np.isfinite(gamma))
    runs = np.split(shown, np.flatnonzero(np.diff(shown) > 1) + 1)
    each = max(1, MARKS // len(runs))
    for run in runs:
        low, high = float(f_hz[run[0]]) / 1e6, float(f_hz[run[-1]]) / 1e6
        for mhz in MaxNLocator(nbins=each, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high):
            if low < mhz < high:
                x, y = (np.interp(mhz * 1e6, f_hz[run], part) for part in (gamma[run].real, gamma[run].imag))
                axes.plot([x], [y], linestyle="none", marker="o", markersize=3.5, color=NAVY, zorder=3.2)
                names.put(f"{mhz:g}", float(x), float(y), font_pt=GRID_PT)


def _name_places(names: Names, f_hz: FloatArray, gamma: ComplexArray, dips: Sequence[DipFigures]) -> None:
    """Dips first, then where the sweep starts and ends."""
    wanted = [
        (f"{dip.f_hz.value / 1e6:.3f} MHz\nSWR {dip.swr.value:.2f}", dip.f_hz.value)
        for dip in dips
        if dip.f_hz.value is not None and dip.swr.value is not None
    ]
    wanted += [
        (f"from {f_hz[0] / 1e6:g} MHz", float(f_hz[0])),
        (f"to {f_hz[-1] / 1e6:g} MHz", float(f_hz[-1])),
    ]
    for text, at_hz in wanted:
        place = gamma[int(np.argmin(np.abs(f_hz - at_hz)))]
        if np.isfinite(place):
            names.put(text, float(place.real), float(place.imag))


def _name_coarse(names: Names, gamma: ComplexArray) -> None:
    """Say so at the dashed line, where there is room."""
    shown = gamma[np.isfinite(gamma)]
    for share in (0.5, 0.25, 0.75):
        place = shown[int(share * (shown.size - 1))]
        if names.put("too coarse", float(place.real), float(place.imag)):
            return


def _write(
    axes: Axes, names: Names, text: str, x: float, y: float, ha: str = "center", va: str = "center"
) -> None:
    axes.text(x, y, text, ha=ha, va=va, fontsize=GRID_PT, color=FAINT, zorder=1.6, bbox=WHITE)
    names.keep_off_text(text, x, y, font_pt=GRID_PT, ha=ha, va=va)
