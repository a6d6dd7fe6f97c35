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
    within = values <= limit
    share = np.count_nonzero(within[:, :-1] & within[:, 1:], axis=1).astype(np.float64)
    draw, at = np.nonzero(within[:, :-1] != within[:, 1:])
    off = np.abs(np.stack([values[draw, at], values[draw, at + 1]]) - limit)
    inside = np.where(within[draw, at], off[0], off[1])
    share += np.bincount(draw, inside / (off[0] + off[1]), minlength=len(share))
    return np.asarray(share / (values.shape[1] - 1))
