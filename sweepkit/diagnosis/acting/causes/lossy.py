"""More loss in the line: water in some of it or all of it, or corroded braid.

Water between the conductors: loss that grows with frequency, and up to some tenths more capacitance, which slows
the wave and lowers the impedance alike. Corrosion: resistance of the conductors, which grows as the root of
frequency. Sizes: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import even, even_in_log, grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.feedline.propagation import DB_PER_NEPER

CODE = "line-loss"
ADDED_DB = (0.15, 6.0)  # one way, in the middle of the sweep
SLOWED = 0.12  # share by which the wave is slowed, at most


def lossy_lines(scene: Scene, *, chance: float) -> Iterator[Story]:
    """Stories of water in a part of the line, and of corrosion all along; a loss alone where no line was told."""
    if not scene.length_m:
        yield Story(CODE, chance, grid(8), _unplaced, _say, None)
        return
    yield Story(CODE, 0.5 * chance, grid(5, 4, 3, 9), _wet, _say_wet, _wet_from_m)
    yield Story(CODE, 0.5 * chance, grid(8), _corroded, _say, None)


def _unplaced(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    nepers = even_in_log(u[:, 0:1], *ADDED_DB) / DB_PER_NEPER
    return np.asarray(scene.healthy(h) * np.exp(-2 * nepers * np.sqrt(scene.f_hz / scene.f_hz.mean())))


def _corroded(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    per_m = even_in_log(u[:, 0:1], *ADDED_DB) / DB_PER_NEPER / scene.length_m
    added = per_m * np.sqrt(scene.f_hz / scene.f_hz.mean())
    turns = 1 + added / scene.walk.gamma_per_m[0]
    return scene.at_radio(scene.carry(scene.far_end(h), h, 0.0, scene.length_m, turns=turns), h)


def _wet(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    near_m, far_m = _wet_part(scene, u)
    per_m = even_in_log(u[:, 0:1], *ADDED_DB) / DB_PER_NEPER / np.maximum(far_m - near_m, 0.05)
    slowed = 1 + even(u[:, 3:4], 0.0, SLOWED)
    turns = slowed + per_m * (scene.f_hz / scene.f_hz.mean()) / scene.walk.gamma_per_m[0]
    # Shunt loss and capacitance both go with the admittance across: its root is in propagation and impedance.
    pair = scene.carry(scene.far_end(h), h, far_m, scene.length_m)
    pair = scene.carry(pair, h, near_m, far_m, turns=turns, z_factor=1 / turns)
    return scene.at_radio(scene.carry(pair, h, 0.0, near_m), h)


def _wet_part(scene: Scene, u: FloatArray) -> tuple[FloatArray, FloatArray]:
    metres = even(u[:, 2:3], 0.1, 1.0) * scene.length_m
    near_m = even(u[:, 1:2], 0.0, 1.0) * (scene.length_m - metres)
    return near_m, near_m + metres


def _wet_from_m(scene: Scene, u: FloatArray) -> FloatArray:
    near_m, far_m = _wet_part(scene, u)
    return np.asarray((near_m + far_m)[:, 0] / 2)


def _say(scene: Scene, u: FloatArray) -> str:
    return f"{even_in_log(u[0:1], *ADDED_DB)[0]:.1f} dB more loss, one way, explain the change"


def _say_wet(scene: Scene, u: FloatArray) -> str:
    near_m, far_m = _wet_part(scene, u[None])
    return f"{_say(scene, u)}, as by water in {(far_m - near_m)[0, 0]:.0f} m round that place"
