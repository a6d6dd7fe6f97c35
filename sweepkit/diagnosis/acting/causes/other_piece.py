"""A piece of another impedance in the line: mostly 75 ohm, in the place of some of it or added to it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import even, even_in_log, grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.diagnosis.acting.walk import through
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

CODE = "wrong-impedance-piece"
PIECE_M = (0.25, 20.0)
# 75 ohm coax within its tolerance is what is met; anything else coaxial, 30 to 110 ohm: common practice, no source.
USUAL_OHM, USUAL_SPREAD, USUAL_SHARE = 75.0, 2.0, 0.8
ANY_OHM = (30.0, 110.0)
VELOCITY = (0.64, 0.88)  # solid dielectric to foam


def other_pieces(scene: Scene, *, chance: float) -> Iterator[Story]:
    """Stories of such a piece; none without a line."""
    if not scene.length_m:
        return
    places = max(scene.places() // 2, 1)
    for usual, share in ((True, USUAL_SHARE), (False, 1 - USUAL_SHARE)):
        lengths, ohms = (8, 1) if usual else (6, 2)
        for added in (False, True):

            def say(scene: Scene, u: FloatArray, *, usual: bool = usual, added: bool = added) -> str:
                how = "added to the line" if added else "in the place of some of it"
                metres, ohm = _length_m(scene, u[None])[0], _ohm(u[None], usual)[0, 0]
                return f"{metres:.1f} m of {ohm:.0f} ohm {how} explain the change"

            starts, kept = grid(places, lengths, ohms, 1), (float(usual), float(added))
            yield Story(CODE, share * chance / 2, starts, _act, say, _place_m, kept)


def _act(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    usual, added = u[:, 4:5] > 0, u[:, 5:6] > 0
    near_m, metres = _place_m(scene, u)[:, None], _length_m(scene, u)[:, None]
    ohm = np.where(usual, _ohm(u, True), _ohm(u, False)) / scene.reference_ohm
    far_m = np.where(added, near_m, near_m + metres)
    pair = scene.carry(scene.far_end(h), h, far_m, scene.length_m)
    speed = SPEED_OF_LIGHT_M_S * even(u[:, 3:4], *VELOCITY)
    lossy = scene.walk.gamma_per_m[0].real  # as the line told: coax of one size loses about as much
    pair = through(pair, (lossy + 2j * np.pi * scene.f_hz / speed) * metres, ohm)
    return scene.at_radio(scene.carry(pair, h, 0.0, near_m), h)


def _length_m(scene: Scene, u: FloatArray) -> FloatArray:
    return even_in_log(u[:, 1], PIECE_M[0], max(min(PIECE_M[1], 0.95 * scene.length_m), 2 * PIECE_M[0]))


def _place_m(scene: Scene, u: FloatArray) -> FloatArray:
    return even(u[:, 0], 0.0, 1.0) * np.maximum(scene.length_m - _length_m(scene, u), 0.0)


def _ohm(u: FloatArray, usual: bool) -> FloatArray:
    return USUAL_OHM + USUAL_SPREAD * u[:, 2:3] if usual else even(u[:, 2:3], *ANY_OHM)
