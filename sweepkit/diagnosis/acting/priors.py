"""What is not known of a cause, as functions of standard normal numbers."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, ndtri

from sweepkit.conversions import FloatArray


def even(u: FloatArray, low: float, high: float) -> FloatArray:
    """Any value between two alike."""
    return np.asarray(low + (high - low) * ndtr(u))


def even_in_log(u: FloatArray, low: float, high: float) -> FloatArray:
    """Any value between two alike on a logarithmic scale."""
    return np.asarray(np.exp(even(u, np.log(low), np.log(high))))


def spaced(count: int) -> FloatArray:
    """Standard normal numbers of equal shares of probability. [-]"""
    return np.asarray(ndtri((np.arange(count) + 0.5) / count))


def grid(*counts: int) -> FloatArray:
    """All combinations of so many standard normal numbers of each, shape (product of counts, counts); 1: the middle."""
    axes = np.meshgrid(*(spaced(count) for count in counts), indexing="ij")
    return np.stack([axis.ravel() for axis in axes], axis=1)
