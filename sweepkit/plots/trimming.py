"""Trim progress: frequency against length, the line learned from it with its band, and the target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure as Value
from sweepkit.plots.labels import Names
from sweepkit.plots.look import FAINT, NAVY, RIBBON_ALPHA, VERMILION, WIDE, fitting, new_axes
from sweepkit.plots.whiskers import draw_whiskers, ends_of, roomy

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class TrimStep:
    """One sweep while trimming.

    ``length_m``: length of each part that is trimmed. [m]
    ``dip_hz``: where it dipped, or is predicted to. [Hz]
    ``name``: such as "now", "first", "after a fold of 9 cm"; text of a user.
    ``is_learned_from``: ``False`` for a sweep that contradicts the others; its mark is hollow.
    """

    length_m: float
    dip_hz: Value
    name: str = ""
    is_learned_from: bool = True


def plot_trim(
    steps: Sequence[TrimStep],
    *,
    target_hz: float,
    line_m: FloatArray | None = None,
    line_hz: FloatArray | None = None,
    predicted: TrimStep | None = None,
    name: str | None = None,
    size: tuple[float, float] = WIDE,
    titled: bool = True,
) -> Figure:
    """Every step so far with its interval, where the next one should lead, and the frequency wanted.

    Parameters
    ----------
    steps : sequence of TrimStep
        In the order they were made; one or more.
    target_hz : float
        Frequency wanted. [Hz]
    line_m : float array, shape (n,), optional
        Lengths at which the learned line is drawn. [m]
    line_hz : float array, shape (3, n), optional
        Low end, middle and high end of the dip at those lengths; all the same without an interval. [Hz]
    predicted : TrimStep, optional
        After the first move.
    name : str, optional
        Antenna; text of a user.
    size, titled
        As for :func:`sweepkit.plots.plot_swr`.

    Returns
    -------
    matplotlib Figure
        One axes: dip in MHz over length in m.
    """
    figure, axes = new_axes(
        name,
        "trim progress" if titled else "",
        "dip, MHz, 95 % interval",
        fitting(
            "length of each part, feed to turning point, m", "length, feed to turning point, m", size=size
        ),
        size=size,
    )
    shown = [*steps, *([predicted] if predicted else [])]
    lengths = [step.length_m for step in shown]
    heights = [*ends_of([step.dip_hz for step in shown], scale=1e-6), target_hz / 1e6]
    axes.set_xlim(*roomy(lengths, share=0.25 if len(set(lengths)) > 1 else 0.02))
    axes.set_ylim(*roomy(heights, share=0.18))
    axes.ticklabel_format(useOffset=False)
    names = Names(axes)
    if line_m is not None and line_hz is not None:
        low, middle, high = line_hz / 1e6
        axes.fill_between(line_m, low, high, color=NAVY, alpha=RIBBON_ALPHA, linewidth=0)
        axes.plot(line_m, middle, color=NAVY, linewidth=1.4, label="learned line")
        names.keep_off(line_m, middle)
    axes.axhline(target_hz / 1e6, color=FAINT, linewidth=1.1, linestyle=(0, (5, 3)))
    left, right = axes.get_xlim()
    names.keep_off(_pair(left, right), _pair(target_hz / 1e6, target_hz / 1e6))
    for at in (left, right):
        if names.beside_line(f"target {target_hz / 1e6:.3f} MHz", at, target_hz / 1e6):
            break
    for is_learned_from in (True, False):
        group = [step for step in steps if step.is_learned_from == is_learned_from]
        if group:
            draw_whiskers(
                axes,
                [step.length_m for step in group],
                [step.dip_hz for step in group],
                scale=1e-6,
                hollow=not is_learned_from,
            )
    if predicted is not None:
        draw_whiskers(axes, [predicted.length_m], [predicted.dip_hz], scale=1e-6, colour=VERMILION, mark="D")
    for step in shown:
        _keep_off_whisker(names, step)
    for step in reversed(shown):
        if step.dip_hz.value is not None:
            text = f"{step.dip_hz.value / 1e6:.3f} MHz"
            names.put(f"{step.name}\n{text}" if step.name else text, step.length_m, step.dip_hz.value / 1e6)
    return figure


def _keep_off_whisker(names: Names, step: TrimStep) -> None:
    ends = ends_of([step.dip_hz], scale=1e-6)
    if step.dip_hz.value is not None:
        names.keep_off_mark(step.length_m, step.dip_hz.value / 1e6)
    if ends:
        names.keep_off(_pair(step.length_m, step.length_m), _pair(min(ends), max(ends) + 1e-9))


def _pair(first: float, second: float) -> FloatArray:
    import numpy as np

    return np.array([first, second])
