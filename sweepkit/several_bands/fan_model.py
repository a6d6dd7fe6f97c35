"""How the dips of a fan follow its pairs: d ln f_p = M_pq d ln L_q.

All pairs longer by one factor lower all dips by it, so the rows of M sum to about -1; what one pair does to another is
not positive (but for overtones that pass), little between octaves and up to a tenth between neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray
from sweepkit.several_bands.middle import middle_first

# What a longer pair does to a shorter one's dip, and a shorter to a longer one's, by the logarithm of the ratio of both
# dips: own fans of 40, 20 and 15 m and of 20, 15 and 10 m over a mirror, each within a third; 0.025 between
# octaves and up to 0.10 between neighbours in models of others.
COUPLING = (
    (0.0, 0.15, 0.10),
    (0.31, 0.12, 0.055),
    (0.40, 0.072, 0.035),
    (0.69, 0.030, 0.010),
    (1.1, 0.012, 0.002),
    (2.0, 0.008, 0.001),
)
COUPLING_SPREAD = 0.4  # logarithmic
PAST_ANOTHER = 0.5  # of what a longer pair does past one in between: own fans
# The third overtone of a longer pair, over its first: 3.086 alone, 3.126 beside a pair in between, each within 0.5 %
# over 7 to 11 m of height, 5 to 25 degrees of droop and three soils (own wire models; insulation on top).
OVERTONE, OVERTONE_PAST, OVERTONE_SIGMA = 3.086, 3.126, 0.012
# Half of how far two resonances of one feedpoint keep apart at least: where a pair dips beside the third overtone of
# another they push one another. 115 and 60 ohm, slopes of reactance of 4630 and 1800 ohm, and 48 + 71j ohm that they
# share, side by side against 50 ohm (own wire models, 10 to 35 degrees apart, within a tenth); with their losses they
# do as lossless ones would that keep further apart, by up to half.
OVERTONE_ACTS, OVERTONE_ACTS_SPREAD = 0.0242, 0.3
# An overtone that passes a dip is taken as at least so far from it, (x - o)(o' - x') over g^2: nearer than 1 the dip is
# the overtone's as much as the pair's, and no length of the pair tells the two apart.
OVERTONE_PASSING = 2.0
# The other dip of the two says where the overtone lies: looked for so near, and read so well (it is shallow), in ln f.
TWIN_NEAR, TWIN_SIGMA = 0.12, 0.006
# Leg times frequency of a pair beside the third overtone of one for 40 m, over that of the pair in between, as
# logarithm, once both dip where they are to: 23 own fans within 0.006 with the pairs side by side by length; from
# -0.024 to 0.026 in other orders and at other heights.
LIKE_LEGS, LIKE_LEGS_SIGMA = 0.008, 0.018
BESIDE_OVERTONE = 0.12  # of a dip that an overtone takes: less tells the pair well enough


def fan_slopes(
    middle_hz: FloatArray,
    wanted_hz: FloatArray,
    together: FloatArray,
    twins: Sequence[Sequence[float]],
    dice: np.random.Generator,
) -> FloatArray:
    """Slopes of a fan from its dips to where they are to go, shape (draws, places, places)."""
    above = np.log(middle_hz[:, np.newaxis] / middle_hz)  # of the dip over that of the pair that acts on it
    apart, longer, shorter = np.array(COUPLING).T
    size = np.where(above > 0, np.interp(above, apart, longer), np.interp(-above, apart, shorter))
    count = middle_hz.size
    size = np.where((above > 0) & _between(middle_hz), PAST_ANOTHER * size, size)
    size = size * np.exp(dice.normal(0, COUPLING_SPREAD, (together.shape[0], count, count)))
    mixed = mixed_slopes(middle_hz, wanted_hz, together.shape[0], twins, dice)
    own = 1 - np.clip(mixed.sum(axis=2), 0.0, 1.0)  # what of a dip is its pair's
    others = -size * own[:, :, np.newaxis] * own[:, np.newaxis, :] - mixed
    others[:, np.arange(count), np.arange(count)] = 0.0
    others = middle_first(others)
    others[:, np.arange(count), np.arange(count)] = together - others.sum(axis=2)
    return others


def with_like_legs(
    matrix: FloatArray,
    ln_f: FloatArray,
    length_m: FloatArray,
    wanted_hz: FloatArray,
    dice: np.random.Generator,
) -> FloatArray:
    """Slopes weighed by the legs that they lead to, where an overtone makes a dip tell little of its pair.

    Pairs of one wire that dip one above the other end alike: the leg times the frequency of the one beside an overtone
    is that of the next longer pair but for ``LIKE_LEGS``. Longest pair first.
    """
    n, count = ln_f.shape
    for p in range(2, count):
        if float(-matrix[0, p, : p - 1].min()) < BESIDE_OVERTONE:
            continue
        step = np.linalg.solve(matrix, (np.log(wanted_hz) - ln_f)[..., np.newaxis])[..., 0]
        legs = np.log(length_m * wanted_hz) + step
        miss = (legs[:, p] - legs[:, p - 1] - LIKE_LEGS) / LIKE_LEGS_SIGMA
        weights = np.exp(-0.5 * (miss**2 - (miss**2).min()))
        rows = dice.choice(n, n, p=weights / weights.sum())
        matrix = matrix.copy()
        matrix[:, p] = middle_first(matrix[rows, p])
    return matrix


def _between(middle_hz: FloatArray) -> NDArray[np.bool_]:
    """Whether a pair dips between those of two others, the higher one first, shape (places, places)."""
    between = (middle_hz[:, np.newaxis, np.newaxis] > middle_hz) & (middle_hz > middle_hz[:, np.newaxis])
    return np.asarray(between.any(axis=-1))


def mixed_slopes(
    middle_hz: FloatArray,
    wanted_hz: FloatArray,
    n: int,
    twins: Sequence[Sequence[float]],
    dice: np.random.Generator,
) -> FloatArray:
    """What a longer pair takes of a dip where its third overtone lies near, shape (draws, places, places).

    Two resonances o and p that act on one another dip where (x - o)(x - p) = g^2, all in ln f: of the way from x to x'
    the dip follows the other to g^2 / (g^2 + (x - o)(x' - o')). Where the overtone passes the dip on the way, that is
    below zero: it pushed the dip up before and pushes it down after, or the other way round. The other dip of the two,
    where it shows, tells where the overtone lies.
    """
    count = middle_hz.size
    ratio = np.where(_between(middle_hz), OVERTONE_PAST, OVERTONE)
    overtone = np.log(ratio) + dice.normal(0, OVERTONE_SIGMA, (n, count, count))
    act = OVERTONE_ACTS * np.exp(dice.normal(0, OVERTONE_ACTS_SPREAD, (n, count, count)))
    above = np.log(middle_hz[:, np.newaxis] / middle_hz)
    for p, q in np.argwhere(np.abs(above - np.log(ratio)) < TWIN_NEAR):
        twin = overtone[:, p, q] + act[:, p, q] ** 2 / (overtone[:, p, q] - above[p, q])
        for other_hz in twins[p]:
            miss = (np.log(other_hz / middle_hz[q]) - twin) / TWIN_SIGMA
            if (weights := np.exp(-0.5 * miss**2)).sum() > 1:
                rows = dice.choice(n, n, p=weights / weights.sum())
                overtone[:, p, q], act[:, p, q] = overtone[rows, p, q], act[rows, p, q]
                break
    then = np.log(wanted_hz[:, np.newaxis] / wanted_hz)
    apart = (above - overtone) * (then - overtone)
    passing = np.minimum(apart, -OVERTONE_PASSING * act**2)
    return np.asarray(act**2 / (act**2 + np.where(apart < 0, passing, apart)))
