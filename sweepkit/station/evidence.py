"""How likely each kind of line, analyzer and antenna is, given the equations that a sweep makes, and what follows then.

Kinds of line are three: as told; with a joint or a piece in it that nobody told of (:mod:`sweepkit.feedline.untold`);
with a lead on top, or a choke, which looks the same. A sweep round a dip hardly tells them apart, and then they count
as often as they occur.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import FloatArray, IndexArray
from sweepkit.feedline.untold import PLACES, TERMS
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
# Mean of each place's joint over its rms: none resists less than nothing, so that one somewhere has sqrt(2/pi) of its
# rms in the mean, and every second untold thing is one.
JOINT_MEAN = math.sqrt(2 / math.pi) / 2 / math.sqrt(PLACES)
LEAD_M = (0.1, 2.0)  # shortest and longest lead, even in the logarithm; common practice, no source [m]
USUAL_LEAD_M = (0.63, 0.52)  # mean and sigma of those [m]
NO_LEAD_M = 0.005  # sigma of the lead where there is none: next to nothing [m]
FREE = 1e-12  # precision of a term about which nothing is known
FREE_TERMS = 3  # of the antenna: those of a Möbius function
# Precision that the sweep gives a direction, over that of what was told; less moves nothing by a hundredth of its sigma
NOTICED = 1e-4
FEW_SCORES = 12  # of the chain, that of two pieces: so many cost no more than to sort them
BY_ANALYZER = 6 * WAVES.size  # scores: real and imaginary parts of directivity, tracking and source match
BY_KIND = TERMS + 1  # scores, the last: joints and pieces that nobody told of, and a lead


class Kinds(NamedTuple):
    """Kinds of line beside each other, of each outing or of all: means and precisions of the scores in which they
    differ, shape (1 or outings, kinds, BY_KIND), and the logarithm of how often each occurs.
    """

    centre: FloatArray
    precision: FloatArray
    log_share: FloatArray

    @classmethod
    def of(cls, untold: ArrayLike, lead_m: ArrayLike, lead_sigma_m: ArrayLike, share: ArrayLike) -> Kinds:
        """From sizes of what is untold over its rms, and leads, shape (kinds,) or (outings, kinds)."""
        parts = [
            np.atleast_2d(np.asarray(part, dtype=np.float64))
            for part in (untold, lead_m, lead_sigma_m, share)
        ]
        sizes, lead, sigma, shares = np.broadcast_arrays(*parts)
        centre, spread = np.zeros((*lead.shape, BY_KIND)), np.empty((*lead.shape, BY_KIND))
        spread[..., :-1], spread[..., -1], centre[..., -1] = sizes[..., np.newaxis], sigma, lead
        centre[..., :PLACES] = JOINT_MEAN * sizes[..., np.newaxis]
        return cls(centre, spread**-2.0, np.log(shares))


WITHOUT_LEAD = Kinds.of(UNTOLD_SIZES[:LEAD], 0.0, NO_LEAD_M, KINDS[:LEAD])
# A lead of any length as one kind, for a first step
EVERY = Kinds.of(UNTOLD_SIZES, [0.0, 0.0, USUAL_LEAD_M[0]], [NO_LEAD_M, NO_LEAD_M, USUAL_LEAD_M[1]], KINDS)


def leads(lead_m: FloatArray, sigma_m: FloatArray, share: FloatArray) -> Kinds:
    """One lead of each outing, about so long, so many of all leads."""
    return Kinds.of(
        *(
            part[:, np.newaxis]
            for part in (np.full(lead_m.shape, UNTOLD_SIZES[LEAD]), lead_m, sigma_m, KINDS[LEAD] * share)
        )
    )


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

    def factors(self, outing: IndexArray, part: IndexArray) -> FloatArray:
        """Of some parts over all scores: F of a covariance F'F."""
        common = outing, part // (self.own.shape[1] // self.alike.shape[1])
        alike, across, own = self.alike[common], self.across[common], self.own[outing, part]
        split = alike.shape[-1]
        joined = np.zeros((part.size, split + BY_KIND, split + BY_KIND))
        joined[:, :split, :split] = alike
        joined[:, split:, :split] = -own @ across.swapaxes(-1, -2) @ alike
        joined[:, split:, split:] = own
        turn = self.turn[outing]
        return joined if split == BY_ANALYZER + turn.shape[-1] else self._over_all(joined, turn)

    def _over_all(self, joined: FloatArray, turn: FloatArray) -> FloatArray:
        """The same with what was left out as it was told."""
        told = joined.shape[-1] - BY_ANALYZER - BY_KIND
        size = BY_ANALYZER + turn.shape[-1] + BY_KIND
        full = np.zeros((len(joined), size, size))
        some, chain = slice(joined.shape[-1]), slice(BY_ANALYZER, -BY_KIND)
        full[:, some, :BY_ANALYZER] = joined[..., :BY_ANALYZER]
        full[:, some, chain] = joined[..., chain] @ turn[..., :told].swapaxes(-1, -2)
        full[:, some, -BY_KIND:] = joined[..., -BY_KIND:]
        full[:, joined.shape[-1] :, chain] = turn[..., told:].swapaxes(-1, -2)
        return full

    def variance(self, slope: FloatArray) -> FloatArray:
        """Of all parts along a direction of each outing, shape (outings, parts)."""
        kinds, split = self.own.shape[1] // self.alike.shape[1], self.alike.shape[-1]
        told = split - BY_ANALYZER
        turned = (self.turn.swapaxes(-1, -2) @ slope[:, BY_ANALYZER:-BY_KIND, np.newaxis])[..., 0]
        common = np.concatenate([slope[:, :BY_ANALYZER], turned[:, :told]], axis=1)
        upper = self.alike @ common[:, np.newaxis, :, np.newaxis]
        left = slope[:, np.newaxis, -BY_KIND:, np.newaxis] - self.across.swapaxes(-1, -2) @ upper
        lower = self.own @ np.repeat(left, kinds, axis=1)
        of_all = np.repeat((upper**2).sum(axis=(-1, -2)), kinds, axis=1) + (lower**2).sum(axis=(-1, -2))
        return np.asarray(of_all + (turned[:, np.newaxis, told:] ** 2).sum(axis=-1))


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


