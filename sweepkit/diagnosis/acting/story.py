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
    # the sweep it leads to, (members, n), from healthy ways, and own parameters with what it keeps after them
    act: Act
    # what happened in words, with numbers, from the scene and own parameters, shape (p,)
    say: Callable[[Scene, FloatArray], str]
    place_m: Place | None = None  # how far from the radio, (members,), from own parameters, (members, p)
    kept: tuple[float, ...] = ()  # stories of one act that part only by these are climbed at once

    def guess(self, own: FloatArray) -> FloatArray:
        """Own parameters, shape (members, p), with what it keeps after them."""
        return np.hstack([own, np.tile(np.array(self.kept), (len(own), 1))])


def predictor(scene: Scene, story: Story) -> Predict:
    """The story as a function of all that is open: healthy ways first, then its own parameters and what it keeps."""
    count = scene.sigmas.size

    def predict(theta: FloatArray) -> ComplexArray:
        with np.errstate(all="ignore"):  # a climb may try what no station is; it is not taken
            return story.act(scene, theta[:, :count], theta[:, count:])

    return predict


# Rms of the reflection that a rough story may be off by, at most: off by more it could be any antenna, and says nothing
# of this one; common practice, no source.
ROUGHEST = 0.1


def roughly(act: Act, share: float, *, fixed: int = 0) -> Act:
    """The story where all that it changes may be off by a share, a little more at one end of the sweep than at the
    other: four more parameters, which come last, before the ``fixed`` that it keeps."""

    def acted(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
        sound = scene.healthy(h)
        own, off, kept = np.split(u, [u.shape[1] - fixed - 4, u.shape[1] - fixed], axis=1)
        changed = act(scene, h, np.hstack([own, kept])) - sound
        rms = np.sqrt(np.mean(np.abs(changed) ** 2, axis=1, keepdims=True))
        most = share / np.sqrt(1 + (share * rms / ROUGHEST) ** 2)
        middle, half = scene.f_hz.mean(), np.ptp(scene.f_hz) / 2
        even, along = off[:, 0:1] + 1j * off[:, 1:2], off[:, 2:3] + 1j * off[:, 3:4]
        share_off = most / np.sqrt(2) * (even + along * (scene.f_hz - middle) / half)
        return np.asarray(sound + changed * (1 + share_off))

    return acted
