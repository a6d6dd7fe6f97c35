"""How noisy a sweep is, from the sweep itself."""

from __future__ import annotations

from math import comb, log, sqrt

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray

ORDERS = range(2, 9)
LEAST_DIFFERENCES = 12
CHANCE = 1.12  # estimates of two orders differ by so much without meaning it
FREEDOM_PER_VALUE = 0.25  # worth of each real value in the median of differences; seen in trials [-]
NOISE_FLOOR = 1e-6  # rounding of the printed digits; keeps a noise-free sweep from looking infinitely sure


def estimate_noise(values: ComplexArray | FloatArray, believed: NDArray[np.bool_] | None = None) -> float:
    """Rms noise of evenly sampled values that would be smooth without it.

    High differences cancel anything smooth and keep the noise, whose share in the k-th difference is known:
    sqrt(binomial(2k, k)). The median makes it blind to bursts. Signal that is left only adds, so the lowest
    order that comes within chance of the smallest estimate is believed: it rests on the most points.

    Parameters
    ----------
    values : complex or float array, shape (n,)
        Reflection or its magnitude, in the order of frequency. [-]
    believed : bool array, shape (n,), optional
        Points to rest on; differences through others are left out where enough remain.

    Returns
    -------
    float
        Rms of the noise; for complex values of both parts together, E|n|^2 = noise^2. [-]
    """
    median_share = sqrt(log(2)) if np.iscomplexobj(values) else 0.6745  # median |n| over rms, normal noise
    estimates: list[float] = []
    for order in ORDERS:
        differences = np.abs(np.diff(values, order))
        if believed is not None:
            whole = sliding_window_view(believed, order + 1).all(axis=1)
            differences = differences[whole] if whole.sum() >= LEAST_DIFFERENCES else differences
        if estimates and differences.size < LEAST_DIFFERENCES:
            break
        if differences.size:
            estimates.append(
                float(np.quantile(differences, 0.5)) / median_share / sqrt(comb(2 * order, order))
            )
    smallest = min(estimates, default=NOISE_FLOOR)
    lowest_order = next((e for e in estimates if e <= CHANCE * smallest), smallest)
    return max(lowest_order, NOISE_FLOOR)


def noise_freedom(values: ComplexArray | FloatArray) -> float:
    """Degrees of freedom of :func:`estimate_noise`: how far its answer may be off by chance.

    Parameters
    ----------
    values : complex or float array, shape (n,)
        The values it was given; a complex one counts as two. [-]
    """
    return FREEDOM_PER_VALUE * values.size * (2 if np.iscomplexobj(values) else 1)
