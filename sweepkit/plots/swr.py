"""SWR over frequency with its 95 % envelope, the bands as spans along the foot, the limit and the dips."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweepkit.analysis.curve import smooth_curve
from sweepkit.conversions import FloatArray, swr_from_gamma_abs
from sweepkit.figures import COVERAGE_QUANTILES
from sweepkit.reviews.plane import LARGEST_GAMMA
from sweepkit.reviews.view import View

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from sweepkit.reviews import Review

SIZE_INCHES = (7.0, 4.2)
GRID_POINTS = 400
MOST_DOTS = 250  # measured points are shown up to this number; more would be a smear
TICKS_SWR = (1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0, 20.0)
LEAST_TOP, MOST_TOP = 3.5, 20.0  # the axis ends between these SWRs
INK, ENVELOPE, BAND = "#1b1b1b", "#7f9bb3", "#e8c468"
DIP_LABELS = 4
DIP_LABEL_SWR = 10.0  # shallower dips are not named in the picture
WIDE_DIP = 0.15  # a dip wider than this share of the picture has its name inside, others beside


def plot_swr(review: Review) -> Figure:
    """SWR where the radio sees it, or at the feedpoint where that alone is known.

    Parameters
    ----------
    review : Review
        A reviewed sweep.

    Returns
    -------
    matplotlib Figure
        One axes: SWR (logarithmic) over frequency in MHz.
    """
    from matplotlib.figure import Figure

    view = review.planes.radio or review.planes.measured
    figure = Figure(figsize=SIZE_INCHES, layout="constrained")
    axes = figure.add_subplot()
    dips_hz = [dip.f_hz.value for dip in review.main_plane.dips if dip.f_hz.value is not None]
    grid_hz = np.unique(np.concatenate([np.linspace(view.f_hz[0], view.f_hz[-1], GRID_POINTS), dips_hz]))
    swr = _swr_draws(view, grid_hz)
    top = float(np.clip(1.15 * swr[0].max(), LEAST_TOP, MOST_TOP))
    _draw_envelope(axes, grid_hz, swr)
    _draw_measured(axes, view)
    axes.plot(grid_hz / 1e6, swr[0], color=INK, linewidth=1.6)
    _draw_limit(axes, review.limit_swr, view)
    _scale(axes, top, view)
    _draw_bands(axes, review, view)
    _name_dips(axes, review, view, top)
    axes.set_title(_title(review), loc="left", fontsize=10)
    return figure


def _swr_draws(view: View, grid_hz: FloatArray) -> FloatArray:
    gamma = smooth_curve(
        view.f_hz, view.turned, view.trust, grid_hz, noise=view.noise, ensemble=view.turned_ensemble
    )
    return swr_from_gamma_abs(np.minimum(np.abs(gamma), LARGEST_GAMMA))


def _draw_envelope(axes: Axes, grid_hz: FloatArray, swr: FloatArray) -> None:
    if swr.shape[0] < 2:
        return
    low, high = np.quantile(swr[1:], COVERAGE_QUANTILES, axis=0)
    axes.fill_between(grid_hz / 1e6, low, high, color=ENVELOPE, alpha=0.45, linewidth=0)


def _draw_measured(axes: Axes, view: View) -> None:
    if view.f_hz.size > MOST_DOTS:
        return
    swr = swr_from_gamma_abs(np.minimum(np.abs(view.gamma), LARGEST_GAMMA))
    axes.plot(view.f_hz / 1e6, swr, linestyle="none", marker=".", markersize=3.5, color=INK, alpha=0.6)


def _draw_limit(axes: Axes, limit_swr: float, view: View) -> None:
    axes.axhline(limit_swr, color=INK, linewidth=0.9, linestyle=(0, (5, 3)))
    axes.annotate(
        f"limit {limit_swr:g}",
        (float(view.f_hz[0]) / 1e6, limit_swr),
        xytext=(3, 3),
        textcoords="offset points",
        ha="left",
        fontsize=8,
    )


def _scale(axes: Axes, top: float, view: View) -> None:
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    axes.set_yscale("log")
    axes.set_ylim(0.93, top)
    axes.yaxis.set_major_locator(FixedLocator([tick for tick in TICKS_SWR if tick <= top]))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.set_xlim(float(view.f_hz[0]) / 1e6, float(view.f_hz[-1]) / 1e6)
    axes.grid(True, color="#d9d9d9", linewidth=0.6)
    axes.set_xlabel("frequency, MHz")
    axes.set_ylabel(f"SWR (to {view.reference_ohm:g} ohm)")


def _draw_bands(axes: Axes, review: Review, view: View) -> None:
    """Bands as bars along the foot of the picture, named where there is room."""
    span_hz = float(view.f_hz[-1] - view.f_hz[0])
    last_name_end_hz = -np.inf
    for band in review.bands:
        low_hz, high_hz = max(band.low_hz, view.f_hz[0]), min(band.high_hz, view.f_hz[-1])
        axes.axvspan(low_hz / 1e6, high_hz / 1e6, ymax=0.035, color=BAND, linewidth=0)
        axes.axvspan(low_hz / 1e6, high_hz / 1e6, color=BAND, alpha=0.18, linewidth=0)
        middle_hz = (low_hz + high_hz) / 2
        name_width_hz = 0.013 * span_hz * len(band.name)
        if middle_hz - name_width_hz / 2 < last_name_end_hz:
            continue
        middle_hz = max(middle_hz, float(view.f_hz[0]) + name_width_hz / 2)
        last_name_end_hz = middle_hz + name_width_hz / 2
        axes.annotate(
            band.name,
            (middle_hz / 1e6, 0.045),
            xycoords=("data", "axes fraction"),
            ha="center",
            va="bottom",
            fontsize=8,
        )


def _name_dips(axes: Axes, review: Review, view: View, top: float) -> None:
    for k, dip in enumerate(review.main_plane.dips[:DIP_LABELS]):
        if dip.f_hz.value is None or dip.swr.value is None or dip.swr.value > min(top, DIP_LABEL_SWR):
            continue
        beside_right = dip.f_hz.value < 0.8 * view.f_hz[-1] + 0.2 * view.f_hz[0]
        offset, align = ((0, 22), "center") if _is_wide(review, view, k) else ((14, 0), "left")
        if align == "left" and not beside_right:
            offset, align = (-14, 0), "right"
        axes.annotate(
            f"{dip.f_hz.value / 1e6:.3f} MHz\nSWR {dip.swr.value:.2f}",
            (dip.f_hz.value / 1e6, dip.swr.value),
            xytext=offset,
            textcoords="offset points",
            ha=align,
            va="bottom" if align == "center" else "center",
            fontsize=8,
            arrowprops={"arrowstyle": "-", "linewidth": 0.7, "color": INK},
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 1.0},
        )


def _is_wide(review: Review, view: View, number: int) -> bool:
    """Whether the curve round a dip leaves room above it."""
    dip = review.main_plane.dips[number]
    widths = [w for w in review.main_plane.swr_bandwidths if w.dip == number and w.limit_swr == 3.0]
    width_hz = widths[0].bandwidth_hz.value if widths else None
    if width_hz is None:  # no SWR-3 width: the picture does not hold its ends, or the dip is shallow
        return dip.swr.value is not None and dip.swr.value < 3.0
    return width_hz > WIDE_DIP * float(view.f_hz[-1] - view.f_hz[0])


def _title(review: Review) -> str:
    place = {
        "radio": "at the radio",
        "feedpoint": "at the feedpoint" if review.planes.radio is None else "at the radio",
        "unknown": "where it was measured",
    }[review.planes.measured_at]
    name = review.sweep.source.path.replace("\\", "/").rsplit("/", 1)[-1] or "sweep"
    return f"{_plain(name)}: SWR {place}, line and 95 % interval"


def _plain(name: str) -> str:
    """A file name that matplotlib does not take for mathematics."""
    return name.replace("$", r"\$")
