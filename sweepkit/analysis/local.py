"""Local fits: which points of the sweep each rests on, and the model through them.

Fits are rows: a centre and a half-width each, windows padded to the longest, every step one array formula over
all rows. A window is narrowed only where that lowers the misfit, measured in the noise, by more than chance.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
UNKNOWNS = 3  # complex parameters of the model
LOWER_BY_CHANCE = -3.1  # standard deviations: a misfit is lower by chance in 1 of 1000 ...
SURELY_MISFIT = 5.0  # ... but no noise is mistaken by such a factor, and above it 1 in 6 is enough
LOWER_ALREADY = -1.0


class LocalFit(NamedTuple):
    """A window of the sweep and the model through its measured points.

    ``residual`` is the rms misfit over the noise, with the fitted parameters discounted: 1 where the model
    describes the window. ``excess`` is what no smaller window lowers of a larger one, shape (m,): the draws get it
    on top of their noise.
    """

    centre_hz: float
    points: IndexArray
    u: FloatArray
    weights: FloatArray
    model: Moebius
    residual: float
    excess: FloatArray

    def on(self, ensemble: Ensemble) -> Moebius:
        """The same fit on every draw: coefficients of shape (draws,)."""
        gamma = ensemble(self.points)
        if self.excess.any() and gamma.shape[0] > 1:
            gamma[1:] += self.excess * complex_normal(gamma[1:].shape, seed=int(self.points[0]))
        return moebius.fit(self.u, gamma, self.weights)


class _Rows(NamedTuple):
    """Fits side by side, shape (rows,) or (rows, m); ``filled`` points of each row are real, the rest padding."""

    centre_hz: FloatArray
    points: IndexArray
    filled: IndexArray
    believed: IndexArray
    u: FloatArray
    weights: FloatArray
    model: Moebius
    residual: FloatArray

    def one(self, row: int) -> LocalFit:
        """One row by itself, its misfit taken for chance."""
        n = int(self.filled[row])
        return LocalFit(
            float(self.centre_hz[row]),
            self.points[row, :n],
            self.u[row, :n],
            self.weights[row, :n],
            Moebius(*(part[row] for part in self.model)),
            float(self.residual[row]),
            np.zeros(n),
        )


class Measured(NamedTuple):
    """What is fitted: a sweep's grid [Hz], reflection, trust in each point (0 to 1) and rms noise, each (n,)."""

    f_hz: FloatArray
    gamma: ComplexArray
    trust: FloatArray
    noise: FloatArray


def fit_window(
    curve: Measured, centre_hz: float, half_width_hz: float, *, least: int = LEAST_POINTS
) -> LocalFit:
    """Fit the points within a half-width of a centre.

    Parameters
    ----------
    curve : Curve
        The measured curve.
    centre_hz, half_width_hz : float
        Window. [Hz]
    least : int
        Points that are taken however narrow the window is.
    """
    return _fit_rows(curve, [centre_hz], [half_width_hz], [least]).one(0)


def fit_near(curve: Measured, centre_hz: float, half_width_hz: float) -> LocalFit:
    """Fit round a centre, with the window narrowed while that lowers the misfit by more than chance.

    Parameters
    ----------
    curve : Curve
        The measured curve.
    centre_hz, half_width_hz : float
        First window. [Hz]

    Returns
    -------
    LocalFit
        The widest window in the series that the model describes, or that none smaller is better than; a misfit
        that is left is in ``excess``.
    """
    return fit_all_near(curve, [centre_hz], [half_width_hz])[0]


def fit_all_near(
    curve: Measured, centres_hz: Sequence[float], half_widths_hz: Sequence[float]
) -> list[LocalFit]:
    """The same round several centres, side by side.

    Parameters
    ----------
    curve : Measured
        The measured curve.
    centres_hz, half_widths_hz : sequence of float
        First window of each. [Hz]
    """
    rows = _fit_rows(curve, centres_hz, half_widths_hz, [LEAST_POINTS] * len(centres_hz))
    done = _described(rows.residual, rows.believed)
    return [
        rows.one(k) if done[k] else _narrowed(curve, centre_hz, half_width_hz)
        for k, (centre_hz, half_width_hz) in enumerate(zip(centres_hz, half_widths_hz, strict=True))
    ]


def _narrowed(curve: Measured, centre_hz: float, half_width_hz: float) -> LocalFit:
    """The window of the series that is worth most, its misfit carried."""
    series = _series(curve, centre_hz, half_width_hz)
    return with_excess(series.one(_widest_worth(series.residual, series.believed)), curve)


def with_excess(local: LocalFit, curve: Measured) -> LocalFit:
    """A window with its misfit beyond the noise as noise of its own, where chance alone does not make it.

    Parameters
    ----------
    local : LocalFit
        A window and its model.
    curve : Measured
        The curve it comes from.
    """
    if is_described(local) or not np.isfinite(local.residual):
        return local
    more = np.sqrt(local.residual**2 - 1) * _seen_noise(curve.noise[local.points])
    return local._replace(excess=more)


def is_described(local: LocalFit) -> bool:
    """Whether the misfit of a window is no more than its noise can make by chance.

    Parameters
    ----------
    local : LocalFit
        A window and its model.
    """
    return bool(_described(np.array([local.residual]), np.array([local.points.size]))[0])


