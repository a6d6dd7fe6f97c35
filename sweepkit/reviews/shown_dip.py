"""A dip of an answer as draws, with the Q that its widths tell: what is weighed to find whether heat makes its SWR."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sweepkit.conversions import FloatArray, gamma_abs_from_swr
from sweepkit.figures import Figure
from sweepkit.reviews.plane import Plane

if TYPE_CHECKING:  # antennas are weighed where one is told
    from sweepkit.antennas.radiation import ShownDip

LEAST_WIDTH_HZ = 1.0  # no dip is sharper
WIDTH_LIMITS = (2.0, 3.0)  # where the width of a dip is read
NEAR_LIMIT = (
    0.9  # a dip whose SWR comes so near a limit has no width there worth reading; common practice, no source
)
BETWEEN_95 = 3.92  # ends of a 95 % interval, in standard deviations of a normal one
DRAWS = 2000  # of the stories that are weighed; their chance is good to 0.01
STREAM = 2**31 + 3  # keeps these random numbers apart from all others


def shown_dip(
    plane: Plane, number: int, swept_hz: tuple[float, float], *, reference_ohm: float, at_feedpoint: bool
) -> ShownDip | None:
    """The dip as it is weighed, its intervals as normal draws."""
    dip = plane.dips[number]
    if dip.f_hz.value is None or dip.swr.value is None:
        return None
    dice = np.random.default_rng([STREAM, 1])
    swr = np.maximum(_draws(dip.swr, dice), 1.0)
    from sweepkit.antennas.radiation import ShownDip

    has_r = at_feedpoint and dip.r_ohm.value is not None
    return ShownDip(
        f_hz=_draws(dip.f_hz, dice),
        r_ohm=np.maximum(_draws(dip.r_ohm, dice), 1e-3) if has_r else None,
        swr=swr,
        loaded_q=_loaded_q(plane, number, swept_hz, swr, dice),
        reference_ohm=reference_ohm,
    )


def _draws(figure: Figure, dice: np.random.Generator) -> FloatArray:
    """Normal draws of a figure, its value first."""
    value = figure.value or 0.0
    wide = 0.0 if figure.low is None or figure.high is None else figure.high - figure.low
    drawn = value + wide / BETWEEN_95 * dice.standard_normal(DRAWS)
    drawn[0] = value
    low, high = sorted((0.5 * value, 1.5 * value))  # a normal one has no business further out
    return np.asarray(np.minimum(np.maximum(drawn, low), high))


def _loaded_q(
    plane: Plane, number: int, swept_hz: tuple[float, float], swr: FloatArray, dice: np.random.Generator
) -> FloatArray:
    """Q of a single resonance with the dip's width: 1 - |gamma|² falls to 1/(1 + (Q w/f)²) of what it is at the dip.

    A row for each limit, shape (rows, draws): a sound antenna has the same Q in all of them; a resistance in the return
    of an end-fed keeps the SWR low to one side or far from the dip. Where it stays within a limit up to the end of the
    sweep, the dip is at least as wide as that, and a row more takes the other side for both.
    """
    dip, f_hz = plane.dips[number], _draws(plane.dips[number].f_hz, dice)
    rows = [np.full(DRAWS, np.nan)]
    for width in plane.swr_bandwidths:
        limit = width.limit_swr
        if width.dip != number or limit not in WIDTH_LIMITS:
            continue
        if dip.swr.value is None or dip.swr.value >= NEAR_LIMIT * limit:
            continue
        taken = 1 - gamma_abs_from_swr(np.minimum(swr, 0.99 * limit)) ** 2
        turns = np.sqrt(taken / (1 - float(gamma_abs_from_swr(limit)) ** 2) - 1)
        edges = (width.low_hz, width.high_hz)
        ends = [
            np.full(DRAWS, end_hz) if edge.value is None else _draws(edge, dice)
            for edge, end_hz in zip(edges, swept_hz, strict=True)
        ]
        widths_hz = [ends[1] - ends[0]]
        widths_hz += [
            2 * abs(end - f_hz) for end, edge in zip(ends, edges, strict=True) if edge.value is not None
        ]
        shown = widths_hz if any(edge.value is None for edge in edges) else widths_hz[:1]
        rows += [turns * f_hz / np.maximum(width_hz, LEAST_WIDTH_HZ) for width_hz in shown]
    return np.stack(rows[1:] or rows)
