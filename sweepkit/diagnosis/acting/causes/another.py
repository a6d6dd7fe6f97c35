"""Another antenna for the same band, or the wrong file: a resonance all the same, with any dip, R and slope."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.diagnosis.acting.walk import in_series

CODE = "other-antenna"
# One sigma of frequency, R and slope of reactance, as logarithms: whips, wires and end-feds of one band have 10 to 80
# ohm and slopes of 200 to 1200 ohm (own wire models).
SLIDE, R, X = 0.04, 0.7, 0.6
# Beside it in series, over the reference: another counterpoise behind its box, other ground and coil. A counterpoise of
# 0.05 wavelengths is some -38 ohm behind 49 to 1, one of 0.06 some -32: common practice, no source.
BESIDE = 0.15


def another_antenna(*, chance: float) -> Iterator[Story]:
    """One story."""
    yield Story(CODE, chance, grid(9, 5, 3, 1, 1), _act, _say)


def _act(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    pair = scene.far_end(h, slide=SLIDE * u[:, 0:1], r=R * u[:, 1:2], x=X * u[:, 2:3])
    pair = in_series(pair, BESIDE * (u[:, 3:4] + 1j * u[:, 4:5]))
    return scene.at_radio(scene.carry(pair, h, 0.0, scene.length_m), h)


def _say(scene: Scene, u: FloatArray) -> str:
    r, slope = np.exp(R * u[1]), np.exp(X * u[2])
    moved = f"the dip {100 * SLIDE * u[0]:+.1f} % off"
    return f"{r:.2g} times the resistance and {slope:.2g} times the slope of reactance, {moved}, explain it"
