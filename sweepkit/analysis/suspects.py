"""Points of a sweep through which every high difference lies far above the noise, in groups.

What is left of a smooth curve shrinks with the order of the difference, an error of single points does not.
What a sweep has too few points for looks like an error too: suspects are not yet guilty.
"""

from __future__ import annotations

from math import comb, sqrt

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.local import IndexArray
from sweepkit.conversions import ComplexArray, FloatArray

ORDERS = (2, 4, 6)  # each two more than the one before
SUSPECT_IN_NOISE = 7.0  # one point in a million is so far off by chance
LEAST_OFF = 0.01  # smaller errors of the reflection move no figure that matters [-]
GAP = 5  # suspects no farther apart than this belong together


def find_suspects(values: ComplexArray, noise: FloatArray) -> NDArray[np.bool_]:
    """Which points are suspect, of reflections without common delay or squared magnitudes, shape (..., n).

    ``noise`` is the rms at each point, from an estimate that bursts do not move.
    """
    least = np.full(values.shape, np.inf)
    rest = values
    for order in ORDERS:
        rest = np.diff(rest, 2)
        half = order // 2
        inner = least[..., half : values.shape[-1] - half]
        np.minimum(inner, np.abs(rest) / sqrt(comb(2 * order, order)), out=inner)
    least[..., [0, -1]] = 0.0  # nothing to compare them with
    suspect: NDArray[np.bool_] = least > np.maximum(SUSPECT_IN_NOISE * noise, LEAST_OFF / sqrt(comb(4, 2)))
    return suspect


def group(suspect: NDArray[np.bool_]) -> list[IndexArray]:
    """Suspects together with those nearby, groups in rising order."""
    points = np.flatnonzero(suspect)
    return np.split(points, np.flatnonzero(np.diff(points) > GAP) + 1) if points.size else []
