"""What is not known of a cause, as functions of standard normal numbers."""

from __future__ import annotations

from math import erf, sqrt
from statistics import NormalDist

import numpy as np

from sweepkit.conversions import FloatArray


def share_below(u: FloatArray) -> FloatArray:
    """Share of a standard normal distribution below. [-]"""
    flat = np.ravel(u) / sqrt(2)
    return np.array([0.5 + 0.5 * erf(one) for one in flat.tolist()]).reshape(np.shape(u))


def normal_at(share: FloatArray) -> FloatArray:
    """Standard normal numbers with such shares below them. [-]"""
    quantile = NormalDist().inv_cdf
    return np.array([quantile(one) for one in share.tolist()])


def log_of_sum(logs: FloatArray | list[float]) -> float:
    """Logarithm of the sum of what has these logarithms. [-]"""
    return float(np.logaddexp.reduce(logs))


def even(u: FloatArray, low: float | FloatArray, high: float | FloatArray) -> FloatArray:
    """Any value between two alike."""
    return np.asarray(low + (high - low) * share_below(u))


def even_in_log(u: FloatArray, low: float | FloatArray, high: float | FloatArray) -> FloatArray:
    """Any value between two alike on a logarithmic scale."""
    return np.asarray(np.exp(even(u, np.log(low), np.log(high))))


def spaced(count: int) -> FloatArray:
    """Standard normal numbers of equal shares of probability. [-]"""
    return normal_at((np.arange(count) + 0.5) / count)


def grid(*counts: int) -> FloatArray:
    """All combinations of so many standard normal numbers of each, shape (product of counts, counts); 1: the middle."""
    axes = np.meshgrid(*(spaced(count) for count in counts), indexing="ij")
    return np.stack([axis.ravel() for axis in axes], axis=1)
