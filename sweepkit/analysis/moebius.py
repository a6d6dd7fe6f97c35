"""Local model of a reflection curve: a Möbius function of frequency, everything on it in closed form.

A series or a parallel resonator seen against a fixed resistance is exactly of the form
``gamma(u) = (p0 + p1 u) / (1 + q u)`` in the coordinate ``u = f/fc - fc/f``, because its impedance or
admittance is linear in ``u``. An antenna is nearly so over one bandwidth. Zeros of the reactance, SWR edges
and the SWR minimum are then roots of real quadratics.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray

REWEIGHTINGS = 3  # enough for the weights to settle; each costs one fit of the measured curve only
LEAST_POINTS = 7  # three complex parameters need more than three points to show a residual


class Moebius(NamedTuple):
    """Coefficients of ``(p0 + p1 u) / (1 + q u)``, each of shape (...,)."""

    p0: ComplexArray
    p1: ComplexArray
    q: ComplexArray


def coordinate(f_hz: FloatArray, centre_hz: float | FloatArray) -> FloatArray:
    """Resonator coordinate ``f/fc - fc/f``: 0 at the centre, about twice the relative offset near it."""
    return f_hz / centre_hz - centre_hz / f_hz


def frequency(u: FloatArray, centre_hz: float | FloatArray) -> FloatArray:
    """Inverse of :func:`coordinate`."""
    return centre_hz * (u + np.sqrt(u * u + 4)) / 2


def fit(u: FloatArray, gamma: ComplexArray, weights: FloatArray) -> Moebius:
    """Weighted linear least squares of ``gamma (1 + q u) = p0 + p1 u``, closed form; at least three values of ``u``.

    ``u`` and ``weights`` have shape (..., m), ``gamma`` too or (..., draws, m): one curve for each row, or many. The
    coefficients have the shape of ``gamma`` without its last axis.
    """
    one_each = gamma.ndim == u.ndim and gamma.ndim > 1
    curves = gamma[..., np.newaxis, :] if one_each else gamma
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # a row without an answer is NaN
        model = _solved(u, curves, weights)
    return Moebius(*(part[..., 0] for part in model)) if one_each else model


def _solved(u: FloatArray, curves: ComplexArray, weights: FloatArray) -> Moebius:
    """Many curves for each row of ``u``, shape (..., draws, m), or one row and one curve, shape (m,)."""
    total = weights.sum(axis=-1)
    mean_u = (weights * u).sum(axis=-1) / total
    v = u - mean_u[..., np.newaxis]
    moments = np.empty((*v.shape, 3))
    moments[..., 0], moments[..., 1] = weights, weights * v
    moments[..., 2] = moments[..., 1] * v
    second = moments[..., 2].sum(axis=-1)
    if curves.ndim > u.ndim:
        total, mean_u, second = (part[..., np.newaxis] for part in (total, mean_u, second))
    sums = curves @ moments.astype(np.complex128)
    a0, a1, a2 = sums[..., 0], sums[..., 1], sums[..., 2]
    powers = (curves.real**2 + curves.imag**2) @ moments[..., 1:]
    b1, b2 = powers[..., 0], powers[..., 1]
    above = -b1 + a1.conj() * a0 / total + a2.conj() * a1 / second
    below = b2 - (a1.real**2 + a1.imag**2) / total - (a2.real**2 + a2.imag**2) / second
    q = above / below
    q = np.where((below > 0) & np.isfinite(q), q, 0.0)
    p0, p1 = (a0 + q * a1) / total, (a1 + q * a2) / second
    shift = 1 - q * mean_u  # back from v to u
    return Moebius((p0 - p1 * mean_u) / shift, p1 / shift, q / shift)


def settle_weights(u: FloatArray, gamma: ComplexArray, trust: FloatArray) -> FloatArray:
    """Weights that make the linear fit minimise the true residual, found on one curve for each row, shape (..., m)."""
    weights = trust
    for _ in range(REWEIGHTINGS):
        q = fit(u, gamma, weights).q[..., np.newaxis]
        with np.errstate(divide="ignore", invalid="ignore"):
            settled = trust / np.abs(1 + q * u) ** 2
        weights = np.where(np.isfinite(settled), settled, 0.0)  # a point at the pole itself tells nothing
    return weights


def fit_settled(u: FloatArray, gamma: ComplexArray, trust: FloatArray) -> tuple[Moebius, ComplexArray]:
    """:func:`settle_weights` and :func:`fit` of one curve for each row, shape (rows, m), by moments, and the last q.

    All that a fit needs of its points are twelve sums, so each reweighting is one matrix product. The last weights
    rest on that q, as in :func:`settled_weights`.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # a row without an answer is NaN
        mean_u = np.einsum("rm,rm->r", trust, u) / trust.sum(axis=-1)
        v = u - mean_u[:, np.newaxis]
        curve, powers = _curve_table(gamma), np.empty((v.shape[0], 3, v.shape[1]))
        weights, q = trust, np.zeros(mean_u.shape, dtype=np.complex128)
        for _ in range(REWEIGHTINGS):
            _, _, mean, *_, q = _centred(_table(_sums(curve, v, weights, powers)))
            q = q / (1 - q * mean)
            weights = settled_weights(v, trust, q)
        model = _moved(*by_moments(_sums(curve, v, weights, powers)))
        return _moved(model, mean_u), np.asarray(q / (1 - q * mean_u))


