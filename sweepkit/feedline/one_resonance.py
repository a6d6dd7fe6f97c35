"""One resonance behind a delay, fitted to a part of a sweep for many delays at once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

WIDEST = (
    0.2  # distance of the pole over the frequency, one over twice the loaded Q: wider, it is no resonance
)
# Beside its resonance an antenna reflects at least so much; a long wire at its surge impedance less.
DETUNED_SHARE = 0.9
LOSSIEST_DB_M = 0.0264  # matched loss at 1 MHz of the lossiest usual line (RG-174, as in the table of lines)
USUAL_VELOCITY_FACTOR = 0.66  # solid polyethylene, 1/sqrt(2.3); foam is up to 0.88
LEAST_POLE = 1e-9
ROUNDS = 3  # of weighting


class BehindDelays(NamedTuple):
    """The resonance behind each delay, shape (delays,)."""

    left: FloatArray  # rms of what it leaves unexplained
    detuned: ComplexArray  # reflection far from it
    width: FloatArray  # distance of its pole over the frequency


def behind_delays(f_hz: FloatArray, gamma: ComplexArray, delays_s: FloatArray) -> BehindDelays:
    """Γ = (p0 + p1·x)/(1 + q·x)·exp(-2jπf·delay), by weighted least squares, for each round-trip delay."""
    middle_hz = float(f_hz.mean())
    about_hz, half_hz = f_hz - middle_hz, float(f_hz[-1] - f_hz[0]) / 2
    turned = gamma * np.exp(2j * np.pi * np.outer(delays_s, about_hz))
    x = np.broadcast_to(about_hz / half_hz, turned.shape)
    weights = np.ones(turned.shape)
    for _ in range(ROUNDS):
        model = moebius.fit(x, turned, weights)
        below = 1 + model.q[:, np.newaxis] * x
        weights = 1 / np.clip(np.abs(below), 1e-3, 1e3) ** 2
    off = turned - (model.p0[:, np.newaxis] + model.p1[:, np.newaxis] * x) / below
    pole = np.where(np.abs(model.q) > LEAST_POLE, model.q, LEAST_POLE)
    return BehindDelays(
        np.sqrt((off.real**2 + off.imag**2).mean(axis=1)),
        model.p1 / pole * np.exp(2j * np.pi * middle_hz * delays_s),
        half_hz / middle_hz / np.abs(pole),
    )


def least_detuned(f_hz: float, delay_s: float) -> float:
    """The smallest detuned reflection of an antenna behind a round-trip delay, of the lossiest usual line. [-]"""
    length_m = delay_s / 2 * SPEED_OF_LIGHT_M_S * USUAL_VELOCITY_FACTOR
    lost_db = 2 * LOSSIEST_DB_M * np.sqrt(f_hz / 1e6) * length_m
    return float(DETUNED_SHARE * 10 ** (-lost_db / 20))
