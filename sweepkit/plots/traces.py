"""The curves of one plane as they are drawn: the value and the ends of its 95 % interval at each frequency."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.curve import smooth_curve
from sweepkit.analysis.dips import find_dip_samples, fit_dip
from sweepkit.conversions import (
    ComplexArray,
    FloatArray,
    IndexArray,
    return_loss_db_from_gamma_abs,
    swr_from_gamma_abs,
    z_from_gamma,
)
from sweepkit.figures import COVERAGE_QUANTILES, QUANTILE_METHOD
from sweepkit.reviews.plane import LARGEST_GAMMA
from sweepkit.reviews.view import View

GRID_POINTS = 400
# Drawn, and read off on a page: a picture is no wider in dots, and a page no larger than a megabyte
MOST_POINTS = 1600
BLOCK_POINTS = 128  # whose draws are worked on at once: 2 MB for a thousand
DIP_STEPS = np.linspace(-3.0, 3.0, 121)  # steps of the curve round a dip, so that a jumped one is drawn round
SMALLEST_GAMMA = 1e-6  # a smaller reflection is drawn as 120 dB [-]


@dataclass(frozen=True, eq=False)
class Trace:
    """One quantity over frequency, each array of shape (n,)."""

    value: FloatArray
    low: FloatArray | None = None  # lower end of the 95 % interval; None without draws
    high: FloatArray | None = None  # upper end

    @classmethod
    def from_draws(cls, draws: ComplexArray, quantity: Callable[[ComplexArray], FloatArray]) -> Trace:
        """Value and interval from draws, shape (draws, n), the nominal one first; some frequencies at a time."""
        value = quantity(draws[:1])[0]
        if draws.shape[0] < 2:
            return cls(value)
        ends = np.empty((2, value.size))
        for start in range(0, value.size, BLOCK_POINTS):
            block = slice(start, start + BLOCK_POINTS)
            ends[:, block] = np.quantile(
                quantity(draws[1:, block]), COVERAGE_QUANTILES, axis=0, method=QUANTILE_METHOD
            )
        return cls(value, np.minimum(ends[0], value), np.maximum(ends[1], value))

    def mapped(self, function: Callable[[FloatArray], FloatArray]) -> Trace:
        """Another quantity that rises or falls with this one all the way."""
        value = function(self.value)
        if self.low is None or self.high is None:
            return Trace(value)
        ends = function(self.low), function(self.high)
        return Trace(value, np.minimum(*ends), np.maximum(*ends))


@dataclass(frozen=True, eq=False)
class Traces:
    """What one plane shows over rising frequency; each quantity is worked out when it is first asked for."""

    f_hz: FloatArray
    draws: ComplexArray  # reflection, shape (draws, n), the nominal one first
    reference_ohm: float  # of SWR and reflection
    signed: bool = True  # whether the phase means anything

    @property
    def gamma(self) -> ComplexArray:
        """Nominal reflection, shape (n,). [-]"""
        return np.asarray(self.draws[0])

    @cached_property
    def _size(self) -> Trace:
        return Trace.from_draws(self.draws, np.abs)

    def _z_ohm(self, gamma: ComplexArray) -> ComplexArray:
        return z_from_gamma(gamma, self.reference_ohm)

    @property
    def swr(self) -> Trace:
        """Standing-wave ratio. [-]"""
        return self._size.mapped(lambda size: swr_from_gamma_abs(np.minimum(size, LARGEST_GAMMA)))

    @property
    def return_loss_db(self) -> Trace:
        """Return loss, positive. [dB]"""
        return self._size.mapped(lambda size: return_loss_db_from_gamma_abs(np.maximum(size, SMALLEST_GAMMA)))

    @cached_property
    def r_ohm(self) -> Trace | None:
        """Resistance; ``None`` without signed phase. [ohm]"""
        return Trace.from_draws(self.draws, lambda gamma: self._z_ohm(gamma).real) if self.signed else None

    @cached_property
    def x_ohm(self) -> Trace | None:
        """Reactance; ``None`` without signed phase. [ohm]"""
        return Trace.from_draws(self.draws, lambda gamma: self._z_ohm(gamma).imag) if self.signed else None


def trace_curve(view: View, *, through_hz: tuple[float, ...] = ()) -> Traces:
    """Smooth curves of a plane, noise taken out by local fits; finer than the sweep round ``through_hz``, say dips."""
    every = drawn_step(view.f_hz.size)
    between_hz = np.linspace(view.f_hz[0], view.f_hz[-1], GRID_POINTS if every == 1 else 2)
    fine_hz = [f_hz + DIP_STEPS * view.step_hz * every for f_hz in through_hz]
    grid_hz = np.unique(np.concatenate([view.f_hz[::every], between_hz, *fine_hz]))
    grid_hz = grid_hz[(grid_hz >= view.f_hz[0]) & (grid_hz <= view.f_hz[-1])]
    turned = smooth_curve(view.curve, grid_hz, ensemble=view.turned_ensemble, blended=True)
    if through_hz:
        _lead_through_dips(view, grid_hz, turned)
    return Traces(grid_hz, view.turned_back(grid_hz, turned), view.reference_ohm, view.phase == "signed")


def _lead_through_dips(view: View, grid_hz: FloatArray, turned: ComplexArray) -> None:
    """Round each dip the curve goes over, in place, into the fit that its figures are taken from."""
    for place in find_dip_samples(np.abs(view.gamma), noise=view.noise):
        dip = fit_dip(view.curve, place)
        model = dip.fit.on(view.turned_ensemble)
        dip_hz = float(moebius.frequency(moebius.smallest_magnitude(model)[:1], dip.fit.centre_hz)[0])
        reach_hz = min(dip.width_hz, float(np.abs(view.f_hz[dip.fit.points] - dip_hz).max()))
        inside = np.abs(grid_hz - dip_hz) < reach_hz  # none where the fit has no dip
        share = np.cos(np.pi / 2 * (grid_hz[inside] - dip_hz) / reach_hz) ** 2
        u = moebius.coordinate(grid_hz[inside], dip.fit.centre_hz)
        own = moebius.value(moebius.Moebius(*(c[:, np.newaxis] for c in model)), u)
        turned[:, inside] += share * (own - turned[:, inside])


def drawn_step(points: int) -> int:
    """1, or of a dense sweep which of its points are drawn: every second, third ..."""
    return -(-points // MOST_POINTS)


def trace_points(view: View, index: IndexArray) -> Traces:
    """Measured points of a plane, each with the interval of that point alone."""
    draws = np.empty((view.ensemble(index[:1]).shape[0], index.size), dtype=np.complex128)
    for start in range(0, index.size, BLOCK_POINTS):
        block = slice(start, start + BLOCK_POINTS)
        draws[:, block] = view.ensemble(index[block])
    return Traces(view.f_hz[index], draws, view.reference_ohm, view.phase == "signed")
