"""One resonance behind a delay, fitted to many parts of sweeps at once, for many delays each, and what it leaves."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.moebius import Moebius
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.propagation import DB_PER_NEPER
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

ROUNDS = 3  # of weighting
LINE_OHMS = (50.0, 75.0)
REFERENCE_OHM = 50.0
LEAST_POLE = 1e-9  # of q: a smaller one is no resonance
# Distance of the pole over the frequency, one over twice the loaded Q: wider, it is no resonance
WIDEST = 0.2
# Beside its resonance an antenna reflects at least so much; a long wire at its surge impedance less.
DETUNED_SHARE = 0.9
LOSSIEST_DB_M = 0.0264  # matched loss at 1 MHz of the lossiest usual line (RG-174, as in the table of lines)
USUAL_VELOCITY_FACTOR = 0.66  # solid polyethylene, 1/sqrt(2.3); foam is up to 0.88


class Rows(NamedTuple):
    """Windows side by side, padded to the longest: ``real`` is 1 at points, 0 beyond; shape (rows, m).

    ``about_hz`` is the frequency less its mean, ``x`` that scaled to about -1 to 1. ``middle_hz`` and ``width_hz``,
    shape (rows,), are the mean and the span.
    """

    about_hz: FloatArray
    x: FloatArray
    gamma: ComplexArray
    real: FloatArray
    middle_hz: FloatArray
    width_hz: FloatArray

    @classmethod
    def of(cls, grids_hz: list[FloatArray], curves: list[ComplexArray]) -> Rows:
        """Of the frequencies and reflections of each."""
        shape = len(grids_hz), max((grid_hz.size for grid_hz in grids_hz), default=0)
        about_hz, real = np.zeros(shape), np.zeros(shape)
        gamma = np.zeros(shape, dtype=np.complex128)
        for row, (grid_hz, curve) in enumerate(zip(grids_hz, curves, strict=True)):
            about_hz[row, : grid_hz.size] = grid_hz - grid_hz.mean()
            gamma[row, : grid_hz.size], real[row, : grid_hz.size] = curve, 1.0
        middle_hz = np.array([float(grid_hz.mean()) for grid_hz in grids_hz])
        width_hz = np.array([float(grid_hz[-1] - grid_hz[0]) for grid_hz in grids_hz])
        return cls(about_hz, about_hz * (2 / width_hz[:, np.newaxis]), gamma, real, middle_hz, width_hz)

    @classmethod
    def on_one_grid(cls, f_hz: FloatArray, curves: ComplexArray) -> Rows:
        """Of curves at the same frequencies, shape (rows, m)."""
        about_hz = np.broadcast_to(f_hz - f_hz.mean(), curves.shape)
        middle_hz, width_hz = (np.full(len(curves), each) for each in (f_hz.mean(), f_hz[-1] - f_hz[0]))
        x = about_hz * (2 / width_hz[:, np.newaxis])
        return cls(about_hz, x, curves, np.ones(curves.shape), middle_hz, width_hz)

    def rows(self, some: slice | NDArray[np.intp]) -> Rows:
        """Some of them."""
        about_hz, x, gamma, real, middle_hz, width_hz = self
        return Rows(about_hz[some], x[some], gamma[some], real[some], middle_hz[some], width_hz[some])


def relative_to(line_ohm: float, gamma: ComplexArray) -> ComplexArray:
    """The same reflection relative to the impedance of a line."""
    rho = (line_ohm - REFERENCE_OHM) / (line_ohm + REFERENCE_OHM)
    return np.asarray((gamma - rho) / (1 - rho * gamma))


def fit_resonances(rows: Rows, delays_s: FloatArray) -> tuple[Moebius, FloatArray]:
    """A ratio of two linear functions for each curve and delay taken out, and the rms it leaves, (rows, trials)."""
    model, off = residues(rows, delays_s)
    square_off = (off.real**2 + off.imag**2).sum(axis=2)
    return model, np.sqrt(square_off / rows.real.sum(axis=1)[:, np.newaxis])


def residues(rows: Rows, delays_s: FloatArray) -> tuple[Moebius, ComplexArray]:
    """The same, and what it leaves at each point, (rows, trials, m).

    (p0 + p1·u)/(1 + q·u) with u = x less a mean of its own: the linear problem p0 + p1·u - q·u·Γ = Γ is solved three
    times, weighted by 1/|1 + q·u|².
    """
    real, x = rows.real[:, np.newaxis], rows.x[:, np.newaxis]
    powers = np.stack([np.ones_like(rows.x), rows.x, rows.x**2], axis=2)
    square = (rows.gamma.real**2 + rows.gamma.imag**2)[..., np.newaxis]
    plain = np.concatenate([powers, square * powers], axis=2)
    turned = rows.gamma[:, np.newaxis] * np.exp(
        2j * np.pi * delays_s[..., np.newaxis] * rows.about_hz[:, np.newaxis]
    )
    weight = np.broadcast_to(real, turned.shape)
    sums = np.empty((*delays_s.shape, 12))
    for _ in range(ROUNDS):
        with_plain = np.matmul(weight, plain)
        sums[..., :3], sums[..., 9:] = with_plain[..., :3], with_plain[..., 3:]
        sums[..., 3:6], sums[..., 6:9] = (
            np.matmul(weight * part, powers) for part in (turned.real, turned.imag)
        )
        model, mean = moebius.by_moments(sums)
        u = x - mean[..., np.newaxis]
        below = 1 + model.q[..., np.newaxis] * u
        weight = real / np.maximum(below.real**2 + below.imag**2, 1e-6)
    off = (turned - (model.p0[..., np.newaxis] + model.p1[..., np.newaxis] * u) / below) * real
    return model, np.asarray(off)


def most_lost_np(f_hz: ArrayLike, delay_s: ArrayLike) -> FloatArray:
    """What the lossiest usual line with a round-trip delay takes of a reflection. [Np]"""
    length_m = np.asarray(delay_s) / 2 * SPEED_OF_LIGHT_M_S * USUAL_VELOCITY_FACTOR
    return np.asarray(2 * LOSSIEST_DB_M * np.sqrt(np.asarray(f_hz) / 1e6) * length_m / DB_PER_NEPER)


def least_detuned(f_hz: float, delay_s: float) -> float:
    """The smallest detuned reflection of an antenna behind a round-trip delay, of the lossiest usual line. [-]"""
    return float(DETUNED_SHARE * np.exp(-most_lost_np(f_hz, delay_s)))
