"""Faults of the measurement: another reference plane, a calibration that is lost, and what hides all behind it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import even_in_log, grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.feedline.propagation import DB_PER_NEPER
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

LEFT_IN_M = (0.15, 30.0)  # an adapter to a whole line, of velocity factor 0.66
VELOCITY = 0.66
DB_PER_M = (0.01, 0.12)  # at 10 MHz, thin to thick coax
# Directivity, tracking and match of an analyzer with the wrong calibration or none: the load check reads below
# 30 dB, so that the first is 0.03 at least; sizes: common practice, no source.
LOST = np.array([0.05, 0.08, 0.06])
LEAST_LOST = np.array([0.03, 0.04, 0.0])
HIDDEN_DB = (2.5, 25.0)  # a pad, a wet spool, a resistor somewhere: common practice, no source


def measurement_faults(*, plane: float, calibration: float, hidden: float) -> Iterator[Story]:
    """Stories of the analyzer's side, each as often as it is met."""
    for sign in (1.0, -1.0):

        def say(scene: Scene, u: FloatArray, *, sign: float = sign) -> str:
            metres = even_in_log(u[0:1], *LEFT_IN_M)[0]
            return f"{metres:.1f} m of coax left {'in' if sign > 0 else 'out'} explain the change"

        yield Story("wrong-plane", plane / 2, grid(60, 1), _left_in, say, kept=(sign,))
    yield Story("poor-calibration", calibration, grid(2, 2, 2, 2, 1, 1), _lost, _say_lost)
    yield Story("swr-too-good", hidden, grid(8), _hidden, _say_hidden)


def _left_in(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    metres, sign = even_in_log(u[:, 0:1], *LEFT_IN_M), u[:, 2:3]
    nepers = sign * even_in_log(u[:, 1:2], *DB_PER_M) / DB_PER_NEPER * metres * np.sqrt(scene.f_hz / 10e6)
    turn = sign * 4 * np.pi * scene.f_hz * metres / (VELOCITY * SPEED_OF_LIGHT_M_S)
    return np.asarray(scene.healthy(h) * np.exp(-2 * nepers - 1j * turn))


def _lost(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    directivity, tracking, match = (part[:, None] for part in _errors(u))
    gamma = scene.healthy(h)
    return np.asarray(directivity + (1 + tracking) * gamma / (1 - match * gamma))


def _errors(u: FloatArray) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Directivity, tracking and match, the first two of a least size."""
    parts = u[:, 0::2] + 1j * u[:, 1::2]
    directivity, tracking, match = (parts * (LOST + LEAST_LOST / np.maximum(np.abs(parts), 1e-3))).T
    return directivity, tracking, match


def _say_lost(scene: Scene, u: FloatArray) -> str:
    directivity, tracking, _ = (abs(part[0]) for part in _errors(u[None]))
    return f"a directivity off by {directivity:.2f} and a scale off by {tracking:.2f} explain the change"


def _hidden(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    return np.asarray(scene.healthy(h) * np.exp(-2 * even_in_log(u[:, 0:1], *HIDDEN_DB) / DB_PER_NEPER))


def _say_hidden(scene: Scene, u: FloatArray) -> str:
    return f"{even_in_log(u[0:1], *HIDDEN_DB)[0]:.1f} dB of loss at every frequency alike explain the change"
