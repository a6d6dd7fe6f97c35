"""Where an antenna's circle of reflection begins, far off resonance, and what that says of the line before it.

A wire cut at its feedpoint is open far off its resonance, one fed at its end through a transformer is nearly a short:
the circle begins at 1 or at -1, whatever the resistance. A line that is longer than told turns that point about the
middle. Nothing is said by an antenna whose circle begins anywhere, as behind a matching network; and a choke at the
feedpoint, some line by itself, turns it as a lead at the radio does, but belongs to the antenna.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray
from sweepkit.station.evidence import CHOKE, LEAD
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


class Beginning(NamedTuple):
    """Where the circle of each outing's clearest window begins, near some scores."""

    phase: FloatArray  # NaN where it is not seen, shape (outings,) [rad]
    slope: FloatArray  # with each score, 0 where it is not seen, shape (outings, scores)
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
    turned = np.angle(begins[:, 1:] / begins[:, :1]) / STEP
    size = np.abs(begins[:, 0])
    seen = (reach > LEAST_REACH) & (SIZES[0] < size) & (size < SIZES[1]) & np.isfinite(turned).all(axis=1)
    return Beginning(
        np.where(seen, np.angle(begins[:, 0]), np.nan),
        np.where(seen[:, np.newaxis], turned, 0.0),
        scores,
        (1 + 1 / reach) ** 2,
    )


def weigh_beginning(
    mixture: Mixture, deviation: FloatArray, seen: Beginning, *, least_share: float
) -> Mixture:
    """Every part with every kind of antenna, each as likely as it makes where the circle was seen to begin; together 1.

    ``deviation``: what the antenna of each part differs from a circle by. Parts below ``least_share`` are left out.
    Some leads are a choke, part of the antenna: the line is as told then, and all else as with the lead.
    """
    _, means, factors, kind = mixture
    weights, step, shrink = _weighed(mixture, deviation, seen)
    antenna, part = np.nonzero(weights > least_share * weights.sum())
    lead = np.flatnonzero(kind[part] == LEAD)
    antenna, part = (np.concatenate([each, each[lead]]) for each in (antenna, part))
    choke = np.arange(part.size) >= part.size - lead.size
    share = np.where(choke, CHOKES, np.where(kind[part] == LEAD, 1 - CHOKES, 1.0)) * weights[antenna, part]
    along = factors @ seen.slope
    gain = (along[:, np.newaxis] @ factors)[:, 0]
    moved = means[part] + step[antenna, part, np.newaxis] * gain[part]
    shrunk = factors[part]
    shrunk -= (shrink[antenna, part, np.newaxis] * along[part])[..., np.newaxis] * gain[part, np.newaxis]
    moved[choke, -1] = 0
    shrunk[choke, :, -1] = 0
    return Mixture(share / share.sum(), moved, shrunk, np.where(choke, CHOKE, kind[part]))


def _weighed(
    mixture: Mixture, deviation: FloatArray, seen: Beginning
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Weight of each part with each kind of antenna, the one that begins anywhere first; how far along its gain a mean
    moves, and how much of the gain its factor loses: Kalman's and Potter's formulas (Bierman, Factorization Methods for
    Discrete Sequential Estimation, Academic Press 1977, chapter II).
    """
    unmoved = np.zeros((1, mixture.weights.size))
    if np.isnan(seen.phase):
        return mixture.weights[np.newaxis], unmoved, unmoved
    where, beside, share = BEGINNINGS.T[..., np.newaxis]
    off = where - seen.phase - (mixture.means - seen.scores) @ seen.slope
    off = np.angle(np.exp(1j * off))
    own = beside**2 + (deviation * seen.spread) ** 2
    total = own + ((mixture.factors @ seen.slope) ** 2).sum(axis=1)
    likely = share * mixture.weights * np.exp(-(off**2) / total / 2) / np.sqrt(2 * np.pi * total)
    return (
        np.concatenate([ANYWHERE / (2 * np.pi) * mixture.weights[np.newaxis], likely]),
        np.concatenate([unmoved, off / total]),
        np.concatenate([unmoved, 1 / (total + np.sqrt(own * total))]),
    )
