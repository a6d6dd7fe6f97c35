"""Where along the line: the distance of a cause with its interval."""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.diagnosis.acting.evidence import TEMPER
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.stories import Told
from sweepkit.figures import Figure
from sweepkit.lines import LENGTH_SIGMA_M, VELOCITY_FACTOR_SIGMA

DRAWS = 500
PLACED_SHARE = 0.5  # of what a cause weighs must be stories that have a place
# Of an end of the line: what is so near may be in the connector there; common practice, no source
CONNECTOR_M = 0.1
NEGLECTED = 0.01  # share of a guess that is not followed


def place_of(scene: Scene, told: list[Told], *, seed: int = 0) -> Figure | None:
    """Distance from the radio; ``None`` for a cause that has no place.

    ``told``: stories of one cause, heaviest first.
    """
    rng = np.random.default_rng([seed, 23])
    total = sum(one.weight for one in told if one.story.place_m is not None)
    metres, best = [], None
    for one in told:
        if one.story.place_m is None or not scene.length_m:
            continue
        for peak, share, spread in zip(one.fitted.peaks, one.fitted.shares, one.fitted.spreads, strict=True):
            count = round(DRAWS * share * one.weight / max(total, 1e-12))
            h = scene.sigmas.size
            if best is None:
                best = float(one.story.place_m(scene, peak.theta[None, h:])[0])
            if count < NEGLECTED * DRAWS:
                continue
            own = _tempered(spread()[h:, h:])
            drawn = rng.multivariate_normal(peak.theta[h:], own, size=count, method="eigh")
            metres.append(one.story.place_m(scene, drawn))
    if best is None or total < PLACED_SHARE * sum(one.weight for one in told):
        return None
    if not metres:
        return Figure(best)
    drawn_m = np.concatenate(metres)
    drawn_m = drawn_m * (1 + VELOCITY_FACTOR_SIGMA * rng.standard_normal(drawn_m.size))
    drawn_m = drawn_m + LENGTH_SIGMA_M * rng.standard_normal(drawn_m.size)
    low, high = np.quantile(np.clip(drawn_m, 0.0, scene.length_m * 1.05), [0.025, 0.975])
    low, high = min(float(low), best), max(float(high), best)
    if low < CONNECTOR_M:
        low = 0.0
    if high > scene.length_m - CONNECTOR_M:
        high = max(high, scene.length_m * (1 + VELOCITY_FACTOR_SIGMA) + LENGTH_SIGMA_M)
    return Figure(best, low, high).widened(scene.scale_sigma)


def _tempered(spread: FloatArray) -> FloatArray:
    """Covariance of standard normal parameters once what the sweep tells of them counts as its evidence does."""
    identity = np.eye(len(spread))
    return np.asarray(np.linalg.inv((np.linalg.inv(spread) - identity) / TEMPER + identity))
