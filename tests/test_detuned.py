"""Where an antenna's circle begins tells a lead from none, and a choke is not taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.conversions import gamma_from_z
from sweepkit.feedline.chain import LineChain, believable_chains, scores_per_chain
from sweepkit.feedline.plane import add_chain
from sweepkit.lines import parse_piece
from sweepkit.station.detuned import ANYWHERE, BEGINNINGS, Beginning
from sweepkit.station.evidence import BY_ANALYZER, BY_KIND, CHOKE, DEVIATIONS, LEAD, Answers
from sweepkit.station.mixing import CHOKES, Ended, mix
from sweepkit.station.posterior import learn
from sweepkit.station.windows import Curve
from tests.test_posterior import CHAIN, F_HZ, MODEL

U = F_HZ / 14.15e6 - 14.15e6 / F_HZ

METRE = parse_piece("RG-58 1 m")
SEEDS = range(12)


def swept(z_ohm, seed, *more, hz_times=1.0):
    """A sweep of an antenna through the told line, a little off, and pieces that nobody told of."""
    dice = np.random.default_rng([79, seed])
    line = LineChain([*CHAIN.pieces, *more])
    drawn = believable_chains(line, 0.7 * dice.standard_normal((1, scores_per_chain(line))))
    f_hz = hz_times * F_HZ
    gamma = add_chain(f_hz, gamma_from_z(z_ohm, 50.0), drawn)[0] + 0.01 * np.exp(2j * np.pi * dice.random())
    noise = 0.001 / np.sqrt(2) * (dice.normal(size=F_HZ.size) + 1j * dice.normal(size=F_HZ.size))
    return Curve(f_hz, gamma + noise, np.full(F_HZ.size, 0.001), np.ones(F_HZ.size))


def lead_seen(*more):
    """How likely a lead looks in front of series resonators whose resistance rises."""
    seen = []
    for seed in SEEDS:
        dice = np.random.default_rng([80, seed])
        z_ohm = dice.uniform(30, 90) * (1 + dice.uniform(0, 2) * U + 1j * dice.uniform(5, 15) * U)
        seen.append(learn([swept(z_ohm, seed, *more)], CHAIN, MODEL, reference_ohm=50.0).kinds[LEAD])
    return np.array(seen)


def one_part(kind, phase, slope):
    """An outing of which one part alone is likely, that of the third deviation."""
    dice = np.random.default_rng(5)
    count, chain = len(DEVIATIONS), slope.size - BY_KIND - BY_ANALYZER
    alike = BY_ANALYZER + chain - 2  # two directions of the line are as they were told
    turn = np.linalg.qr(dice.normal(size=(chain, chain)))[0]
    roots = (np.tril(dice.normal(size=(1, count, n, n))) / 4 for n in (alike, BY_KIND))
    answers = Answers(
        means=dice.normal(size=(1, count, slope.size)) / 4,
        evidence=np.zeros((1, count)),
        left=np.zeros((1, count)),
        strain=np.zeros((1, count)),
        alike=next(roots),
        across=dice.normal(size=(1, count, alike, BY_KIND)) / 4,
        own=next(roots),
        turn=turn[None],
    )
    known = ~np.isnan([phase])
    seen = Beginning(np.array([phase]), slope[None], np.zeros((1, slope.size)), np.array([2.0]), known)
    evidence = np.where(np.arange(count) == 2, 0.0, -np.inf)[None]
    return Ended(np.zeros(1, int), np.full(count, kind), answers, evidence, seen, np.ones(1))


@pytest.mark.identity
def test_a_beginning_that_is_seen_moves_a_normal_distribution_as_bayes_says():
    slope = np.random.default_rng(6).normal(size=BY_ANALYZER + 5 + BY_KIND) / 8
    one = one_part(0, 0.1, slope)
    (found,) = mix([one], 1)
    (root,), mean = one.answers.factors(np.zeros(1, int), np.array([2])), one.answers.means[0, 2]
    np.testing.assert_allclose(one.answers.variance(slope[None])[0, 2], np.sum((root @ slope) ** 2))
    covariance = root.T @ root
    where, beside, share = BEGINNINGS[0]
    variance = beside**2 + (2.0 * DEVIATIONS[2]) ** 2
    total = slope @ covariance @ slope + variance
    off = where - 0.1 - slope @ mean
    np.testing.assert_allclose(found.means[0], mean)
    np.testing.assert_allclose(found.means[1], mean + covariance @ slope * off / total)
    np.testing.assert_allclose(
        found.factors[1].T @ found.factors[1],
        covariance - np.outer(covariance @ slope, covariance @ slope) / total,
        atol=1e-12,
    )
    normal = np.exp(-(off**2) / total / 2) / np.sqrt(2 * np.pi * total)
    np.testing.assert_allclose(found.weights[1] / found.weights[0], share * normal / (ANYWHERE / (2 * np.pi)))


def test_a_lead_of_a_metre_is_seen_and_none_where_there_is_none_and_a_choke_never_ruled_out():
    """One line in ten has a lead beforehand; at the feedpoint a choke looks the same, and it is half as frequent."""
    none, metre = lead_seen(), lead_seen(METRE)
    assert none.mean() < 0.1
    assert metre.mean() > 0.2
    assert metre.max() <= 0.67


@pytest.mark.identity
def test_a_choke_is_a_lead_that_stays_with_the_antenna():
    one = one_part(LEAD, np.nan, np.zeros(BY_ANALYZER + 5 + BY_KIND))
    told = one._replace(kind=np.zeros(len(DEVIATIONS), int), evidence=one.evidence + np.log(2 / 3))
    (parts,) = mix([told, one], 1)
    assert parts.kind.tolist() == 3 * [0] + 3 * [LEAD] + 3 * [CHOKE]
    shares = np.array(
        [ANYWHERE, *BEGINNINGS[:, 2]]
    )  # nothing is seen, so that each kind of antenna is as frequent
    np.testing.assert_allclose(parts.weights[:3], 0.4 * shares)
    np.testing.assert_allclose(parts.weights[3:6], 0.6 * (1 - CHOKES) * shares)
    np.testing.assert_allclose(parts.weights[6:], 0.6 * CHOKES * shares)
    np.testing.assert_array_equal(parts.means[6:, :-1], parts.means[3:6, :-1])
    np.testing.assert_array_equal(parts.factors[6:, :, :-1], parts.factors[3:6, :, :-1])
    assert not parts.means[6:, -1].any()
    assert not parts.factors[6:, :, -1].any()


@pytest.mark.parametrize("hz_times", [1.0, 2.0])
def test_a_metre_on_top_is_found_to_be_about_a_metre_at_higher_frequencies_too(hz_times):
    found = []
    for seed in SEEDS:
        dice = np.random.default_rng([81, seed])
        z_ohm = dice.uniform(35, 80) * (1 + dice.uniform(0, 1) * U + 1j * dice.uniform(8, 15) * U)
        learned = learn([swept(z_ohm, seed, METRE, hz_times=hz_times)], CHAIN, MODEL, reference_ohm=50.0)
        lead = learned.weights * (learned.kind == LEAD)
        found.append(lead @ learned.means[:, -1] / lead.sum())
    assert np.median(found) == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("begins", ["nowhere", "in a short"])
def test_an_antenna_that_begins_elsewhere_is_learned_too(begins):
    z_ohm = {"nowhere": 1 / (1 / (20 + 35j + 300j * U) + 1 / -60j), "in a short": 60 / (1 + 9j * U)}[begins]
    assert learn([swept(z_ohm, 3)], CHAIN, MODEL, reference_ohm=50.0).kinds[0] > 0.4
