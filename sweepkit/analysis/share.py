"""Best value and share within a limit of curves given on a grid."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import FloatArray


def lowest_point(grid_hz: FloatArray, magnitude: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Frequency and size of the lowest point of each curve, shape (draws, k), over an even grid.

    Refined by a parabola through its square where it is not at an end.
    """
    best = np.argmin(magnitude, axis=1)
    rows = np.arange(best.size)
    inner = np.clip(best, 1, grid_hz.size - 2)
    a, b, c = (magnitude[rows, inner + k] ** 2 for k in (-1, 0, 1))
    bend = a - 2 * b + c
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where((best == inner) & (bend > 0), 0.5 * (a - c) / bend, 0.0)
    power = np.where(best == inner, b - 0.25 * (a - c) * shift, magnitude[rows, best] ** 2)
    step_hz = grid_hz[1] - grid_hz[0]
    return grid_hz[best] + shift * step_hz, np.sqrt(np.maximum(power, 0.0))


def share_within(values: FloatArray, limit: float) -> FloatArray:
    """Share of an even grid on which each curve, shape (draws, k), is within a limit, linear between points."""
    left, right = values[:, :-1] - limit, values[:, 1:] - limit
    within_left, within_right = left <= 0, right <= 0
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = np.abs(left) / (np.abs(left) + np.abs(right))
    part = np.where(
        within_left, np.where(within_right, 1.0, crossing), np.where(within_right, 1 - crossing, 0.0)
    )
    share: FloatArray = part.mean(axis=1)
    return share