def fit_by_sums(
    u: FloatArray, weights: FloatArray, sums: Callable[[FloatArray], FloatArray | None]
) -> Moebius | None:
    """:func:`fit` of many curves of which only sums over their points are needed.

    Parameters
    ----------
    u, weights : float array, shape (m,)
        Coordinate and weights of the points.
    sums : callable
        From factors, shape (3, m), to the sums of real part, imaginary part and squared magnitude of every curve times
        these, shape (3, 3, draws), or nothing.

    Returns
    -------
    Moebius or None
        Coefficients, shape (draws,); nothing where there are no sums.
    """
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # a row without an answer is NaN
        mean_u = (weights * u).sum() / weights.sum()
        v = u - mean_u
        factors = np.stack([weights, weights * v, weights * v * v])
        found = sums(factors)
        if found is None:
            return None
        every = np.empty((4, 3, found.shape[2]))
        every[0], every[1:] = factors.sum(axis=1)[:, np.newaxis], found.transpose(1, 0, 2)
        model, mean_v = _by_table(every)
        return _moved(model, mean_u + mean_v)


def settled_weights(u: FloatArray, trust: FloatArray, q: ComplexArray) -> FloatArray:
    """``trust / |1 + q u|^2`` for each row, shape (rows, m), with q, shape (rows,), of the fit before."""
    below = 1 + q.real[:, np.newaxis] * u
    below *= below
    below += np.square(q.imag[:, np.newaxis] * u)
    weights = trust / below
    if not np.isfinite(weights.sum()):
        weights = np.where(np.isfinite(weights), weights, 0.0)  # a point at the pole itself tells nothing
    return weights


def _curve_table(gamma: ComplexArray) -> FloatArray:
    """What is summed with the weights times powers of v, shape (rows, 4, m): 1, both parts of Γ, and |Γ|²."""
    table = np.empty((gamma.shape[0], 4, gamma.shape[1]))
    table[:, 0] = 1.0
    table[:, 1], table[:, 2] = gamma.real, gamma.imag
    np.square(table[:, 1], out=table[:, 3])
    table[:, 3] += np.square(table[:, 2])
    return table


def _sums(curve: FloatArray, v: FloatArray, weights: FloatArray, powers: FloatArray) -> FloatArray:
    """The twelve sums of :func:`by_moments`, shape (rows, 12); ``powers``, shape (rows, 3, m), is overwritten."""
    powers[:, 0] = weights
    np.multiply(weights, v, out=powers[:, 1])
    np.multiply(powers[:, 1], v, out=powers[:, 2])
    return np.asarray(np.matmul(curve, powers.swapaxes(1, 2)).reshape(len(v), 12))


def by_moments(sums: FloatArray) -> tuple[Moebius, FloatArray]:
    """The weighted least squares of :func:`fit` from its twelve sums, shape (..., 12), and the weighted mean of v.

    Sums over the points of the weights times 1, v, v², then of these three times the real part of the reflection, its
    imaginary part, and the square of its magnitude. The coefficients are in ``v - mean``.
    """
    return _by_table(_table(sums))


def _table(sums: FloatArray) -> FloatArray:
    """The twelve sums by what is summed and by power of v, shape (4, 3, ...)."""
    return np.ascontiguousarray(np.moveaxis(sums, -1, 0)).reshape(4, 3, *sums.shape[:-1])


def _by_table(table: FloatArray) -> tuple[Moebius, FloatArray]:
    """:func:`by_moments` of :func:`_table`."""
    total, second, mean, a0, a1, a2, q = _centred(table)
    return Moebius((a0 + q * a1) / total, (a1 + q * a2) / second, q), mean


def _centred(table: FloatArray) -> tuple[Any, ...]:
    """Sums of the weights and of the curve about the weighted mean of v, that mean, and q of :func:`by_moments`."""
    zeroth, first, second = table[:, 0], table[:, 1], table[:, 2]
    total = zeroth[0]
    mean = first[0] / total
    moved = first - mean * zeroth
    spread = second - mean * (first + moved)
    a0, a1, a2 = (part[1] + 1j * part[2] for part in (zeroth, moved, spread))
    width = spread[0]
    share1, share2 = a1.conj() / total, a2.conj() / width
    above = share1 * a0 + share2 * a1 - moved[3]
    below = spread[3] - (share1 * a1).real - (share2 * a2).real
    q = above / below
    q = np.where((below > 0) & np.isfinite(q), q, 0j)
    return total, width, mean, a0, a1, a2, q


