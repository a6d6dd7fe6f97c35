"""Which part of a band has which verdict: segments without gap or overlap."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweepkit.station.at_radio import Nominal
from sweepkit.station.point_verdicts import Verdict

IndexArray = NDArray[np.intp]
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


def find_segments(
    curves: Nominal,
    sizes: Sequence[int],
    verdicts: NDArray[np.str_],
    judge: Callable[[Nominal, IndexArray], NDArray[np.str_]],
) -> list[tuple[Segment, ...]]:
    """Segments of the swept parts of bands, in rising frequency, by the verdicts at the points of their curves.

    The curves stand one after the other, ``sizes`` points of each; ``judge`` gives verdicts between points, of such
    curves and the point before each. Neighbours share their edge and differ in their verdict; together they cover the
    curve. A single point has none.
    """
    end = np.cumsum(sizes)
    band = np.repeat(np.arange(end.size), sizes)
    edges_hz: list[list[float]] = [[] for _ in sizes]
    names: list[list[str]] = [[] for _ in sizes]
    for at, edge_hz, name in _changes(curves, band, verdicts, judge):
        edges_hz[band[at]].append(edge_hz)
        names[band[at]].append(name)
    return [
        _between(
            [float(curves.f_hz[last - size]), *edges_hz[k], float(curves.f_hz[last - 1])],
            [*names[k], str(verdicts[last - 1])],
        )
        if size > 1
        else ()
        for k, (size, last) in enumerate(zip(sizes, end.tolist(), strict=True))
    ]


def _between(ends_hz: list[float], names: list[str]) -> tuple[Segment, ...]:
    return tuple(
        Segment(name, low_hz, high_hz)  # type: ignore[arg-type]  # names come from point_verdicts
        for name, low_hz, high_hz in zip(names, ends_hz[:-1], ends_hz[1:], strict=True)
    )


def _changes(
    curves: Nominal,
    band: IndexArray,
    verdicts: NDArray[np.str_],
    judge: Callable[[Nominal, IndexArray], NDArray[np.str_]],
) -> Iterator[tuple[int, float, str]]:
    """Where the verdict changes inside a band: the point before, the frequency, the verdict up to there."""
    at = np.flatnonzero((verdicts[1:] != verdicts[:-1]) & (band[1:] == band[:-1]))
    if not at.size:
        return
    between = curves.between(at, np.arange(1, STEPS_BETWEEN) / STEPS_BETWEEN)
    inside = judge(between, np.repeat(at, STEPS_BETWEEN - 1)).reshape(at.size, -1)
    f_hz = np.column_stack([curves.f_hz[at], between.f_hz.reshape(at.size, -1), curves.f_hz[at + 1]])
    seen = np.column_stack([verdicts[at], inside, verdicts[at + 1]])
    row, step = np.nonzero(seen[:, 1:] != seen[:, :-1])
    edges_hz = (f_hz[row, step] + f_hz[row, step + 1]) / 2
    yield from zip(at[row].tolist(), edges_hz.tolist(), seen[row, step].tolist(), strict=True)
