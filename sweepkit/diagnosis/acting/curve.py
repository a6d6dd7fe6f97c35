"""A smooth curve through a sweep, and a sweep without its noise; numpy alone, since a large library would take longer
to load than all causes take to act out."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray

DEGREE = 3


class Curve:
    """Cubic pieces that meet with the slope of the parabola through each point and its neighbours.

    Parameters
    ----------
    x : float array, shape (n,)
        Rising.
    y : complex array, shape (n,)
        Values there; beyond the ends the value at the end.
    """

    def __init__(self, x: FloatArray, y: ComplexArray) -> None:
        self.x = x
        width, slope = np.diff(x), np.gradient(y, x, edge_order=2)
        step = np.diff(y) / width
        self._pieces = (
            y[:-1],
            slope[:-1],
            (3 * step - 2 * slope[:-1] - slope[1:]) / width,
            (slope[:-1] + slope[1:] - 2 * step) / width**2,
        )

    def __call__(self, at: FloatArray) -> ComplexArray:
        """Values at any places, of the same shape."""
        at = np.minimum(np.maximum(at, self.x[0]), self.x[-1])
        k = np.minimum(self.x.searchsorted(at, side="right"), self.x.size - 1) - 1
        t = at - self.x[k]
        a, b, c, d = self._pieces
        return np.asarray(a[k] + t * (b[k] + t * (c[k] + t * d[k])))


def without_noise(y: ComplexArray, window: int) -> ComplexArray:
    """Every point by the cubic that fits an odd ``window`` of even points about it best [Savitzky and Golay 1964]."""
    t = np.arange(window) / (window // 2) - 1
    powers = np.vander(t, DEGREE + 1, increasing=True)
    fitted = powers @ np.linalg.pinv(powers)  # each row: the fit at one place of the window
    half = window // 2
    inside = np.convolve(y, fitted[half][::-1], mode="valid")
    return np.concatenate([fitted[:half] @ y[:window], inside, fitted[half + 1 :] @ y[-window:]])
