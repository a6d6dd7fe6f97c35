"""A line that ends too early: in an open or in a short, at the antenna's connector or before."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import even, grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.diagnosis.acting.walk import Pair
from sweepkit.lines import Z0_SIGMA

AT_CONNECTOR = 0.5  # share: a plug is pulled as often as a line breaks; common practice, no source
SHORTER = 0.95  # of a bare line: farther out a break is its own end
LOSS_OFF, LONGER = 0.2, 0.01  # of a catalogued line, as ``lines`` has them


def broken_lines(scene: Scene, *, open_chance: float, short_chance: float) -> Iterator[Story]:
    """Stories of a break and of a short, each as often as it is met; none without a line."""
    if not scene.length_m:
        return
    for code, end, chance in (("open-line", "open", open_chance), ("shorted-line", "short", short_chance)):
        for anywhere in (True, False):
            share = 1 - AT_CONNECTOR if anywhere else AT_CONNECTOR
            if scene.end == end and not anywhere:
                continue  # that is how it is meant to be

            def act(
                scene: Scene, h: FloatArray, u: FloatArray, *, end: str = end, anywhere: bool = anywhere
            ) -> ComplexArray:
                at_m = _place_m(scene, u, anywhere)[:, None]
                longer = np.zeros_like(at_m) if anywhere else u[:, 0:1]
                return through_told_line(scene, _end(scene, end), h, at_m, np.hstack([longer, u[:, 1:3]]))

            def say(scene: Scene, u: FloatArray, *, end: str = end, anywhere: bool = anywhere) -> str:
                at = "there" if anywhere else "at the far end, nothing on it,"
                return f"the told line with {'an open' if end == 'open' else 'a short'} {at} gives this sweep"

            def place_m(scene: Scene, u: FloatArray, *, anywhere: bool = anywhere) -> FloatArray:
                return _place_m(scene, u, anywhere)

            yield Story(
                code, share * chance, grid(2 * scene.places() if anywhere else 3, 1, 1), act, say, place_m
            )


def through_told_line(
    scene: Scene, pair: Pair, h: FloatArray, at_m: FloatArray | float, u: FloatArray
) -> ComplexArray:
    """From the pair at a place to the radio, along a line that is off from what was told.

    As a strong reflection shows it; ``u``, shape (members, 3): how far off its length, its impedance and its loss
    are, standard normal.
    """
    own = scene.walk.gamma_per_m[0]
    turns = (own.real * np.exp(LOSS_OFF * u[:, 2:3]) + 1j * own.imag * (1 + LONGER * u[:, 0:1])) / own
    pair = scene.carry(pair, h, 0.0, at_m, turns=turns, z_factor=1 + Z0_SIGMA * u[:, 1:2])
    return scene.at_radio(pair, h)


def _end(scene: Scene, end: str) -> Pair:
    one, zero = np.ones(scene.f_hz.shape, dtype=complex), np.zeros(scene.f_hz.shape, dtype=complex)
    return (one, zero) if end == "open" else (zero, one)


def _place_m(scene: Scene, u: FloatArray, anywhere: bool) -> FloatArray:
    if anywhere:
        return even(u[:, 0], 0.0, (1.0 if scene.end == "antenna" else SHORTER) * scene.length_m)
    return np.asarray(scene.length_m * (1 + LONGER * u[:, 0]))
