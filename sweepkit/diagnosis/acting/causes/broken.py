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

            def say(scene: Scene, u: FloatArray, *, end: str = end, anywhere: bool = anywhere) -> str:
                at = "there" if anywhere else "at the far end, nothing on it,"
                return f"the told line with {'an open' if end == 'open' else 'a short'} {at} gives this sweep"

            def place_m(scene: Scene, u: FloatArray, *, anywhere: bool = anywhere) -> FloatArray:
                return _place_m(scene, u, anywhere)

            starts = grid(2 * scene.places() if anywhere else 3, 1, 1)
            kept = float(anywhere), float(end == "open")
            yield Story(code, share * chance, starts, _act, say, place_m, kept)


def _act(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    anywhere, is_open = u[:, 3:4] > 0, u[:, 4:5] > 0
    at_m = np.where(anywhere, _place_m(scene, u, True)[:, None], _place_m(scene, u, False)[:, None])
    pair = np.repeat(is_open + 0j, scene.f_hz.size, axis=1), np.repeat(~is_open + 0j, scene.f_hz.size, axis=1)
    longer = np.where(anywhere, 0.0, u[:, 0:1])
    return through_told_line(scene, pair, h, at_m, np.hstack([longer, u[:, 1:3]]))


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


def _place_m(scene: Scene, u: FloatArray, anywhere: bool) -> FloatArray:
    if anywhere:
        return even(u[:, 0], 0.0, (1.0 if scene.end == "antenna" else SHORTER) * scene.length_m)
    return np.asarray(scene.length_m * (1 + LONGER * u[:, 0]))