def _series(curve: Measured, centre_hz: float, half_width_hz: float) -> _Rows:
    """Windows from the first one down to seven points, and one of five."""
    size = int(np.count_nonzero(np.abs(curve.f_hz - centre_hz) <= half_width_hz))
    steps = max(int(np.ceil(np.log(max(size, 1) / LEAST_POINTS) / -np.log(SHRINK))), 0) + 1
    halves_hz = np.append(half_width_hz * SHRINK ** np.arange(steps), 0.0)
    return _fit_rows(
        curve, [centre_hz] * (steps + 1), halves_hz.tolist(), [*[LEAST_POINTS] * steps, TIGHTEST_POINTS]
    )


def _widest_worth(residual: FloatArray, count: IndexArray) -> int:
    """The first window that is described, or that no smaller one betters by more than chance."""
    strict, easy = (_bettered(residual, count, chance) for chance in (LOWER_BY_CHANCE, LOWER_ALREADY))
    bettered = np.where(residual > SURELY_MISFIT, easy, strict)
    return int(np.argmax(_described(residual, count) | ~bettered))


def _bettered(residual: FloatArray, count: IndexArray, chance: float) -> NDArray[np.bool_]:
    """Whether the misfit of a smaller window is lower by more than chance."""
    reaches = residual / lowest_by_chance(
        count - UNKNOWNS, chance
    )  # a larger misfit is bettered by this window
    best_of_smaller = np.append(np.minimum.accumulate(reaches[::-1])[::-1][1:], np.inf)
    return np.asarray(best_of_smaller < residual)


def _described(residual: FloatArray, count: IndexArray) -> NDArray[np.bool_]:
    chance = 1 + 2 / np.sqrt(2 * np.maximum(count - UNKNOWNS, 1))
    return np.asarray(residual <= chance)


def lowest_by_chance(freedom: IndexArray | int, chance: float = LOWER_BY_CHANCE) -> FloatArray:
    """How small an rms over its own expectation may come out by chance (Wilson and Hilferty 1931).

    Parameters
    ----------
    freedom : int array
        Complex degrees of freedom, two real ones each.
    chance : float
        How rarely, in standard deviations.
    """
    spread = 2 / (9 * 2 * np.maximum(freedom, 1))
    share = np.maximum(1 - spread + chance * np.sqrt(spread), 0.0)
    return np.asarray(share**1.5)


def _fit_rows(
    curve: Measured, centres_hz: Sequence[float], half_widths_hz: Sequence[float], least: list[int]
) -> _Rows:
    points, count = _windows(curve, centres_hz, half_widths_hz, least)
    real = np.arange(points.shape[1]) < count[:, np.newaxis]
    centre_hz = np.array(centres_hz)
    u = moebius.coordinate(curve.f_hz[points], centre_hz[:, np.newaxis])
    gamma = curve.gamma[points]
    noise = _seen_noise(curve.noise[points])
    trust = np.where(real, curve.trust[points], 0.0)
    told = trust * (noise[:, :1] / noise) ** 2
    weights = moebius.settle_weights(u, gamma, told)
    model = moebius.fit(u, gamma, weights)
    believed = np.count_nonzero(trust, axis=1)
    misfit = np.abs(moebius.value(Moebius(*(p[:, np.newaxis] for p in model)), u) - gamma) / noise
    square = (trust * np.where(trust > 0, misfit, 0.0) ** 2).sum(axis=1)
    residual = np.sqrt(square / np.maximum(believed - UNKNOWNS, 1))
    residual = np.where(np.isfinite(residual), residual, np.inf)
    return _Rows(centre_hz, points, count, believed, u, weights, model, residual)


def _seen_noise(noise: FloatArray) -> FloatArray:
    """Noise with what no figure notices on top. [-]"""
    return np.hypot(noise, RESIDUAL_FLOOR)


def complex_normal(shape: tuple[int, ...], *, seed: int) -> ComplexArray:
    """Complex normal numbers of rms 1.

    Parameters
    ----------
    shape : tuple of int
        Shape of the answer.
    seed : int
        Same seed, same numbers.
    """
    parts = np.random.default_rng(seed).standard_normal((*shape, 2)) / np.sqrt(2)
    return np.asarray(parts.view(np.complex128)[..., 0])


def _windows(
    curve: Measured, centres_hz: Sequence[float], half_widths_hz: Sequence[float], least: list[int]
) -> tuple[IndexArray, IndexArray]:
    """Indices within each window, padded, and how many are real; the nearest few where it holds too few."""
    rows = []
    for centre_hz, half_hz, few in zip(centres_hz, half_widths_hz, least, strict=True):
        row = _window(curve.f_hz, centre_hz, half_hz, few)
        if np.count_nonzero(curve.trust[row]) < min(few, curve.f_hz.size):  # a burst fills it: look round it
            believed = np.flatnonzero(curve.trust)
            row = believed[_window(curve.f_hz[believed], centre_hz, half_hz, few)]
        rows.append(row)
    count = np.array([row.size for row in rows])
    points = np.zeros((len(rows), int(count.max())), dtype=np.intp)
    for padded, row in zip(points, rows, strict=True):
        padded[: row.size] = row
    return points, count


def _window(f_hz: FloatArray, centre_hz: float, half_width_hz: float, least: int) -> IndexArray:
    """Indices within the window; the nearest few when it holds too few; thinned when it holds too many."""
    first, last = np.searchsorted(f_hz, [centre_hz - half_width_hz, centre_hz + half_width_hz])
    if last - first < least:
        middle = int(np.argmin(np.abs(f_hz - centre_hz)))
        first = max(0, min(middle - least // 2, f_hz.size - least))
        last = min(f_hz.size, first + least)
    step = -(-(last - first) // MOST_POINTS)
    return np.arange(first, last, step)
