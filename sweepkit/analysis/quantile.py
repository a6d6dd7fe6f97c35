"""A quantile of a few numbers, in a tenth of the time that ``np.quantile`` takes to begin, and without ``numpy.ma``."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import FloatArray


def quantile(values: FloatArray, share: float) -> float:
    """As ``np.quantile`` with its linear interpolation; at least one value, none NaN."""
    return float(quantiles(values, share))


def quantiles(values: FloatArray, share: float) -> FloatArray:
    """The same along the last axis of several, shape (..., n) in and (...,) out."""
    place = share * (values.shape[-1] - 1)
    low = int(place)
    high = min(low + 1, values.shape[-1] - 1)
    around = np.partition(values, (low, high), axis=-1)
    return np.asarray(around[..., low] + (place - low) * (around[..., high] - around[..., low]))
