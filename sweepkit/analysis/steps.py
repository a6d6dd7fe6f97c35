"""A jump inside a sweep: the curve is smooth before, smooth after, and somewhere else."""

from __future__ import annotations

import numpy as np

from sweepkit.analysis.local import IndexArray
from sweepkit.conversions import ComplexArray, FloatArray

SIDE = 5  # intervals to each side that a parabola must describe


def step_size(
    f_hz: FloatArray, values: ComplexArray, first: int, last: int, *, misfit: float, least: float
) -> float | None:
    """How far the curve jumps at a group of suspects, first to last.

    ``misfit`` is the distance from a curve beyond which a point is off, ``least`` the smallest jump that counts.
    ``None`` where it does not jump, or a side is too short or not smooth.
    """
    if first < SIDE or last + SIDE >= f_hz.size:
        return None
    at = first - 1 + int(np.argmax(np.abs(np.diff(values[first - 1 : last + 2]))))
    middle_hz = float(f_hz[at] + f_hz[at + 1]) / 2
    sides = (np.arange(at - SIDE, at + 1), np.arange(at + 1, at + 2 + SIDE))
    if sides[0][0] < 0 or sides[1][-1] >= f_hz.size:
        return None
    ends = [_end(f_hz, values, side, middle_hz, misfit) for side in sides]
    if ends[0] is None or ends[1] is None:
        return None
    size = abs(ends[1] - ends[0])
    return size if size > least else None


def _end(
    f_hz: FloatArray, values: ComplexArray, side: IndexArray, middle_hz: float, misfit: float
) -> complex | None:
    """Value of a parabola through one side at the jump; ``None`` where it does not fit."""
    x = (f_hz[side] - middle_hz) / (f_hz[side[-1]] - f_hz[side[0]])
    powers = np.stack([np.ones_like(x), x, x * x], axis=1)
    parabola = np.linalg.lstsq(powers, values[side], rcond=None)[0]
    off = np.abs(powers @ parabola - values[side]).max()
    return None if off > misfit else complex(parabola[0])
