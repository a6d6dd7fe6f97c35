"""How likely each kind of line, analyzer and antenna is, given the equations that a sweep makes, and what follows then.

Kinds of line are three: as told; with a joint or a piece in it that nobody told of (:mod:`sweepkit.feedline.untold`);
with a lead on top, or a choke, which looks the same. A sweep round a dip hardly tells them apart, and then they count
as often as they occur.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.conversions import FloatArray, IndexArray
from sweepkit.feedline.untold import TERMS
from sweepkit.instrument import WAVES
from sweepkit.kit.analyzer import Size, rms_of
from sweepkit.station.windows import HIGHEST_TERM

DEVIATIONS = (0.003, 0.01, 0.03, 0.1, 0.3)  # of an antenna from a resonator, at the ends of its window [-]
DECAY = 0.6  # from each of its terms to the next
QUALITIES = 3  # sizes that stand for the range of an untold analyzer's: exact for its moments up to the fifth
# Of five lines one has a worn joint, an adapter or a piece in it that nobody told of, of ten one a lead at the radio,
# of twenty one ends at a choke; common practice, no source.
KINDS = (0.65, 0.20, 0.15)
LEAD = len(KINDS) - 1  # the last of them
CHOKE = len(KINDS)  # told from a lead by nothing, so split from it afterwards
# Size of what is untold over its rms; next to nothing in a line as told.
UNTOLD_SIZES = (0.01, 1.0, 1.0)
LEAD_M = (0.63, 0.52)  # mean and sigma of the length of a lead: 0.1 to 2 m, even in the logarithm
LEADS = ((0.0, 0.01), (0.0, 0.01), (LEAD_M[0] / LEAD_M[1], 1.0))  # mean and sigma, over that sigma
FREE = 1e-12  # precision of a term about which nothing is known
FREE_TERMS = 3  # of the antenna: those of a Möbius function
# Precision that the sweep gives a direction, over that of what was told; less moves nothing by a hundredth of its sigma
NOTICED = 1e-4
FEW_SCORES = 12  # of the chain, that of two pieces: so many cost no more than to sort them
BY_ANALYZER = 6 * WAVES.size  # scores: real and imaginary parts of directivity, tracking and source match
BY_KIND = TERMS + 1  # scores, the last: joints and pieces that nobody told of, and a lead


class System(NamedTuple):
    """Normal equations for each outing: scores, and terms of the antenna in each window by itself.

    Scores are the analyzer's, the chain's (:func:`sweepkit.feedline.chain.believable_chains`), and :data:`BY_KIND`.
    """

    scores: FloatArray  # shape (outings, scores, scores)
    scores_right: FloatArray
    terms: FloatArray  # shape (outings, windows, terms, terms)
    between: FloatArray  # shape (outings, windows, terms, scores)
    terms_right: FloatArray
    total: FloatArray  # shape (outings,)
    freedom: FloatArray


class Answers(NamedTuple):
    """One for each outing, then for each size of deviation, quality and kind of line, the kinds in turn."""

    means: FloatArray
    evidence: FloatArray  # logarithm, with how often quality and kind occur
    left: FloatArray  # of the squares
    strain: FloatArray  # how far the mean is off what was told, at the most [sigma]
    # Inverses of roots of precisions: of what all kinds have in common, one for all of them; how the rest goes with
    # that; of the rest.
    alike: FloatArray
    across: FloatArray
    own: FloatArray
    turn: FloatArray  # as of :func:`told_apart`, shape (outings, chain, chain)

    def factors(self, parts: IndexArray) -> FloatArray:
        """Of some parts of one outing over all scores: F of a covariance F'F."""
        alike, across = (each[parts // len(KINDS)] for each in (self.alike, self.across))
        split = alike.shape[-1]
        joined = np.zeros((parts.size, split + BY_KIND, split + BY_KIND))
        joined[:, :split, :split] = alike
        joined[:, split:, :split] = -self.own[parts] @ across.swapaxes(-1, -2) @ alike
        joined[:, split:, split:] = self.own[parts]
        return joined if split == BY_ANALYZER + len(self.turn) else self._over_all(joined)

    def _over_all(self, joined: FloatArray) -> FloatArray:
        """The same with what was left out as it was told."""
        told = joined.shape[-1] - BY_ANALYZER - BY_KIND
        size = BY_ANALYZER + len(self.turn) + BY_KIND
        full = np.zeros((len(joined), size, size))
        some, chain = slice(joined.shape[-1]), slice(BY_ANALYZER, -BY_KIND)
        full[:, some, :BY_ANALYZER] = joined[..., :BY_ANALYZER]
        full[:, some, chain] = joined[..., chain] @ self.turn[:, :told].T
        full[:, some, -BY_KIND:] = joined[..., -BY_KIND:]
        full[:, joined.shape[-1] :, chain] = self.turn[:, told:].T
        return full


def qualities_of(size: Size) -> tuple[FloatArray, FloatArray]:
    """Sizes that stand for a range, over its rms, and how often each occurs: Gauss-Legendre quadrature in dB."""
    if not isinstance(size, tuple) or not 0 < size[0] < size[1]:
        return np.ones(1), np.ones(1)
    nodes, shares = np.polynomial.legendre.leggauss(QUALITIES)
    low, high = np.log(size)
    return np.exp((low + high) / 2 + (high - low) / 2 * nodes) / rms_of(size), shares / 2


def told_apart(system: System) -> tuple[System, FloatArray]:
    """The chain's scores in directions that a sweep tells something of, and all directions, those first.

    Lengths of pieces in a row, say, show as their sum. Each score is as sure beforehand, so any directions at right
    angles are; of those that are left out what was told holds. Directions have shape (outings, chain, chain).
    """
    chain = slice(BY_ANALYZER, -BY_KIND)
    known = system.scores[:, chain, chain]
    outings, count = known.shape[:2]
    if count <= FEW_SCORES:
        return system, np.broadcast_to(np.eye(count), known.shape)
    finite = np.isfinite(known).all(axis=(-1, -2), keepdims=True)
    sizes, turn = np.linalg.eigh(np.where(finite, known, np.eye(count)))
    told = max(int(np.count_nonzero(sizes > NOTICED, axis=1).max()), 1)
    turn = turn[..., ::-1]
    every = np.zeros((outings, system.scores.shape[1], BY_ANALYZER + told + BY_KIND))
    every[:, :BY_ANALYZER, :BY_ANALYZER] = np.eye(BY_ANALYZER)
    every[:, chain, chain] = turn[..., :told]
    every[:, -BY_KIND:, -BY_KIND:] = np.eye(BY_KIND)
    return system._replace(
        scores=every.swapaxes(-1, -2) @ system.scores @ every,
        scores_right=(system.scores_right[:, np.newaxis] @ every)[:, 0],
        between=system.between @ every[:, np.newaxis],
    ), turn


def weigh(system: System, turn: FloatArray, qualities: FloatArray, shares: FloatArray) -> Answers:
    """Mean, precision and evidence of every kind, for analyzers of some qualities that occur so often.

    ``system`` and ``turn`` are those of :func:`told_apart`; the means are of all scores.

    The antenna's terms are taken out first, then what all kinds have in common. The last row of the root of
    [[A, r], [r, c]] is the root of A times the solution, then that of what is left.
    """
    known, antenna = _without_antenna(system)
    known = known[:, :, None]  # deviations, outings, qualities, scores
    alike = known.shape[-1] - 1 - BY_KIND
    told = np.ones((qualities.size, alike))
    told[:, :BY_ANALYZER] = qualities[:, None] ** -2.0
    root = lower_root(known[..., :alike, :alike] + told[..., None] * np.eye(alike))
    inverse = lower_inverse(root)
    across = inverse @ known[..., :alike, alike:]
    rest = known[..., alike:, alike:] - across.swapaxes(-1, -2) @ across
    centre, precision = _by_kind()
    below = lower_root(rest[..., None, :, :] + _prior_matrices(centre, precision))
    left, below, half = below[..., -1, -1] ** 2, below[..., :-1, :-1], below[..., -1:, :-1]
    own = lower_inverse(below)
    of_kind = half @ own
    in_common = (
        across[..., None, :, -1] - (of_kind @ across[..., None, :, :-1].swapaxes(-1, -2))[..., 0, :]
    ) @ inverse
    by_chain = in_common[..., BY_ANALYZER:]
    if by_chain.shape[-1] < turn.shape[-1]:
        by_chain = by_chain @ turn[:, None, :, : by_chain.shape[-1]].swapaxes(-1, -2)
    means = np.concatenate([in_common[..., :BY_ANALYZER], by_chain, of_kind[..., 0, :]], axis=-1)
    every = means.shape[-1] - BY_KIND
    sizes = np.ones((qualities.size, *centre.shape[:1], means.shape[-1]))
    sizes[..., :BY_ANALYZER], sizes[..., every:] = told[:, None, :BY_ANALYZER], precision
    off = np.abs(means - np.pad(centre, ((0, 0), (every, 0)))) * np.sqrt(sizes)
    evidence = np.log(sizes).sum(axis=-1) - left - log_determinant(root)[..., None] - log_determinant(below)
    evidence = antenna[:, :, None, None] + evidence / 2 + np.log(shares)[:, None] + np.log(KINDS)
    return Answers(
        means=_by_outing(means, 4),
        evidence=_by_outing(evidence, 4),
        left=_by_outing(left, 4),
        strain=_by_outing(off.max(axis=-1), 4),
        alike=_by_outing(inverse, 3),
        across=_by_outing(across[..., :-1], 3),
        own=_by_outing(own, 4),
        turn=turn,
    )


def _by_outing(part: FloatArray, axes: int) -> FloatArray:
    """From deviations, outings and others, so many axes in all, to outings and one axis for the others."""
    moved = np.moveaxis(part, 0, 1)
    return moved.reshape(moved.shape[0], -1, *moved.shape[axes:])


def _by_kind() -> tuple[FloatArray, FloatArray]:
    """Mean and precision of the scores that kinds of line differ in, shape (kinds, scores)."""
    centre, sigma = np.zeros((len(KINDS), BY_KIND)), np.empty((len(KINDS), BY_KIND))
    sigma[:, :TERMS] = np.array(UNTOLD_SIZES)[:, None]
    centre[:, -1], sigma[:, -1] = np.array(LEADS).T
    return centre, sigma**-2.0


def _prior_matrices(centre: FloatArray, precision: FloatArray) -> FloatArray:
    """[[P, P m], [m P, m P m]] of means m and diagonal precisions P, shape (kinds, scores + 1, scores + 1)."""
    aside = np.concatenate(
        [np.broadcast_to(np.eye(BY_KIND), (centre.shape[0], BY_KIND, BY_KIND)), centre[..., None]], axis=-1
    )
    return np.asarray((aside * precision[..., None]).swapaxes(-1, -2) @ aside)


def _without_antenna(system: System) -> tuple[FloatArray, FloatArray]:
    """What is left for the scores, [[A, r], [r, c]] for each deviation and outing; what the terms add to evidence."""
    outings, split = system.scores_right.shape
    degree = np.tile(np.arange(HIGHEST_TERM + 1), 2)
    more = degree >= FREE_TERMS
    sigma = np.stack([size * DECAY ** (degree - float(FREE_TERMS)) for size in DEVIATIONS])
    precision = np.where(more, sigma**-2.0, FREE)[:, None, None]  # deviations, outings, windows, terms
    root = lower_root(system.terms + precision[..., None] * np.eye(degree.size))
    between = np.concatenate([system.between, system.terms_right[..., None]], axis=-1)
    half = lower_inverse(root) @ between
    together = np.empty((outings, split + 1, split + 1))
    together[:, :split, :split] = system.scores
    together[:, split, :split] = together[:, :split, split] = system.scores_right
    together[:, split, split] = system.total
    known = together - (half.swapaxes(-1, -2) @ half).sum(axis=2)
    prior = system.terms.shape[1] * np.log(precision[..., more]).sum(axis=-1)[..., 0]
    return known, (prior - log_determinant(root).sum(axis=2)) / 2


def lower_root(matrices: FloatArray) -> FloatArray:
    """Cholesky's root of each; of one that holds no numbers, none either, so that it takes no other along."""
    known = np.isfinite(matrices).all(axis=(-1, -2), keepdims=True)
    root = np.linalg.cholesky(np.where(known, matrices, np.eye(matrices.shape[-1])))
    return np.asarray(np.where(known, root, np.nan))


def lower_inverse(roots: FloatArray) -> FloatArray:
    """Of lower triangles, halves first: many small ones at once, for which a general solver takes several times as
    long.
    """
    size = roots.shape[-1]
    if size == 1:
        return np.asarray(1 / roots)
    split = size // 2
    inverse = np.zeros_like(roots)
    inverse[..., :split, :split] = first = lower_inverse(roots[..., :split, :split])
    inverse[..., split:, split:] = last = lower_inverse(roots[..., split:, split:])
    inverse[..., split:, :split] = -last @ roots[..., split:, :split] @ first
    return inverse


def log_determinant(roots: FloatArray) -> FloatArray:
    """Of the matrices that triangular roots belong to."""
    return np.asarray(2 * np.log(np.diagonal(roots, axis1=-2, axis2=-1)).sum(axis=-1))
