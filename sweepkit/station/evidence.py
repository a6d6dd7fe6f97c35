"""How likely each kind of line, analyzer and antenna is, given the equations that a sweep makes, and what follows then.

Kinds of line are three: as told; with a joint or a piece in it that nobody told of (:mod:`sweepkit.feedline.untold`);
with a lead on top. A sweep round a dip hardly tells them apart, and then they count as often as they occur.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.feedline.untold import TERMS
from sweepkit.instrument import WAVES
from sweepkit.station.windows import HIGHEST_TERM

DEVIATIONS = (0.003, 0.01, 0.03, 0.1, 0.3)  # of an antenna from a resonator, at the ends of its window [-]
DECAY = 0.6  # from each of its terms to the next
# Size of an untold analyzer's errors over their rms: from 43.5 to 35 dB directivity.
QUALITIES = (0.6, 1.0, 1.6)
# Of four lines one has a worn joint, an adapter or a piece in it that nobody told of, of twenty one a lead at the
# radio; common practice, no source.
KINDS = (0.75, 0.20, 0.05)
# Size of what is untold over its rms; next to nothing in a line as told.
UNTOLD_SIZES = (0.01, 1.0, 1.0)
LEAD_M = (0.63, 0.52)  # mean and sigma of the length of a lead: 0.1 to 2 m, even in the logarithm
FREE = 1e-12  # precision of a term about which nothing is known
FREE_TERMS = 3  # of the antenna: those of a Möbius function
BY_ANALYZER = 6 * WAVES.size  # scores: real and imaginary parts of directivity, tracking and source match


class System(NamedTuple):
    """Normal equations for each outing: scores, and terms of the antenna in each window by itself.

    Scores are the analyzer's, the chain's (:func:`sweepkit.feedline.chain.believable_chains`), and the untold.
    """

    scores: FloatArray  # shape (outings, scores, scores)
    scores_right: FloatArray
    terms: FloatArray  # shape (outings, windows, terms, terms)
    between: FloatArray  # shape (outings, windows, terms, scores)
    terms_right: FloatArray
    total: FloatArray  # shape (outings,)
    freedom: FloatArray


class Answers(NamedTuple):
    """One for each outing, then for each size of deviation, quality and kind of line."""

    means: FloatArray
    roots: FloatArray  # of their precisions, lower triangles
    evidence: FloatArray  # logarithm, with how often the kind occurs
    left: FloatArray  # of the squares
    strain: FloatArray  # how far the mean is off what was told, at the most [sigma]


def weigh(system: System, qualities: tuple[float, ...], length_sigma_m: FloatArray) -> Answers:
    """Mean, precision and evidence of every kind; the antenna's terms are taken out first.

    The last row of the root of [[A, r], [r, c]] is the root of A times the solution, then that of what is left.

    ``length_sigma_m``: of the piece at the radio, to which a lead adds, shape (outings,).
    """
    known, antenna = _without_antenna(system)
    centre, precision = _priors(system.scores_right.shape[1], qualities, length_sigma_m)
    split = centre.shape[-1]
    whole = np.repeat(known[:, :, None], precision.shape[1], axis=2)  # deviations, outings, priors
    at = np.arange(split)
    whole[..., at, at] += precision
    whole[..., :split, split] += centre * precision
    whole[..., split, :split] += centre * precision
    whole[..., split, split] += (centre**2 * precision).sum(axis=-1)
    root = lower_root(whole)
    below, half = root[..., :split, :split], root[..., split, :split]
    left = root[..., split, split] ** 2
    means = np.linalg.solve(below.swapaxes(-1, -2), half[..., None])[..., 0]
    off = np.abs((means - centre) * np.sqrt(precision))
    evidence = antenna[:, :, None] + (np.log(precision).sum(axis=-1) - left - log_determinant(below)) / 2
    evidence = evidence + np.log(np.tile(KINDS, len(qualities)))
    parts = (means, below, evidence, left, off.max(axis=-1))
    return Answers(*(_by_outing(np.asarray(part)) for part in parts))


def _by_outing(part: FloatArray) -> FloatArray:
    """From deviations, outings, priors to outings and one axis for the others."""
    moved = np.moveaxis(part, 0, 1)
    return moved.reshape(moved.shape[0], -1, *moved.shape[3:])


def _without_antenna(system: System) -> tuple[FloatArray, FloatArray]:
    """What is left for the scores, [[A, r], [r, c]] for each deviation and outing; what the terms add to evidence."""
    outings, split = system.scores_right.shape
    degree = np.tile(np.arange(HIGHEST_TERM + 1), 2)
    more = degree >= FREE_TERMS
    sigma = np.stack([size * DECAY ** (degree - float(FREE_TERMS)) for size in DEVIATIONS])
    precision = np.where(more, sigma**-2.0, FREE)[:, None, None]  # deviations, outings, windows, terms
    root = lower_root(system.terms + precision[..., None] * np.eye(degree.size))
    between = np.concatenate([system.between, system.terms_right[..., None]], axis=-1)
    half = np.linalg.solve(root, np.broadcast_to(between, (*root.shape[:-1], split + 1)))
    together = np.empty((outings, split + 1, split + 1))
    together[:, :split, :split] = system.scores
    together[:, split, :split] = together[:, :split, split] = system.scores_right
    together[:, split, split] = system.total
    known = together - (half.swapaxes(-1, -2) @ half).sum(axis=2)
    prior = system.terms.shape[1] * np.log(precision[..., more]).sum(axis=-1)[..., 0]
    return known, (prior - log_determinant(root).sum(axis=2)) / 2


def _priors(
    split: int, qualities: tuple[float, ...], length_sigma_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and precision of the scores for every quality and kind of line, shape (outings, priors, scores)."""
    outings = length_sigma_m.size
    precision = np.ones((outings, len(qualities), len(KINDS), split))
    centre = np.zeros_like(precision)
    precision[..., :BY_ANALYZER] = np.array(qualities)[:, None, None] ** -2.0
    precision[..., -TERMS:] = np.array(UNTOLD_SIZES)[:, None] ** -2.0
    moves = length_sigma_m > 0
    sigma_m = np.where(moves, length_sigma_m, 1.0)
    centre[:, :, -1, BY_ANALYZER] = (moves * LEAD_M[0] / sigma_m)[:, None]
    precision[:, :, -1, BY_ANALYZER] = 1 / (1 + moves * (LEAD_M[1] / sigma_m) ** 2)[:, None]
    return centre.reshape(outings, -1, split), precision.reshape(outings, -1, split)


def lower_root(matrices: FloatArray) -> FloatArray:
    """Cholesky's root of each; of one that holds no numbers, none either, so that it takes no other along."""
    known = np.isfinite(matrices).all(axis=(-1, -2), keepdims=True)
    root = np.linalg.cholesky(np.where(known, matrices, np.eye(matrices.shape[-1])))
    return np.asarray(np.where(known, root, np.nan))


def log_determinant(roots: FloatArray) -> FloatArray:
    """Of the matrices that triangular roots belong to."""
    return np.asarray(2 * np.log(np.diagonal(roots, axis1=-2, axis2=-1)).sum(axis=-1))
