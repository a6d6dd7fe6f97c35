"""What lies on the wire or near it: a film of water, foliage at its end, metal beside it.

All of them are capacitance that a wire did not have. A film of thickness t on a wire of radius a lowers its resonance
by ln(1 + t/a)/(2 ln(h/a)), since the field in water is an eightieth of that in air: 0.05 to 0.5 mm on 0.75 to 1 mm,
under a logarithm of 7, are 0.3 to 3 % (King, The Theory of Linear Antennas, 1956, on coated wires, from memory). What
such a capacitance loses, its loss angle of the reactance it adds, comes as resistance: little in water, as much as
the reactance itself in leaves that lie on the end of a wire. Metal beside it loses nothing, shares the current, and
moves R either way. Sizes that no formula gives: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import even_in_log, grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.diagnosis.acting.walk import Pair, across, in_series


class Near(NamedTuple):
    """One thing near a wire: its code and share of it, words, fall of the resonance, loss angle, R besides."""

    code: str
    share: float
    words: str
    falls: tuple[float, float]
    angle: tuple[float, float]
    r_spread: float
    sign: float = 1.0


NEAR = (
    Near("wet-wire", 1.0, "a film of water on the wire", (0.002, 0.03), (0.003, 0.15), 0.0),
    Near("touching", 0.5, "leaves or soil at the wire", (0.002, 0.06), (0.05, 1.5), 0.0),
    Near("touching", 0.35, "metal beside the wire", (0.001, 0.06), (0.001, 0.05), 0.1),
    Near("touching", 0.15, "metal beside the wire", (0.001, 0.03), (0.001, 0.05), 0.1, -1.0),
)


def things_near(common: dict[str, float]) -> Iterator[Story]:
    """A story for each, by how often its code is met."""
    for near in NEAR:
        if common.get(near.code):
            yield _story(near, near.share * common[near.code])


def _story(near: Near, chance: float) -> Story:
    def say(scene: Scene, u: FloatArray) -> str:
        fall = 100 * even_in_log(u[0:1], *near.falls)[0]
        moves = "lowers" if near.sign > 0 else "raises"
        return f"{near.words} that {moves} the resonance by {fall:.1f} % explains the change"

    kept = (near.sign, *near.falls, *near.angle, near.r_spread)
    return Story(near.code, chance, grid(7, 3, 1), _act, say, kept=kept)


def _act(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    sign, least_fall, most_fall, least_angle, most_angle, r_spread = np.split(u[:, 3:], 6, axis=1)
    slide, r = -sign * even_in_log(u[:, 0:1], least_fall, most_fall), r_spread * u[:, 2:3]
    angle = even_in_log(u[:, 1:2], least_angle, most_angle)
    pair = _lost(scene, scene.far_end(h, slide=slide, r=r), scene.far_end(h, r=r), angle)
    return scene.at_radio(scene.carry(pair, h, 0.0, scene.length_m), h)


def _lost(scene: Scene, pair: Pair, before: Pair, angle: FloatArray) -> Pair:
    """With a resistance beside what the reactance has changed by; of a parallel resonance a conductance."""
    (v, i), (v0, i0) = pair, before
    if scene.parallel:
        return across(pair, angle * np.abs((i / v - i0 / v0).imag))
    return in_series(pair, angle * np.abs((v / i - v0 / i0).imag))
