"""A dip that a half wave of the wire and a resonance of the coax's outside make together: it follows the wire in part.

Resonances o of the wire and c of the coax that act on one another dip where (x - o)(x - c) = g², all in ln f. A dip
that lies a = x - o away from its half wave follows the wire to a share of g² / (g² + a²), and where a change of length
moves o by d, it goes on to the root x' of (x' - o - d)(x' - c) = g². Half waves on both sides act alike: their g² / a²
add up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import FloatArray, IndexArray
from sweepkit.several_bands.middle import middle_first

# How strongly wire and coax act on one another, in ln f, and its logarithmic spread; how far a half wave is off where
# wire and box put it. Models of our own, 10 wires with 3 to 14 m of coax: dips 0.02, 0.03, 0.05, 0.07 and 0.1 from
# their half wave follow to 0.87, 0.8, 0.73, 0.62 and 0.5, those half way between two of them to 0.3 to 0.75.
ACTS, ACTS_SPREAD, AWAY_SIGMA = 0.09, 0.4, 0.006
LEAST_AWAY = 1e-4  # of ln f: nearer is on the half wave


@dataclass(frozen=True, eq=False)
class SharedDip:
    """A dip beside a half wave, on every draw."""

    ratio: FloatArray  # (a/g)²
    lever: FloatArray  # a/g², which is 1/(x - c)

    @classmethod
    def drawn(cls, away: FloatArray, dice: np.random.Generator) -> SharedDip:
        """Of distances in ln f from the half waves around, the nearest first, shape (half waves, draws)."""
        away = away + dice.normal(0, AWAY_SIGMA, away.shape[1])
        away = np.where(np.abs(away) < LEAST_AWAY, LEAST_AWAY, away)
        act = ACTS * np.exp(dice.normal(0, ACTS_SPREAD, away.shape[1]))
        square = act**2 * ((away[0] / away) ** 2).sum(axis=0)
        return cls(middle_first(away[0] ** 2 / square), middle_first(away[0] / square))

    def taken(self, rows: IndexArray) -> SharedDip:
        """Some draws, the middle of them first."""
        return SharedDip(middle_first(self.ratio[rows]), middle_first(self.lever[rows]))

    @property
    def share(self) -> FloatArray:
        """To what part the dip follows the half wave."""
        return np.asarray(1 / (1 + self.ratio))

    def goes(self, half_wave: FloatArray) -> FloatArray:
        """How far the dip goes where its half wave goes so far, in ln f, draws first."""
        ratio, lever = (
            part.reshape(part.shape + (1,) * (half_wave.ndim - 1)) for part in (self.ratio, self.lever)
        )
        sides = ratio + 1 - half_wave * lever
        return np.asarray(2 * half_wave / (sides + np.sqrt(sides**2 + 4 * half_wave * lever)))
