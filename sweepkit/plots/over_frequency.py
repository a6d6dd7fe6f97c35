"""What pictures over frequency share: the curve with its interval, the measured points, scales and the plane's name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sweepkit.conversions import FloatArray, swr_from_gamma_abs
from sweepkit.plots.look import FAINT, INK, NAVY, RIBBON_ALPHA, Pen, size_pt
from sweepkit.plots.traces import Trace, trace_curve
from sweepkit.reviews.plane import LARGEST_GAMMA

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from sweepkit.plots.labels import Names
    from sweepkit.reviews import Review
    from sweepkit.reviews.plane import DipFigures
    from sweepkit.reviews.view import View

MOST_DOTS = 250  # measured points are shown up to this number; more would be a smear
LOWEST_SWR = 0.93  # drawn, so that 1 lies inside
APART_PT = 11.0  # numbers along the SWR are this far apart, else one is left out
SWR_TICKS = (1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0, 20.0)
NARROW_PT, WIDE_PT = 160.0, 260.0  # axes below these widths have fewer numbers along
NAMED_DIPS = 4
NAMED_SWR = 10.0  # shallower dips are not named in a picture
COARSE_DASH = (0, (2.5, 2.5))
LEAST_TOP, MOST_TOP = 3.5, 20.0  # an SWR axis ends between these


def draw_trace(
    axes: Axes, f_hz: FloatArray, trace: Trace, *, colour: str = NAVY, dash: Any = "-", width: float = 1.7
) -> None:
    """A curve over frequency in MHz and its 95 % interval as a ribbon; width in pt."""
    if trace.low is not None and trace.high is not None:
        axes.fill_between(
            f_hz / 1e6, trace.low, trace.high, color=colour, alpha=RIBBON_ALPHA, linewidth=0, zorder=2
        )
    axes.plot(f_hz / 1e6, trace.value, color=colour, linestyle=dash, linewidth=width, zorder=3)


def draw_points(axes: Axes, f_hz: FloatArray, value: FloatArray, *, colour: str = INK) -> None:
    """The measured points, where they are few enough to be told apart."""
    if f_hz.size <= MOST_DOTS:
        axes.plot(
            f_hz / 1e6,
            value,
            linestyle="none",
            marker=".",
            markersize=3.2,
            color=colour,
            alpha=0.55,
            zorder=2.5,
        )


def is_coarse(review: Review) -> bool:
    """Whether the points do not tell where the curve runs between them."""
    return any(finding.code == "too-coarse" for finding in review.findings)


def draw_coarse(
    axes: Axes, f_hz: FloatArray, value: FloatArray, *, colour: str = NAVY, width: float = 0.9
) -> None:
    """Points that do not tell where the curve runs: dots, and a dashed line from each to the next; width in pt."""
    draw_dotted(axes, f_hz / 1e6, value, colour=colour, width=width)


def draw_dotted(axes: Axes, x: FloatArray, y: FloatArray, *, colour: str = NAVY, width: float = 0.9) -> None:
    """The same in the units of the axes."""
    axes.plot(
        x, y, linestyle=COARSE_DASH, linewidth=width, marker="o", markersize=3.0, color=colour, zorder=3
    )


def swr_of_points(view: View) -> FloatArray:
    """SWR of the measured points, shape (n,)."""
    return swr_from_gamma_abs(np.minimum(np.abs(view.gamma), LARGEST_GAMMA))


@dataclass(frozen=True, eq=False)
class SwrLine:
    """SWR of one sweep among several, over rising frequency."""

    f_hz: FloatArray
    swr: Trace
    coarse: bool = False  # they are points that do not tell where the curve runs

    @classmethod
    def of(cls, review: Review) -> SwrLine:
        """Of a reviewed sweep."""
        view = shown_view(review)
        if is_coarse(review):
            return cls(view.f_hz, Trace(swr_of_points(view)), coarse=True)
        traces = trace_curve(view, through_hz=dips_hz(review, view))
        return cls(traces.f_hz, traces.swr)

    def draw(self, axes: Axes, names: Names, pen: Pen, label: str, *, width: float = 1.6) -> None:
        """Draw it and keep names off it."""
        if self.coarse:
            draw_coarse(axes, self.f_hz, self.swr.value, colour=pen.colour)
        else:
            draw_trace(axes, self.f_hz, self.swr, colour=pen.colour, dash=pen.dash, width=width)
        axes.lines[-1].set_label(label)
        names.keep_off(self.f_hz / 1e6, np.minimum(self.swr.value, MOST_TOP))

    def pen(self, pen: Pen) -> Pen:
        """The pen of the piece of line beside its name."""
        return Pen(pen.colour, COARSE_DASH) if self.coarse else pen

    def name(self, axes: Axes, names: Names) -> None:
        """Say where it is too coarse."""
        if self.coarse:
            low, high = axes.get_ylim()
            name_coarse(names, self.f_hz, self.swr.value, low=low, high=high)


def interval_words(lines: Iterable[SwrLine]) -> str:
    """What an axis says of its intervals: nothing where none is drawn."""
    return "" if all(line.coarse for line in lines) else ", 95 % interval shaded"


def name_coarse(names: Names, f_hz: FloatArray, value: FloatArray, *, low: float, high: float) -> None:
    """Say so at the dashed line, where there is room between the ends of the upright axis."""
    inside = np.flatnonzero((value > low) & (value < high))
    for share in (0.5, 0.25, 0.75, 0.05, 0.95):
        if inside.size:
            k = int(inside[int(share * (inside.size - 1))])
            if names.put("too coarse", float(f_hz[k]) / 1e6, float(value[k])):
                return


def scale_swr(axes: Axes, top: float) -> None:
    """A logarithmic SWR axis, up to 3.5 at least and 20 at most, whose numbers are those operators speak of."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    top = float(np.clip(top, LEAST_TOP, MOST_TOP))
    axes.set_yscale("log")
    axes.set_ylim(LOWEST_SWR, top)
    pt_of_log = size_pt(axes)[1] / np.log(top / LOWEST_SWR)
    ticks: list[float] = []
    for tick in SWR_TICKS:
        if tick <= top and (not ticks or pt_of_log * np.log(tick / ticks[-1]) >= APART_PT):
            ticks.append(tick)
    axes.yaxis.set_major_locator(FixedLocator(ticks))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.yaxis.set_minor_locator(NullLocator())


