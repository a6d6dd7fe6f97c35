"""A leg off or broken at the feedpoint: little is left but a small capacitance, or the coax as the other leg."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.causes.broken import through_told_line
from sweepkit.diagnosis.acting.priors import even_in_log, grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story

CODE = "leg-off"
KINDS = ("dipole", "inverted-vee", None)
# From a choke at the feedpoint to metres of wire against the shield, 10 pF/m; common practice, no source.
FARAD_PF = (1.0, 120.0)
OHM = (0.5, 200.0)
HENRY_UH = (0.05, 6.0)  # the wire itself, 1.5 uH/m; common practice, no source


def legs_off(kind: str | None, *, chance: float) -> Iterator[Story]:
    """A series circuit far off its resonance in the place of the antenna."""
    if kind in KINDS:
        yield Story(
            CODE,
            chance,
            grid(14, 4, 2, 1, 1, 1),
            _act,
            _say,
            lambda scene, u: np.full(len(u), scene.length_m),
        )


def _act(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    omega = 2 * np.pi * scene.f_hz
    farad, henry = 1e-12 * even_in_log(u[:, 0:1], *FARAD_PF), 1e-6 * even_in_log(u[:, 1:2], *HENRY_UH)
    z = even_in_log(u[:, 2:3], *OHM) + 1j * omega * henry + 1 / (1j * omega * farad)
    pair = z / scene.reference_ohm, np.ones_like(z)
    if not scene.length_m:
        return scene.at_radio(pair, h)
    return through_told_line(scene, pair, h, scene.length_m, u[:, 3:6])


def _say(scene: Scene, u: FloatArray) -> str:
    return f"{even_in_log(u[0:1], *FARAD_PF)[0]:.0f} pF in the place of the antenna explain the sweep"