def weigh(
    system: System,
    turn: FloatArray,
    kinds: Kinds,
    qualities: FloatArray,
    shares: FloatArray,
    *,
    deviations: Sequence[float] = DEVIATIONS,
) -> Answers:
    """Mean, precision and evidence of some kinds, for analyzers of some qualities that occur so often.

    ``system`` and ``turn`` are those of :func:`told_apart`; the means are of all scores.

    The antenna's terms are taken out first, then what all kinds have in common. The last row of the root of
    [[A, r], [r, c]] is the root of A times the solution, then that of what is left.
    """
    known, antenna = _without_antenna(system, deviations)
    known = known[:, :, None]  # deviations, outings, qualities, scores
    alike = known.shape[-1] - 1 - BY_KIND
    told = np.ones((qualities.size, alike))
    told[:, :BY_ANALYZER] = qualities[:, None] ** -2.0
    root = lower_root(known[..., :alike, :alike] + told[..., None] * np.eye(alike))
    inverse = lower_inverse(root)
    across = inverse @ known[..., :alike, alike:]
    rest = known[..., alike:, alike:] - across.swapaxes(-1, -2) @ across
    centre, precision = kinds.centre[:, np.newaxis], kinds.precision[:, np.newaxis]  # for each quality
    below = lower_root(rest[..., None, :, :] + _prior_matrices(centre, precision))
    left, below, half = below[..., -1, -1] ** 2, below[..., :-1, :-1], below[..., -1:, :-1]
    own = lower_inverse(below)
    of_kind = half @ own
    in_common = (
        across[..., None, :, -1] - (of_kind @ across[..., None, :, :-1].swapaxes(-1, -2))[..., 0, :]
    ) @ inverse
    by_analyzer, by_chain = in_common[..., :BY_ANALYZER], in_common[..., BY_ANALYZER:]
    if by_chain.shape[-1] < turn.shape[-1]:
        by_chain = by_chain @ turn[:, None, :, : by_chain.shape[-1]].swapaxes(-1, -2)
    means = np.concatenate([by_analyzer, by_chain, of_kind[..., 0, :]], axis=-1)
    off = np.abs(means)
    off[..., :BY_ANALYZER] /= qualities[:, np.newaxis, np.newaxis]
    off[..., -BY_KIND:] = np.abs(of_kind[..., 0, :] - centre) * np.sqrt(precision)
    evidence = np.log(told).sum(axis=-1)[:, np.newaxis] + np.log(precision).sum(axis=-1) - left
    evidence = evidence - log_determinant(root)[..., None] - log_determinant(below)
    evidence = (
        antenna[:, :, None, None] + evidence / 2 + np.log(shares)[:, None] + kinds.log_share[:, np.newaxis]
    )
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


def _prior_matrices(centre: FloatArray, precision: FloatArray) -> FloatArray:
    """[[P, P m], [m P, m P m]] of means m and diagonal precisions P, shape (..., scores + 1, scores + 1)."""
    alone = np.broadcast_to(np.eye(BY_KIND), (*centre.shape, BY_KIND))
    aside = np.concatenate([alone, centre[..., None]], axis=-1)
    return np.asarray((aside * precision[..., None]).swapaxes(-1, -2) @ aside)


def _without_antenna(system: System, deviations: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    """What is left for the scores, [[A, r], [r, c]] for each deviation and outing; what the terms add to evidence."""
    outings, split = system.scores_right.shape
    degree = np.tile(np.arange(HIGHEST_TERM + 1), 2)
    more = degree >= FREE_TERMS
    sigma = np.stack([size * DECAY ** (degree - float(FREE_TERMS)) for size in deviations])
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
