"""Where an antenna's circle of reflection begins, far off resonance, and what that says of the line before it.

A wire cut at its feedpoint is open far off its resonance, one fed at its end through a transformer is nearly a short:
the circle begins at 1 or at -1, whatever the resistance. A line that is longer than told turns that point about the
middle. Nothing is said by an antenna whose circle begins anywhere, as behind a matching network; and a choke or a box
at the feedpoint, some line by itself, turns it as a lead at the radio does, but belongs to the antenna.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.station.windows import Windows

# Where circles begin, how far beside, and how many do: open but for a stray of some pF; short but for a transformer's
# leakage and capacitance; the rest anywhere. Common practice, no source. [rad]
BEGINNINGS = np.array([[0.0, 0.1, 0.75], [np.pi, 0.5, 0.15]])
ANYWHERE = 1 - float(BEGINNINGS[:, 2].sum())
LEAST_REACH = 0.7  # |q u| at the end of a window: one that sees less of the circle only guesses its beginning
SIZES = (0.6, 1.5)  # of a reflection that can be a beginning, with losses and errors
STEP = 1e-3  # of a score, for slopes


class Beginning(NamedTuple):
    """Where the circle of each outing's clearest window begins, near some scores."""

    phase: FloatArray  # NaN where it is none of the kinds', shape (outings,) [rad]
    slope: FloatArray  # with each score, 0 where it is not seen, shape (outings, scores)
    scores: FloatArray  # shape (outings, scores)
    spread: FloatArray  # times what an antenna differs from a circle by at a window's ends, shape (outings,)
    seen: NDArray[np.bool_]  # whether it says anything of the antenna, shape (outings,)


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
        seen,
    )


class Placed(NamedTuple):
    """What each kind of antenna says, the one that begins anywhere first, shape (antennas, outings, parts)."""

    log_likely: FloatArray
    step: FloatArray  # how far along its gain a mean moves
    shrink: FloatArray  # how much of the gain its factor loses


def place(seen: Beginning, means: FloatArray, variance: FloatArray, deviation: FloatArray) -> Placed:
    """Where the circle was seen to begin, held against where it may: Kalman's and Potter's formulas (Bierman,
    Factorization Methods for Discrete Sequential Estimation, Academic Press 1977, chapter II).

    Parts of each outing have means, shape (outings, parts, scores), a variance along the slope, shape (outings, parts),
    and an antenna that differs from a circle by ``deviation``, shape (parts,).
    """
    where, beside, share = BEGINNINGS.T[..., np.newaxis, np.newaxis]
    moved = ((means - seen.scores[:, np.newaxis]) @ seen.slope[..., np.newaxis])[..., 0]
    off = where - seen.phase[:, np.newaxis] - moved
    off = np.angle(np.exp(1j * off))
    own = beside**2 + (deviation * seen.spread[:, np.newaxis]) ** 2
    total = own + variance
    likely = np.nan_to_num(-(off**2 / total + np.log(2 * np.pi * total)) / 2, nan=-np.inf)
    step, shrink = off / total, 1 / (total + np.sqrt(own * total))
    anywhere, says = np.zeros((1, *moved.shape)), seen.seen[:, np.newaxis]
    nothing = np.full(likely.shape, -np.log(2 * np.pi))
    return Placed(
        np.concatenate(
            [anywhere + np.log(ANYWHERE / (2 * np.pi)), np.log(share) + np.where(says, likely, nothing)]
        ),
        np.concatenate([anywhere, np.where(says & np.isfinite(likely), step, 0.0)]),
        np.concatenate([anywhere, np.where(says & np.isfinite(likely), shrink, 0.0)]),
    )
