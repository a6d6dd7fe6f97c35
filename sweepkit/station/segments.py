"""Which part of a band has which verdict: segments without gap or overlap."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.station.at_radio import Nominal
from sweepkit.station.point_verdicts import Verdict

STEPS_BETWEEN = 64  # an edge is found to this part of the step of the grid


@dataclass(frozen=True)
class Segment:
    """Part of a band with one verdict in all of it."""

    verdict: Verdict
    low_hz: float
    high_hz: float

    @property
    def width_hz(self) -> float:
        """From end to end. [Hz]"""
        return self.high_hz - self.low_hz


def find_segments(curves: Nominal, judge: Callable[[Nominal], NDArray[np.str_]]) -> tuple[Segment, ...]:
    """Segments of the swept part of a band, in rising frequency, by verdicts of such curves point by point.

    Neighbours share their edge and differ in their verdict; together they cover the curves. A single point has none.
    """
    if curves.f_hz.size == 1:
        return ()
    refined, verdicts = curves, judge(curves)
    if (verdicts[1:] != verdicts[:-1]).any():
        refined = curves.at(_with_steps_where_it_changes(curves.f_hz, verdicts))
        verdicts = judge(refined)
    changes = np.flatnonzero(verdicts[1:] != verdicts[:-1])
    edges = (refined.f_hz[changes] + refined.f_hz[changes + 1]) / 2
    ends = [float(refined.f_hz[0]), *map(float, edges), float(refined.f_hz[-1])]
    names = [str(verdicts[index]) for index in [*changes, len(verdicts) - 1]]
    return tuple(
        Segment(name, low_hz, high_hz)  # type: ignore[arg-type]  # names come from point_verdicts
        for name, low_hz, high_hz in zip(names, ends[:-1], ends[1:], strict=True)
    )


def _with_steps_where_it_changes(f_hz: FloatArray, verdicts: NDArray[np.str_]) -> FloatArray:
    """The grid with many steps between neighbours that differ."""
    changes = np.flatnonzero(verdicts[1:] != verdicts[:-1])
    share = np.arange(1, STEPS_BETWEEN) / STEPS_BETWEEN
    between = f_hz[changes, np.newaxis] + share * (f_hz[changes + 1] - f_hz[changes])[:, np.newaxis]
    return np.union1d(f_hz, between.ravel())
