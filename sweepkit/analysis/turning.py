"""Which way a reflection curve turns. That of a passive load turns clockwise as the frequency rises.

The sense is that of the curve's own direction, the sum of arg(Δγ[k+1]/Δγ[k]), not that of its way round the
origin, which may be either for a healthy antenna in a narrow sweep.
"""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import ComplexArray

STEP_IN_NOISE = 12.0  # chords are made so long that noise turns each by less than a tenth of a radian
LEAST_CHORDS = 6
CORNER_RAD = 1.2  # a chord that turns by more is not resolved


def total_turning_rad(gamma: ComplexArray, noise: float) -> float | None:
    """How far the direction of the curve turns from its first chord to its last, anticlockwise positive.

    Points that are not believed are left out of ``gamma``; ``noise`` is the rms of the complex noise. ``None`` where
    the curve is too short for the noise or its turns are not resolved.
    """
    nodes = _nodes(gamma, STEP_IN_NOISE * max(noise, 1e-4))
    if len(nodes) < LEAST_CHORDS + 1:
        return None
    chords = np.diff(gamma[nodes])
    turns = np.angle(chords[1:] / chords[:-1])
    return None if np.abs(turns).max() > CORNER_RAD else float(turns.sum())


def _nodes(gamma: ComplexArray, step: float) -> list[int]:
    """Indices along the curve, each at least a step from the one before."""
    nodes, points = [0], gamma.tolist()
    last = points[0]
    for k, point in enumerate(points):
        if abs(point - last) >= step:
            nodes.append(k)
            last = point
    return nodes
