"""How noisy a sweep is at each point, from the sweep itself."""

from __future__ import annotations

from math import comb, log, sqrt

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray

ORDERS = range(2, 9)
LEAST_DIFFERENCES = 12
CHANCE = 1.12  # estimates of two orders differ by so much without meaning it
SETTLED = 1.35  # two orders this near agree: estimates of a group of 24 scatter by a fifth each
FREEDOM_PER_VALUE = 0.25  # worth of each real value in the median of differences; seen in trials [-]
NOISE_FLOOR = 1e-6  # keeps a noise-free sweep from looking infinitely sure
GROUPS = 4  # of points by how far they are from an open, whose noise is compared
LEAST_GROUP = 24  # points of a group at least
UNEVEN = 11.0  # chi-squared of one degree of freedom that is reached by chance in 1 of 1000


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
    everywhere = np.ones(values.size, dtype=bool)
    return _of_points(_differences(values, believed), everywhere, complex_values=np.iscomplexobj(values))[0]


def noise_along(
    gamma: ComplexArray, turned: ComplexArray, believed: NDArray[np.bool_] | None = None
) -> FloatArray:
    """Rms noise at each point: even in reflection, even in ohms, or a mixture of both.

    Noise that is even in impedance moves the reflection by \\|1 - gamma\\|^2 / (2 z0), most near a short. Points are
    taken in groups by that factor; where their noise differs by more than chance, it is a mixture.

    Parameters
    ----------
    gamma : complex array, shape (n,)
        Reflection. [-]
    turned : complex array, shape (n,)
        The same without its common delay. [-]
    believed : bool array, shape (n,), optional
        As for :func:`estimate_noise`.

    Returns
    -------
    float array, shape (n,)
        [-]
    """
    differences = _differences(turned, believed)
    even, _ = _of_points(differences, np.ones(turned.size, dtype=bool), complex_values=True)
    factor = np.abs(1 - gamma) ** 4
    groups = np.array_split(np.argsort(factor), min(GROUPS, turned.size // LEAST_GROUP) or 1)
    if len(groups) < 2:
        return np.full(turned.size, even)
    power, at, weight = np.empty((3, len(groups)))
    for k, group in enumerate(groups):
        inside = np.zeros(turned.size, dtype=bool)
        inside[group] = True
        size, settled = _of_points(differences, inside, complex_values=True)
        if not settled:  # what a sweep has too few points for looks like noise where the curve turns
            return np.full(turned.size, even)
        power[k] = size**2
        at[k] = _median(factor[group])
        weight[k] = FREEDOM_PER_VALUE * group.size  # of a relative difference of the power
    return _mixture(factor, even, power, at, weight)


def noise_freedom(values: ComplexArray | FloatArray) -> float:
    """Degrees of freedom of :func:`estimate_noise`: how far its answer may be off by chance.

    Parameters
    ----------
    values : complex or float array, shape (n,)
        The values it was given; a complex one counts as two. [-]
    """
    return FREEDOM_PER_VALUE * values.size * (2 if np.iscomplexobj(values) else 1)


def _mixture(
    factor: FloatArray, even: float, power: FloatArray, at: FloatArray, weight: FloatArray
) -> FloatArray:
    """The noise by a + b factor where that says more than one number, else that number, shape of ``factor``."""
    best, flat = np.inf, float(weight @ (power / even**2 - 1) ** 2)
    a, b = even**2, 0.0
    expected = np.full(power.shape, even**2)
    for _ in range(3):  # the weights follow the expectation
        columns = (
            np.stack([np.ones_like(at), at], axis=1)
            / expected[:, np.newaxis]
            * np.sqrt(weight)[:, np.newaxis]
        )
        pair = _not_negative(columns, power / expected * np.sqrt(weight))
        expected = np.maximum(pair[0] + pair[1] * at, NOISE_FLOOR**2)
        a, b = float(pair[0]), float(pair[1])
    best = float(weight @ (power / expected - 1) ** 2)
    if flat - best < UNEVEN:
        return np.full(factor.shape, even)
    return np.sqrt(np.maximum(a + b * factor, NOISE_FLOOR**2))


def _not_negative(columns: FloatArray, values: FloatArray) -> FloatArray:
    """Least squares of two columns with no negative part."""
    both = np.linalg.lstsq(columns, values, rcond=None)[0]
    if (both >= 0).all():
        return np.asarray(both)
    alone = np.maximum((columns * values[:, np.newaxis]).sum(axis=0) / (columns**2).sum(axis=0), 0.0)
    left = ((values[:, np.newaxis] - columns * alone) ** 2).sum(axis=0)
    return np.asarray(np.where(np.arange(2) == np.argmin(left), alone, 0.0))


def _differences(
    values: ComplexArray | FloatArray, believed: NDArray[np.bool_] | None
) -> list[tuple[int, FloatArray, NDArray[np.intp]]]:
    """Order, size scaled to the noise, and middle point of the differences of each order."""
    answer = []
    for order in ORDERS:
        sizes = np.abs(np.diff(values, order)) / sqrt(comb(2 * order, order))
        middles = np.arange(sizes.size) + order // 2
        if believed is not None:
            whole = sliding_window_view(believed, order + 1).all(axis=1)
            if whole.sum() >= LEAST_DIFFERENCES:
                sizes, middles = sizes[whole], middles[whole]
        answer.append((order, sizes, middles))
    return answer


def _median(values: FloatArray) -> float:
    """``np.median`` without what it loads (``numpy.ma``), and quicker than ``np.quantile``."""
    middle = values.size // 2
    if values.size % 2:
        return float(np.partition(values, middle)[middle])
    around = np.partition(values, (middle - 1, middle))
    return float(around[middle - 1] + around[middle]) / 2


def _of_points(
    differences: list[tuple[int, FloatArray, NDArray[np.intp]]],
    inside: NDArray[np.bool_],
    *,
    complex_values: bool,
) -> tuple[float, bool]:
    """The noise by the differences whose middle is one of some points, and whether two orders agree on it."""
    median_share = sqrt(log(2)) if complex_values else 0.6745  # median |n| over rms, normal noise
    estimates: list[float] = []
    for _, sizes, middles in differences:
        chosen = sizes[inside[middles]]
        if estimates and chosen.size < LEAST_DIFFERENCES:
            break
        if chosen.size:
            estimates.append(_median(chosen) / median_share)
    smallest = min(estimates, default=NOISE_FLOOR)
    lowest_order = next((e for e in estimates if e <= CHANCE * smallest), smallest)
    settled = sum(e <= SETTLED * smallest for e in estimates) > 1
    return max(lowest_order, NOISE_FLOOR), settled
