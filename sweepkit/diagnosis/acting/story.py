"""A story: one way in which something may have gone wrong, ready to be acted out on a scene."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.climb import Predict
from sweepkit.diagnosis.acting.scene import Scene

Act = Callable[[Scene, FloatArray, FloatArray], ComplexArray]  # scene, healthy ways, own parameters
Place = Callable[[Scene, FloatArray], FloatArray]


@dataclass(frozen=True, eq=False)
class Story:
    """One way of one cause."""

    code: str  # stable word of the cause
    chance: float  # how often it is met before anything is seen, relative to the others
    starts: FloatArray  # rough guesses of what it leaves open, standard normal, shape (starts, p)
    act: Act  # the sweep it leads to, (members, n), from healthy ways and own parameters, (members, ...)
    # what happened in words, with numbers, from the scene and own parameters, shape (p,)
    say: Callable[[Scene, FloatArray], str]
    place_m: Place | None = None  # how far from the radio, (members,), from own parameters, (members, p)


def predictor(scene: Scene, story: Story) -> Predict:
    """The story as a function of all that is open: healthy ways first, then its own parameters."""
    count = scene.sigmas.size

    def predict(theta: FloatArray) -> ComplexArray:
        with np.errstate(all="ignore"):  # a climb may try what no station is; it is not taken
            return story.act(scene, theta[:, :count], theta[:, count:])

    return predict


def roughly(act: Act, share: float) -> Act:
    """The story where all that it changes may be off by a share, a little more at one end of the sweep than at the
    other: four more parameters, which come last."""

    def acted(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
        sound = scene.healthy(h)
        middle, half = scene.f_hz.mean(), np.ptp(scene.f_hz) / 2
        even, along = u[:, -4:-3] + 1j * u[:, -3:-2], u[:, -2:-1] + 1j * u[:, -1:]
        off = share / np.sqrt(2) * (even + along * (scene.f_hz - middle) / half)
        return np.asarray(sound + (act(scene, h, u[:, :-4]) - sound) * (1 + off))

    return acted
