"""Causes whose physics is a shift: the dip moves, R and Q change, as ``data/signatures.csv`` has it with sources."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.diagnosis.signatures import Signature, signatures_of

SHIFTS = (
    "radial-off",
    "drier-soil",
    "wetter-soil",
    "wrong-tap",
    "length-changed",
    "no-counterpoise",
    "wet-wire",
    "touching",
    "common-mode",
    "hot-drift",
)


def shifted_antennas(kind: str | None) -> Iterator[Story]:
    """A story for each row of the table that can befall the kind.

    Parameters
    ----------
    kind : str or None
        Kind of antenna.
    """
    for row in signatures_of(kind):
        if row.code in SHIFTS:
            yield _story(row)


def _story(row: Signature) -> Story:
    centre = np.array([row.centre[name] for name in ("f", "r", "q")]) / 100
    spread = np.array([row.spread[name] for name in ("f", "r", "q")]) / 100

    def act(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
        f, r, q = (centre[k] + spread[k] * u[:, k : k + 1] for k in range(3))
        pair = scene.far_end(h, slide=f, r=r, q=q)
        return scene.at_radio(scene.carry(pair, h, 0.0, scene.length_m), h)

    def say(scene: Scene, u: FloatArray) -> str:
        f, r, q = 100 * (centre + spread * u)
        usual = f"{100 * centre[0]:+.1f} % give or take {100 * spread[0]:.1f}"
        return f"{row.variant}: frequency {f:+.2f} % (usual: {usual}), R {r:+.0f} %, Q {q:+.0f} % explain the change"

    return Story(row.code, row.common, grid(7, 3, 1), act, say)
