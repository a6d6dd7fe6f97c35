"""A quantile of a few numbers, in a tenth of the time that ``np.quantile`` takes to begin, and without ``numpy.ma``."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import FloatArray


def quantile(values: FloatArray, share: float) -> float:
    """As ``np.quantile`` with its linear interpolation; at least one value, none NaN."""
    place = share * (values.size - 1)
    low = int(place)
    high = min(low + 1, values.size - 1)
    around = np.partition(values, (low, high))
    return float(around[low] + (place - low) * (around[high] - around[low]))
