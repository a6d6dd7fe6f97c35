"""How noisy a sweep is at each point, from the sweep itself."""

from __future__ import annotations

from itertools import pairwise
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
    """Rms noise of evenly sampled values that would be smooth without it, both parts of complex ones together.

    High differences cancel anything smooth and keep the noise, whose share in the k-th difference is known:
    sqrt(binomial(2k, k)). The median makes it blind to bursts. Signal that is left only adds, so the lowest order
    that comes within chance of the smallest estimate is believed: it rests on the most points. Differences through
    points that are not believed are left out where enough remain.
    """
    differences = _differences(values[np.newaxis], None if believed is None else believed[np.newaxis])
    return float(_of_points(differences, complex_values=np.iscomplexobj(values))[0][0])


def noise_along(
    gamma: ComplexArray, turned: ComplexArray, believed: NDArray[np.bool_] | None = None
) -> FloatArray:
    r"""Rms noise at each point, of the shape of ``gamma``: even in reflection, even in ohms, or a mixture of both.

    Noise that is even in impedance moves the reflection by \|1 - gamma\|^2 / (2 z0), most near a short. Points are
    taken in groups by that factor; where their noise differs by more than chance, it is a mixture. ``turned`` is
    ``gamma`` without its common delay.
    """
    if gamma.ndim == 1:
        alone = None if believed is None else believed[np.newaxis]
        return np.asarray(noise_along(gamma[np.newaxis], turned[np.newaxis], alone)[0])
    sweeps, n = turned.shape
    differences = _differences(turned, believed)
    even, _ = _of_points(differences, complex_values=True)
    noise: FloatArray = np.repeat(even[:, np.newaxis], n, axis=1)
    parts = min(GROUPS, n // LEAST_GROUP)
    if parts < 2:
        return noise
    factor = np.abs(1 - gamma) ** 4
    order = np.argsort(factor, axis=1)
    ordered = np.take_along_axis(differences, order[np.newaxis], axis=2)
    ends = np.cumsum([0, *(part.size for part in np.array_split(np.arange(n), parts))])
    groups = [slice(*ends_of) for ends_of in pairwise(ends.tolist())]
    power, at = np.empty((2, sweeps, len(groups)))
    trusted = np.ones(sweeps, dtype=bool)
    by_factor = np.take_along_axis(factor, order, axis=1)
    for k, group in enumerate(groups):
        size, settled = _of_points(ordered[..., group], complex_values=True)
        rising = by_factor[:, group]
        middle = rising[:, [(rising.shape[1] - 1) // 2, rising.shape[1] // 2]]
        power[:, k], at[:, k] = size**2, middle.mean(axis=1)
        trusted &= settled  # what a sweep has too few points for looks like noise where the curve turns
    weight = FREEDOM_PER_VALUE * np.diff(ends)  # of a relative difference of the power
    rows = np.flatnonzero(trusted)
    noise[rows] = _mixture(factor[rows], even[rows], power[rows], at[rows], weight)
    return noise


def noise_freedom(points: int, *, has_phase: bool) -> float:
    """Degrees of freedom of :func:`estimate_noise` from so many points; complex values count as two."""
    return FREEDOM_PER_VALUE * points * (2 if has_phase else 1)


def _mixture(
    factor: FloatArray, even: FloatArray, power: FloatArray, at: FloatArray, weight: FloatArray
) -> FloatArray:
    """The noise by a + b factor where that says more than one number, else that number, shape of ``factor``.

    ``even`` has a number for each row, ``power`` and ``at`` one for each group of it, ``weight`` one for each group.
    """
    even_power = even[:, np.newaxis] ** 2
    flat = (weight * (power / even_power - 1) ** 2).sum(axis=1)
    expected = np.broadcast_to(even_power, power.shape)
    pair = np.zeros((2, even.size))
    for _ in range(3):  # the weights follow the expectation
        scale = np.sqrt(weight) / expected
        pair = _not_negative(scale, at * scale, power * scale)
        expected = np.maximum(pair[0][:, np.newaxis] + pair[1][:, np.newaxis] * at, NOISE_FLOOR**2)
    best = (weight * (power / expected - 1) ** 2).sum(axis=1)
    mixed = np.maximum(pair[0][:, np.newaxis] + pair[1][:, np.newaxis] * factor, NOISE_FLOOR**2)
    return np.sqrt(np.where((flat - best < UNEVEN)[:, np.newaxis], even_power, mixed))


def _not_negative(one: FloatArray, other: FloatArray, values: FloatArray) -> FloatArray:
    """Least squares of two columns in each row with no negative part, shape (2, rows)."""

    def dot(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray((a * b).sum(axis=1))

    with np.errstate(divide="ignore", invalid="ignore"):
        along = dot(one, other) / dot(one, one)
        across = other - along[:, np.newaxis] * one  # of the other column what the first has not
        b = dot(across, values) / dot(across, across)
        both = np.stack([dot(one, values) / dot(one, one) - along * b, b])
        alone = np.maximum(np.stack([dot(c, values) / dot(c, c) for c in (one, other)]), 0.0)
    left = [
        ((values - column * part[:, np.newaxis]) ** 2).sum(axis=1)
        for column, part in zip((one, other), alone, strict=True)
    ]
    first = left[0] <= left[1]
    either = np.stack([np.where(first, alone[0], 0.0), np.where(first, 0.0, alone[1])])
    return np.where((both >= 0).all(axis=0), both, either)


def _differences(values: ComplexArray | FloatArray, believed: NDArray[np.bool_] | None) -> FloatArray:
    """Power of the differences of each order scaled to the noise, each at its middle point; ``inf`` where none is.

    Shape (sweeps, n) in, (orders, sweeps, n) out.
    """
    answer = np.full((len(ORDERS), *values.shape), np.inf)
    rest = values
    for order in range(1, ORDERS.stop):
        rest = np.diff(rest, axis=1)
        if order not in ORDERS:
            continue
        inner = answer[order - ORDERS.start, :, order // 2 : order // 2 + rest.shape[1]]
        np.square(rest.real, out=inner)
        if np.iscomplexobj(rest):
            inner += np.square(rest.imag)
        inner /= comb(2 * order, order)
        if believed is not None and rest.shape[1]:
            whole = sliding_window_view(believed, order + 1, axis=1).all(axis=2)
            enough = whole.sum(axis=1, keepdims=True) >= LEAST_DIFFERENCES
            inner[enough & ~whole] = np.inf
    return answer


def _median_size(powers: FloatArray, count: NDArray[np.intp]) -> FloatArray:
    """Median of their roots along the last axis, of the ``count`` that are finite.

    Without what ``np.median`` loads (``numpy.ma``); of all powers no root is taken.
    """
    ordered = np.sort(powers, axis=-1)
    places = np.maximum(count - 1, 0) // 2, np.minimum(count // 2, powers.shape[-1] - 1)
    low, high = (np.take_along_axis(ordered, place[..., np.newaxis], axis=-1)[..., 0] for place in places)
    return np.asarray((np.sqrt(low) + np.sqrt(high)) / 2)


def _of_points(differences: FloatArray, *, complex_values: bool) -> tuple[FloatArray, NDArray[np.bool_]]:
    """The noise of each row by its differences, (orders, rows, points), and whether two orders agree on it."""
    median_share = sqrt(log(2)) if complex_values else 0.6745  # median |n| over rms, normal noise
    count = np.count_nonzero(np.isfinite(differences), axis=-1)
    # an order counts until, after the first, one has too few points
    ended = np.logical_or.accumulate((count < LEAST_DIFFERENCES) & _some_before(count > 0), axis=0)
    here = ~ended & (count > 0)
    estimates = np.where(here, _median_size(differences, count) / median_share, np.inf)
    smallest = np.where(here.any(axis=0), estimates.min(axis=0), NOISE_FLOOR)
    near = estimates <= CHANCE * smallest
    lowest_order = np.take_along_axis(estimates, np.argmax(near, axis=0)[np.newaxis], axis=0)[0]
    settled = np.count_nonzero(estimates <= SETTLED * smallest, axis=0) > 1
    return np.maximum(np.where(near.any(axis=0), lowest_order, smallest), NOISE_FLOOR), settled


def _some_before(flags: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Whether one was set before, along the first axis."""
    return np.concatenate([np.zeros_like(flags[:1]), np.logical_or.accumulate(flags, axis=0)[:-1]])
