"""What is left of a difference once the antenna may have slid: what slides a dip explains nearly all it does, other
causes are off by a share of what they explain."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.climb import climb, slopes_of
from sweepkit.diagnosis.acting.healthy import Slid
from sweepkit.diagnosis.acting.scene import Scene

# How far a slide is tried, as a share of frequency, and in how many steps; common practice, no source.
FARTHEST, STEPS = 0.12, 49
SLIDE, R, X = 0.05, 0.3, 0.1  # one sigma of what is tried from there: slide, R, slope of reactance
FINE = 0.01  # rms of the reflection that ends a climb


def slide_off(scene: Scene) -> Slid:
    """The good sweep slid and scaled so as to leave as little as it can of the sweep now."""
    h = np.zeros((1, scene.sigmas.size))

    def predict(theta: FloatArray) -> ComplexArray:
        with np.errstate(all="ignore"):
            pair = scene.far_end(h, slide=SLIDE * theta[:, :1], r=R * theta[:, 1:2], x=X * theta[:, 2:])
            return scene.at_radio(scene.carry(pair, h, 0.0, scene.length_m), h)

    starts = np.zeros((STEPS, 3))
    starts[:, 0] = np.linspace(-FARTHEST, FARTHEST, STEPS) / SLIDE
    tried = np.sum(np.abs(scene.now - predict(starts)) ** 2, axis=1)
    best = starts[np.argsort(tried)[:2]]
    peaks = climb(predict, scene.now, np.eye(scene.now.size, dtype=np.complex128) / FINE, best)
    still, slopes_there = slopes_of(predict, np.zeros((1, 3)), np.zeros((1, 0)))
    ends = [(scene.now - still[0], 0.0, slopes_there[0])]
    ends += [(peak.left, SLIDE * float(peak.theta[0]), peak.slopes) for peak in peaks]
    left, slide, slopes = min(ends, key=lambda end: float(np.sum(np.abs(end[0]) ** 2)))
    return Slid(left, slide, slopes[:, 0] / SLIDE)