def _moved(model: Moebius, mean_u: FloatArray) -> Moebius:
    """A model in u that was one in ``u - mean_u``."""
    shift = 1 - model.q * mean_u
    return Moebius((model.p0 - model.p1 * mean_u) / shift, model.p1 / shift, model.q / shift)


def value(model: Moebius, u: FloatArray) -> ComplexArray:
    """Reflection of the model; ``u`` is broadcast against its coefficients."""
    with np.errstate(divide="ignore", invalid="ignore"):  # a pole gives inf, NaN stays NaN
        above, below = np.asarray(model.p1 * u), np.asarray(model.q * u)
        above += model.p0
        below += 1
        return above / below


def misfit_squared(model: Moebius, u: FloatArray, gamma: ComplexArray) -> FloatArray:
    """``|value - gamma|^2`` of curves, (rows, m), with a model each; in place, since the arrays are large."""
    p0, p1, q = (part[:, np.newaxis] for part in model)
    with np.errstate(divide="ignore", invalid="ignore"):  # a pole gives inf, NaN stays NaN
        below = np.asarray(q * u)
        below += 1
        apart = below * gamma
        apart -= p0
        apart -= p1 * u
        square = apart.real**2
        square += apart.imag**2
        square /= below.real**2 + below.imag**2
    return square


def slope(model: Moebius, u: FloatArray) -> ComplexArray:
    """Derivative of the reflection with respect to the coordinate, broadcast likewise."""
    with np.errstate(divide="ignore", invalid="ignore"):  # a pole gives inf, NaN stays NaN
        return (model.p1 - model.q * model.p0) / (1 + model.q * u) ** 2


def loaded_half_width(model: Moebius) -> FloatArray:
    """Distance of the pole from the real axis: half the loaded bandwidth, in the coordinate."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.abs((1 / model.q).imag)


def reactance_zeros(model: Moebius) -> FloatArray:
    """Coordinates at which the reflection is real, shape (..., 2), NaN where there are none."""
    c0 = model.p0.imag
    c1 = (model.p1 + model.p0 * model.q.conj()).imag
    c2 = (model.p1 * model.q.conj()).imag
    return _real_roots(c0, c1, c2)


def magnitude_crossings(model: Moebius, magnitude: float | FloatArray) -> FloatArray:
    """Coordinates at which the reflection has a magnitude (broadcast), shape (..., 2), NaN where there are none."""
    above, below = squared_magnitudes(model)
    c0, c1, c2 = (a - magnitude**2 * b for a, b in zip(above, below, strict=True))
    return _real_roots(c0, c1, c2)


def smallest_magnitude(model: Moebius) -> FloatArray:
    """Coordinate of the smallest reflection, the one minimum the model has; NaN for a flat one."""
    (a0, a1, a2), (b0, b1, b2) = squared_magnitudes(model)
    roots = _real_roots(a1 * b0 - a0 * b1, 2 * (a2 * b0 - a0 * b2), a2 * b1 - a1 * b2)
    first, second = roots[..., 0], roots[..., 1]
    here, there = np.abs(value(model, first)), np.abs(value(model, second))
    return np.asarray(np.where(np.isnan(here) | (there < here), second, first))


def nearest(roots: FloatArray, u: float | FloatArray) -> FloatArray:
    """Of each pair of roots, shape (..., 2), the one nearest a coordinate; NaN where there is none."""
    first, second = roots[..., 0], roots[..., 1]
    near, far = np.abs(first - u), np.abs(second - u)
    return np.asarray(np.where(np.isnan(near) | (far < near), second, first))


def squared_magnitudes(model: Moebius) -> tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]:
    """Real coefficients of ``|p0 + p1 u|^2`` and ``|1 + q u|^2``, lowest power first."""
    p0, p1, q = model
    above = (np.abs(p0) ** 2, 2 * (p0.conj() * p1).real, np.abs(p1) ** 2)
    below = (np.ones_like(q.real), 2 * q.real, np.abs(q) ** 2)
    return above, below


def _real_roots(c0: FloatArray, c1: FloatArray, c2: FloatArray) -> FloatArray:
    """Real roots of ``c0 + c1 u + c2 u^2``, stable for a small c2, shape (..., 2)."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        root = np.sqrt(c1 * c1 - 4 * c0 * c2)  # NaN: no real root
        half = -0.5 * (c1 + np.copysign(root, c1))
        first = c0 / half
        second = half / c2
    pair = np.stack([first, second], axis=-1)
    return np.where(np.isfinite(pair), pair, np.nan)
