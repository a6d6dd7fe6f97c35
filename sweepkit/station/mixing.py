"""One mixture for each outing, out of its parts with and without a lead and every kind of antenna."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sweepkit.conversions import FloatArray, IndexArray
from sweepkit.station.detuned import Beginning, Placed, place
from sweepkit.station.evidence import CHOKE, DEVIATIONS, LEAD, Answers

LEAST_SHARE = 1e-4  # of a part of the mixture: of 1000 draws a rarer one hardly ever has any
# Of what looks like a lead on top, so much belongs to the antenna, by where that begins: anywhere, open, short. In
# front of one that begins open it may be a choke nobody told of; the others have a box, whose leakage and capacitance,
# some 0.1 uH and 100 pF, delay as half a metre of coax does. Common practice, no source.
CHOKES = np.array([0.9, 1 / 3, 0.9])


class Ended(NamedTuple):
    """Outings after the last step, one with leads more than once."""

    of: IndexArray  # the outing of each row
    kind: IndexArray  # of line of each part
    answers: Answers  # of each row and part
    evidence: FloatArray  # with what scaling the noise takes from it, shape (rows, parts)
    beginning: Beginning  # of each row
    misfit: FloatArray  # what the likeliest part of each row leaves over the noise


class Mixture(NamedTuple):
    """Of normal distributions, each with a kind of line: F of each covariance F'F; all weights together are 1."""

    weights: FloatArray
    kind: IndexArray
    means: FloatArray
    factors: FloatArray


def mix(ended: Sequence[Ended], outings: int) -> list[Mixture]:
    """Every part with every kind of antenna, as likely as the fit and where the circle was seen to begin make it.

    Some leads are a choke, part of the antenna: the line is as told then, and all else as with the lead.
    """
    placed = [_placed(one) for one in ended]
    logs = [one.evidence + where.log_likely for one, where in zip(ended, placed, strict=True)]
    most = np.full(outings, -np.inf)
    for one, log in zip(ended, logs, strict=True):
        np.maximum.at(most, one.of, log.max(axis=(0, 2)))
    likely = [np.exp(log - most[one.of, np.newaxis]) for one, log in zip(ended, logs, strict=True)]
    kept = [_kept(*each) for each in zip(ended, placed, likely, strict=True)]
    of, *parts = (np.concatenate(both) for both in zip(*kept, strict=True))
    order = np.argsort(of, kind="stable")
    ends = np.searchsorted(of[order], np.arange(1, outings))
    split = zip(*(np.split(part[order], ends) for part in parts), strict=True)
    return [Mixture(own / own.sum(), *rest) for own, *rest in split]


def sum_up(ended: Sequence[Ended], outings: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Evidence over all parts of each outing, their mean strain, and the misfit where they are likeliest.

    Evidence that is no number is none of the outing's, and so is its misfit.
    """
    said, most = np.full((2, outings), -np.inf)
    strain, misfit = np.zeros(outings), np.full(outings, np.nan)
    for one in ended:
        np.logaddexp.at(said, one.of, np.logaddexp.reduce(one.evidence, axis=1))
        np.maximum.at(most, one.of, one.evidence.max(axis=1))
    for one in ended:
        share = np.exp(one.evidence - said[one.of, np.newaxis])
        np.add.at(strain, one.of, (share * one.answers.strain).sum(axis=1))
        best = one.evidence.max(axis=1) == most[one.of]
        misfit[one.of[best]] = one.misfit[best]
    return said, strain, misfit


def _placed(one: Ended) -> Placed:
    deviation = np.repeat(DEVIATIONS, one.kind.size // len(DEVIATIONS))
    variance = one.answers.variance(one.beginning.slope)
    return place(one.beginning, one.answers.means, variance, deviation)


def _kept(
    one: Ended, placed: Placed, likely: FloatArray
) -> tuple[IndexArray, FloatArray, IndexArray, FloatArray, FloatArray]:
    """Parts that are likely enough: the outing of each, then as a mixture has them, chokes beside leads."""
    antenna, row, part = at = np.nonzero(likely > LEAST_SHARE)
    factors, slope = one.answers.factors(row, part), one.beginning.slope[row]
    along = np.einsum("kij,kj->ki", factors, slope)
    gain = np.einsum("ki,kij->kj", along, factors)
    means = one.answers.means[row, part] + placed.step[at][:, np.newaxis] * gain
    factors -= (placed.shrink[at][:, np.newaxis] * along)[..., np.newaxis] * gain[:, np.newaxis]
    kind, weights, of = one.kind[part], likely[at], one.of[row]
    lead, choke = kind == LEAD, CHOKES[antenna]
    if not lead.any():
        return of, weights, kind, means, factors
    choke_means, choke_factors = means[lead], factors[lead]
    choke_means[:, -1] = 0
    choke_factors[..., -1] = 0
    return (
        np.concatenate([of, of[lead]]),
        np.concatenate([np.where(lead, 1 - choke, 1.0) * weights, (choke * weights)[lead]]),
        np.concatenate([kind, np.full(choke_means.shape[0], CHOKE)]),
        np.concatenate([means, choke_means]),
        np.concatenate([factors, choke_factors]),
    )