def scale_frequency(axes: Axes, low_hz: float, high_hz: float) -> None:
    """Frequency in MHz along, without an offset or an exponent at its end."""
    from matplotlib.ticker import MaxNLocator, ScalarFormatter

    if not high_hz > low_hz:
        low_hz, high_hz = low_hz - 1e3, high_hz + 1e3
    axes.set_xlim(low_hz / 1e6, high_hz / 1e6)
    width_pt = size_pt(axes)[0]
    bins = 2 if width_pt < NARROW_PT / 2 else 3 if width_pt < NARROW_PT else 5 if width_pt < WIDE_PT else 8
    axes.xaxis.set_major_locator(MaxNLocator(nbins=bins, steps=[1, 2, 2.5, 5, 10]))
    axes.xaxis.set_major_formatter(ScalarFormatter(useOffset=False))


def scale_around(axes: Axes, traces: list[Trace]) -> None:
    """Limits that hold nine tenths of all curves with some room, whatever their spikes."""
    values = np.concatenate([trace.value for trace in traces])
    values = values[np.isfinite(values)]
    low, high = float(values.min()), float(values.max())
    inner = np.quantile(values, [0.05, 0.95])
    reach = max(float(inner[1] - inner[0]), 1e-9)
    low, high = max(low, float(inner[0]) - 1.2 * reach), min(high, float(inner[1]) + 1.2 * reach)
    room = 0.08 * max(high - low, 1e-9)
    axes.set_ylim(low - room, high + room)


def shown_view(review: Review) -> View:
    """The plane that pictures of a review show: the radio where it is known."""
    return review.planes.radio or review.planes.measured


def plane_words(review: Review) -> str:
    """Where that plane is, claiming no more than is known."""
    if review.planes.measured_at == "unknown":
        return "where it was measured"
    return "at the feedpoint" if review.planes.radio is None else "at the radio"


def dips_hz(review: Review, view: View) -> tuple[float, ...]:
    """Dips inside the picture. [Hz]"""
    found = (dip.f_hz.value for dip in review.main_plane.dips)
    return tuple(f_hz for f_hz in found if f_hz is not None and view.f_hz[0] <= f_hz <= view.f_hz[-1])


def name_limit(names: Names, limit_swr: float, low_hz: float, high_hz: float) -> None:
    """Name the limit where there is room beside its line."""
    for mhz in (low_hz / 1e6, high_hz / 1e6, (low_hz + high_hz) / 2e6):
        if names.beside_line(f"limit {limit_swr:g}", mhz, limit_swr):
            return


def name_dips(names: Names, dips: Sequence[DipFigures], *, top: float) -> None:
    """Write dips out as frequency and SWR, deepest first, as far as there is room."""
    for dip in dips[:NAMED_DIPS]:
        f_hz, swr = dip.f_hz.value, dip.swr.value
        if f_hz is not None and swr is not None and swr <= min(top, NAMED_SWR):
            names.put(f"{f_hz / 1e6:.3f} MHz\nSWR {swr:.2f}", f_hz / 1e6, swr)


def limit_line(axes: Axes, limit_swr: float) -> None:
    """The limit that the operator asked for."""
    axes.axhline(limit_swr, color=FAINT, linewidth=1.0, linestyle=(0, (5, 3)), zorder=1.5)
