"""One sweep as a smooth curve of every draw over the logarithm of frequency, a little beyond its ends too.

Local models stand side by side, and between two of them the curve goes over from one to the other. Where the points are
so few that neighbours disagree, the draws lie between them at random: coarse sweeps widen the intervals by themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import minimum_filter1d

from sweepkit.analysis import moebius
from sweepkit.analysis.fits import LocalFit, complex_normal
from sweepkit.analysis.local import fit_all_near, fit_near
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.reviews.plane import LARGEST_GAMMA
from sweepkit.reviews.view import View

STEP = 0.0008  # of ln f between points of the curve: a fortieth of the SWR-2 width of a wire's dip
APART = 0.012  # of ln f between local models, at least the step of the sweep
WINDOW = 0.02  # half-width of a local model over its frequency
BEYOND, OF_SPAN = 0.05, 0.5  # how far a sweep is followed beyond its ends, in ln f and of its span
END_WINDOW = 0.4  # of the span: what the curve beyond an end rests on
FARTHEST = 0.17  # of ln f that a curve is slid by: 0.85 to 1.18 of the frequency
NARROW = 0.35  # of ln f: a sweep of one band
STRAY = 0.8  # error of the reflection per ln f beyond an end, one sigma: models of our own


@dataclass(frozen=True, eq=False)
class SmoothCurve:
    """Reflection of every draw at ``start + STEP * k``, shape (draws, k); known from ``low`` to ``high`` (ln f)."""

    start: float
    gamma: ComplexArray
    low: float
    high: float

    @property
    def draws(self) -> int:
        """How many draws, the measured one included."""
        return int(self.gamma.shape[0])

    def place_of(self, ln_f: FloatArray | float) -> FloatArray:
        """Where a frequency lies on the grid, in steps."""
        return np.asarray((np.asarray(ln_f) - self.start) / STEP)

    def knows(self, low_hz: float, high_hz: float) -> bool:
        """Whether a range lies where the curve is known."""
        return bool(np.log(low_hz) >= self.low - 1e-9 and np.log(high_hz) <= self.high + 1e-9)

    def at(self, ln_f: FloatArray) -> ComplexArray:
        """Reflection at frequencies of each draw, shape (draws, m), linear between the points."""
        place = np.clip(self.place_of(ln_f), 0, self.gamma.shape[1] - 1.001)
        left = place.astype(np.intp)
        part = place - left
        rows = np.arange(self.draws)[:, np.newaxis]
        return np.asarray((1 - part) * self.gamma[rows, left] + part * self.gamma[rows, left + 1])


def smooth_view(view: View, wanted: Sequence[tuple[float, float]], *, seed: int = 0) -> SmoothCurve:
    """The curve of a plane over all that is wanted of it."""
    first, last = float(np.log(view.f_hz[0])), float(np.log(view.f_hz[-1]))
    reach = min(BEYOND, OF_SPAN * (last - first))
    low = max(first - reach, min(range_[0] for range_ in wanted))
    high = min(last + reach, max(range_[1] for range_ in wanted))
    if high <= low:
        return SmoothCurve(low, np.ones((1, 2), dtype=np.complex128), low, low)
    grid = np.asarray(low + STEP * np.arange(int(np.ceil((high - low) / STEP)) + 2), dtype=np.float64)
    fits = _fits(view, max(low, first), min(high, last))
    gamma = _joined(view, fits, grid, seed)
    beyond = np.maximum(np.maximum(first - grid, grid - last), 0.0)
    if beyond.any() and gamma.shape[0] > 1:
        gamma[1:] += STRAY * beyond * complex_normal((gamma.shape[0] - 1, 1), seed=seed + 31)
    return SmoothCurve(low, view.turned_back(np.exp(grid), gamma), low, high)


def _fits(view: View, low: float, high: float) -> list[LocalFit]:
    """Local models from end to end of what is wanted."""
    f_hz = view.f_hz
    step = float(np.median(np.diff(np.log(f_hz[(f_hz > np.exp(low - 0.1)) & (f_hz < np.exp(high + 0.1))]))))
    count = max(int(np.ceil((high - low) / max(APART, step))) + 1, 2)
    centres = np.exp(np.linspace(low, high, count))
    fits = fit_all_near(view.curve, centres.tolist(), (WINDOW * centres).tolist())
    span_hz = float(f_hz[-1] - f_hz[0])
    if np.log(f_hz[-1] / f_hz[0]) < NARROW:
        for end, edge_hz in ((0, float(f_hz[0])), (-1, float(f_hz[-1]))):
            if abs(centres[end] / edge_hz - 1) < APART:
                fits[end] = fit_near(view.curve, edge_hz, END_WINDOW * span_hz)
    return fits


def _joined(view: View, fits: Sequence[LocalFit], grid: FloatArray, seed: int) -> ComplexArray:
    """Each point from the models on both sides of it."""
    centres = np.log([fit.centre_hz for fit in fits])
    f_hz = np.exp(grid)
    needed = np.unique(np.concatenate([fit.points for fit in fits]))
    at_points = view.turned_ensemble(needed)
    models = [fit.on(lambda index: at_points[:, np.searchsorted(needed, index)].copy()) for fit in fits]
    owner = np.clip(np.searchsorted(centres, grid, side="right") - 1, 0, len(fits) - 2)
    between = np.clip((grid - centres[owner]) / np.diff(centres)[owner], 0.0, 1.0)
    answer = np.empty((at_points.shape[0], grid.size), dtype=np.complex128)
    between_draws = np.random.default_rng([seed, 41]).normal(0, 0.5, (at_points.shape[0], len(fits) - 1))
    between_draws[0] = 0.0
    for k in range(len(fits) - 1):
        here = np.flatnonzero(owner == k)
        if not here.size:
            continue
        left, right = (_on(models[j], fits[j], f_hz[here]) for j in (k, k + 1))
        part = between[here] + between_draws[:, k : k + 1] * 2 * np.minimum(between[here], 1 - between[here])
        answer[:, here] = left + part * (right - left)
    return answer


def _on(model: moebius.Moebius, fit: LocalFit, f_hz: FloatArray) -> ComplexArray:
    u = moebius.coordinate(f_hz, fit.centre_hz)
    value = moebius.value(moebius.Moebius(*(part[:, np.newaxis] for part in model)), u)
    return np.where(np.isfinite(value), value, LARGEST_GAMMA)


class BestInside:
    """The smallest reflection inside a place, wherever the curve is slid to."""

    def __init__(self, curve: SmoothCurve, low_hz: float, high_hz: float) -> None:
        self._low, self._high = float(np.log(low_hz)), float(np.log(high_hz))
        first, last = (int(curve.place_of(end)) for end in (self._low - FARTHEST, self._high + FARTHEST))
        self._first = min(max(first, 0), curve.gamma.shape[1] - 2)
        part = curve.gamma[:, self._first : max(last + 2, self._first + 2)]
        self._curve = curve
        self._power = np.minimum(np.abs(part), LARGEST_GAMMA) ** 2
        self._inner = int((self._high - self._low) / STEP)
        size = max(self._inner, 1)
        # over the points k ... k + inner - 1
        self._least = minimum_filter1d(self._power, size, axis=1, origin=-(size // 2), mode="nearest")

    def gamma_abs(self, shift: FloatArray) -> FloatArray:
        """Smallest magnitude with the curve slid up by ``shift`` of ln f, shape (draws, m); NaN where it is not
        known.

        Each draw is slid at most ``FARTHEST`` either way.
        """
        low, high = self._low - shift, self._high - shift
        known = (low >= self._curve.low - 1e-9) & (high <= self._curve.high + 1e-9)
        known &= np.abs(shift) <= FARTHEST
        power = np.minimum(self._at(low), self._at(high))
        if self._inner > 0:
            first = np.ceil(self._place_of(low)).astype(np.intp)
            rows = np.arange(self._power.shape[0])[:, np.newaxis]
            inside = self._least[rows, np.clip(first, 0, self._power.shape[1] - 1)]
            power = np.minimum(power, inside)
        return np.where(known, np.sqrt(power), np.nan)

    def _place_of(self, ln_f: FloatArray) -> FloatArray:
        return np.asarray(self._curve.place_of(ln_f) - self._first)

    def _at(self, ln_f: FloatArray) -> FloatArray:
        place = np.clip(self._place_of(ln_f), 0, self._power.shape[1] - 1.001)
        left = place.astype(np.intp)
        rows = np.arange(self._power.shape[0])[:, np.newaxis]
        part = place - left
        return np.asarray((1 - part) * self._power[rows, left] + part * self._power[rows, left + 1])
