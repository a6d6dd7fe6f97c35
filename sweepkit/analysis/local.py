"""A local fit: which points of the sweep it rests on, and the model through them."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.moebius import LEAST_POINTS, Moebius
from sweepkit.conversions import ComplexArray, FloatArray

IndexArray = NDArray[np.intp]
Ensemble = Callable[[IndexArray], ComplexArray]  # point indices (m,) -> reflection (draws, m), measured first

TIGHTEST_POINTS = 5  # the last resort where seven points already bend more than the model can
MOST_POINTS = 400  # a denser window is thinned; more points no longer change the answer
SHRINK = 0.7  # from one window to the next smaller one
RESIDUAL_FLOOR = 1e-4  # misfit of the reflection that no figure notices [-]


class LocalFit(NamedTuple):
    """A window of the sweep and the model through its measured points.

    ``residual`` is the rms misfit with the fitted parameters discounted, comparable to the noise; ``excess``
    is what of it neither noise nor a smaller window explains. Draws get it on top of their noise.
    """

    centre_hz: float
    points: IndexArray
    u: FloatArray
    weights: FloatArray
    model: Moebius
    residual: float
    excess: float = 0.0

    def on(self, ensemble: Ensemble) -> Moebius:
        """The same fit on every draw: coefficients of shape (draws,)."""
        gamma = ensemble(self.points)
        if self.excess and gamma.shape[0] > 1:
            gamma[1:] += self.excess * _complex_normal(gamma[1:].shape, seed=int(self.points[0]))
        return moebius.fit(self.u, gamma, self.weights)


def fit_window(
    f_hz: FloatArray,
    gamma: ComplexArray,
    trust: FloatArray,
    centre_hz: float,
    half_width_hz: float,
    *,
    least: int = LEAST_POINTS,
) -> LocalFit:
    """Fit the points within a half-width of a centre.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency, rising, above 0. [Hz]
    gamma : complex array, shape (n,)
        Measured reflection. [-]
    trust : float array, shape (n,)
        Trust in each point, 0 to 1. [-]
    centre_hz, half_width_hz : float
        Window. [Hz]
    least : int
        Points that are taken however narrow the window is.

    Returns
    -------
    LocalFit
        The window and its model.
    """
    index = _window(f_hz, centre_hz, half_width_hz, least)
    if np.count_nonzero(trust[index]) < min(least, f_hz.size):  # a burst fills the window: look round it
        believed = np.flatnonzero(trust)
        index = believed[_window(f_hz[believed], centre_hz, half_width_hz, least)]
    u = moebius.coordinate(f_hz[index], centre_hz)
    weights = moebius.settle_weights(u, gamma[index], trust[index])
    model = moebius.fit(u, gamma[index], weights)
    misfit = np.abs(moebius.value(model, u) - gamma[index]) ** 2
    freedom = max(index.size - 3, 1)
    residual = float(np.sqrt(trust[index] @ misfit / freedom))
    return LocalFit(centre_hz, index, u, weights, model, residual)


def fit_near(
    f_hz: FloatArray,
    gamma: ComplexArray,
    trust: FloatArray,
    centre_hz: float,
    half_width_hz: float,
    noise: FloatArray,
) -> LocalFit:
    """Fit round a centre, with the window narrowed as long as the misfit is more than noise.

    Parameters
    ----------
    f_hz, gamma, trust, centre_hz, half_width_hz
        As for :func:`fit_window`.
    noise : float array, shape (n,)
        Rms of the complex noise on the reflection at each point. [-]

    Returns
    -------
    LocalFit
        The largest window in the series that the model describes; the smallest one otherwise.
    """
    while True:
        local = fit_window(f_hz, gamma, trust, centre_hz, half_width_hz)
        if is_described(local, noise):
            return local
        if local.points.size <= LEAST_POINTS:
            tightest = fit_window(f_hz, gamma, trust, centre_hz, 0.0, least=TIGHTEST_POINTS)
            return tightest._replace(excess=_excess(tightest, noise))
        half_width_hz *= SHRINK


def is_described(local: LocalFit, noise: FloatArray) -> bool:
    """Whether the misfit of a window is no more than its noise can make by chance.

    Parameters
    ----------
    local : LocalFit
        A window and its model.
    noise : float array, shape (n,)
        Rms of the complex noise on the reflection at each point. [-]
    """
    expected = float(np.sqrt(np.mean(noise[local.points] ** 2)))
    chance = 1 + 2 / np.sqrt(2 * max(local.points.size - 3, 1))
    return bool(local.residual <= max(expected * chance, RESIDUAL_FLOOR))


def _excess(local: LocalFit, noise: FloatArray) -> float:
    """Rms misfit beyond the noise, where the model does not describe the window."""
    if is_described(local, noise):
        return 0.0
    expected = float(np.mean(noise[local.points] ** 2))
    return math.sqrt(max(local.residual**2 - expected, 0.0))


def _complex_normal(shape: tuple[int, ...], *, seed: int) -> ComplexArray:
    """Complex numbers of rms 1."""
    parts = np.random.default_rng(seed).standard_normal((*shape, 2)) / np.sqrt(2)
    return np.asarray(parts.view(np.complex128)[..., 0])


def _window(f_hz: FloatArray, centre_hz: float, half_width_hz: float, least: int) -> IndexArray:
    """Indices within the window; the nearest few when it holds too few; thinned when it holds too many."""
    first, last = np.searchsorted(f_hz, [centre_hz - half_width_hz, centre_hz + half_width_hz])
    if last - first < least:
        middle = int(np.argmin(np.abs(f_hz - centre_hz)))
        first = max(0, min(middle - least // 2, f_hz.size - least))
        last = min(f_hz.size, first + least)
    step = -(-(last - first) // MOST_POINTS)
    return np.arange(first, last, step)
