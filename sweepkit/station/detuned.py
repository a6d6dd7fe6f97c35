"""Where an antenna's circle of reflection begins, far off resonance, and what that says of the line before it.

A wire cut at its feedpoint is open far off its resonance, one fed at its end through a transformer is nearly a short:
the circle begins at 1 or at -1, whatever the resistance. A line that is longer than told turns that point about the
middle. Nothing is said by an antenna whose circle begins anywhere, as behind a matching network; and a choke at the
feedpoint, some line by itself, turns it as a lead at the radio does, but belongs to the antenna.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.station.evidence import LEAD
from sweepkit.station.windows import Windows

# Where circles begin, how far beside, and how many do: open but for a stray of some pF; short but for a transformer's
# leakage and capacitance; the rest anywhere. Common practice, no source. [rad]
BEGINNINGS = np.array([[0.0, 0.1, 0.75], [np.pi, 0.5, 0.15]])
ANYWHERE = 1 - float(BEGINNINGS[:, 2].sum())
# Of what looks like a lead on top, so many are a choke nobody told of; common practice, no source.
CHOKES = 1 / 3
LEAST_REACH = 0.7  # |q u| at the end of a window: one that sees less of the circle only guesses its beginning
SIZES = (0.6, 1.5)  # of a reflection that can be a beginning, with losses and errors
STEP = 1e-3  # of a score, for slopes


class Mixture(NamedTuple):
    """Of normal distributions, each with a kind of line: F of each covariance F'F."""

    weights: FloatArray
    means: FloatArray
    factors: FloatArray
    kind: IndexArray

    def where(self, chosen: NDArray[np.bool_]) -> Mixture:
        """Some of them, together 1."""
        weights = self.weights[chosen]
        return Mixture(weights / weights.sum(), self.means[chosen], self.factors[chosen], self.kind[chosen])


class Beginning(NamedTuple):
    """Where the circle of each outing's clearest window begins, near some scores."""

    phase: FloatArray  # NaN where it is not seen, shape (outings,) [rad]
    slope: FloatArray  # with each score, shape (outings, scores)
    scores: FloatArray  # shape (outings, scores)
    spread: FloatArray  # times what an antenna differs from a circle by at a window's ends, shape (outings,)


def find_beginnings(
    windows: Windows, at_feed: ComplexArray, slope: ComplexArray, q: ComplexArray, scores: FloatArray
) -> Beginning:
    """From windows at the feedpoint, shape (outings, windows, points), and slopes, the scores last."""
    weights = windows.trust / np.abs(1 + q * windows.u) ** 2
    reach = np.abs(q[..., 0]) * (np.abs(windows.u) * (windows.trust > 0)).max(axis=-1)
    clearest = np.arange(len(reach)), reach.argmax(axis=1)
    curve, reach = at_feed[clearest][:, np.newaxis], reach[clearest]
    near = np.concatenate([curve, curve + STEP * slope[clearest].swapaxes(-1, -2)], axis=1)
    circles = moebius.fit(windows.u[clearest], near, weights[clearest])
    begins = circles.p1 / circles.q
    size = np.abs(begins[:, 0])
    seen = (reach > LEAST_REACH) & (SIZES[0] < size) & (size < SIZES[1])
    return Beginning(
        np.where(seen, np.angle(begins[:, 0]), np.nan),
        np.angle(begins[:, 1:] / begins[:, :1]) / STEP,
        scores,
        (1 + 1 / reach) ** 2,
    )


def weigh_beginning(mixture: Mixture, deviation: FloatArray, seen: Beginning) -> Mixture:
    """Every part with every kind of antenna, each as likely as it makes where the circle was seen to begin.

    ``deviation``: what the antenna of each part differs from a circle by. The weights are not normalised.
    """
    if not (np.isfinite(seen.phase) and np.isfinite(seen.slope).all()):
        return mixture
    weights, means, factors, kind = mixture
    where, beside, share = BEGINNINGS.T[..., np.newaxis]
    along = factors @ seen.slope
    off = where - seen.phase - (means - seen.scores) @ seen.slope
    off = np.angle(np.exp(1j * off))
    own = beside**2 + (deviation * seen.spread) ** 2
    total = own + (along**2).sum(axis=1)
    likely = share * weights * np.exp(-(off**2) / total / 2) / np.sqrt(2 * np.pi * total)
    # Kalman's gain, and Potter's root of the covariance after it (Bierman, Factorization Methods for Discrete
    # Sequential Estimation, Academic Press 1977, chapter II)
    gain = (along[:, np.newaxis] @ factors)[:, 0]
    moved = means + (off / total)[..., np.newaxis] * gain
    shrink = 1 / (total + np.sqrt(own * total))
    shrunk = factors - shrink[..., np.newaxis, np.newaxis] * along[..., np.newaxis] * gain[:, np.newaxis]
    return Mixture(
        np.concatenate([ANYWHERE / (2 * np.pi) * weights, *likely]),
        np.concatenate([means, *moved]),
        np.concatenate([factors, *shrunk]),
        np.tile(kind, 1 + len(BEGINNINGS)),
    )


def with_chokes(mixture: Mixture) -> Mixture:
    """Some of the leads are part of the antenna: the line is as told, and all else as with the lead."""
    weights, means, factors, kind = mixture
    lead = kind == LEAD
    without, alone = means[lead], factors[lead]
    without[:, -1], alone[:, :, -1] = 0, 0
    return Mixture(
        np.concatenate([np.where(lead, 1 - CHOKES, 1) * weights, CHOKES * weights[lead]]),
        np.concatenate([means, without]),
        np.concatenate([factors, alone]),
        np.concatenate([kind, np.zeros_like(kind[lead])]),
    )
