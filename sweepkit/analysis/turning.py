"""Which way a reflection curve turns. That of a passive load turns clockwise as the frequency rises.

The sense is that of the curve's own direction, the sum of arg(Δγ[k+1]/Δγ[k]), not that of its way round the
origin, which may be either for a healthy antenna in a narrow sweep.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray

STEP_IN_NOISE = 12.0  # chords are made so long that noise turns each by less than a tenth of a radian
LEAST_CHORDS = 6
FEWEST_SIDE_BY_SIDE = 16  # curves; of fewer each is walked by itself in less time
CORNER_RAD = 1.2  # a chord that turns by more is not resolved


def total_turning_rad(gamma: ComplexArray, noise: float) -> float | None:
    """How far the direction of the curve turns from its first chord to its last, anticlockwise positive.

    Points that are not believed are left out of ``gamma``; ``noise`` is the rms of the complex noise. ``None`` where
    the curve is too short for the noise or its turns are not resolved.
    """
    return total_turnings_rad(gamma[np.newaxis], np.array([noise]))[0]


def total_turnings_rad(gamma: ComplexArray, noise: FloatArray) -> list[float | None]:
    """The same of several curves, reflection (sweeps, n) and noise (sweeps,)."""
    steps = STEP_IN_NOISE * np.maximum(noise, 1e-4)
    walk = _nodes_of_all if gamma.shape[0] >= FEWEST_SIDE_BY_SIDE else _nodes_of_each
    return _turnings_rad(gamma, walk(gamma, steps))


def _turnings_rad(gamma: ComplexArray, is_node: NDArray[np.bool_]) -> list[float | None]:
    """Of each curve along its nodes."""
    curve, _ = np.nonzero(is_node)
    ends = np.cumsum(np.bincount(curve, minlength=len(gamma)))
    chords = np.diff(gamma[is_node])
    with np.errstate(
        divide="ignore", invalid="ignore"
    ):  # from the end of a curve to the next, left out below
        turns = np.angle(chords[1:] / chords[:-1])
    turnings: list[float | None] = []
    for start, end in zip([0, *ends[:-1].tolist()], ends.tolist(), strict=True):
        own = turns[start : end - 2]
        short = end - start < LEAST_CHORDS + 1
        turnings.append(None if short or np.abs(own).max() > CORNER_RAD else float(own.sum()))
    return turnings


def _nodes_of_each(gamma: ComplexArray, steps: FloatArray) -> NDArray[np.bool_]:
    """Which points of each curve are at least a step from the one before that is."""
    is_node = np.zeros(gamma.shape, dtype=bool)
    for curve, step, marks in zip(gamma, steps.tolist(), is_node, strict=True):
        nodes, points = [0], curve.tolist()
        last = points[0]
        for k, point in enumerate(points):
            if abs(point - last) >= step:
                nodes.append(k)
                last = point
        marks[nodes] = True
    return is_node


def _nodes_of_all(gamma: ComplexArray, steps: FloatArray) -> NDArray[np.bool_]:
    """The same of many short curves side by side, point by point."""
    points = np.ascontiguousarray(gamma.T)
    is_node = np.zeros(points.shape, dtype=bool)
    is_node[0] = True
    last = points[0].copy()
    for here, mark in zip(points[1:], is_node[1:], strict=True):
        np.greater_equal(np.abs(here - last), steps, out=mark)
        np.copyto(last, here, where=mark)
    return np.ascontiguousarray(is_node.T)
