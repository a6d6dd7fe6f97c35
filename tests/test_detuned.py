"""Where an antenna's circle begins tells a lead from none, and a choke is not taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.conversions import gamma_from_z
from sweepkit.feedline.chain import LineChain, believable_chains, scores_per_chain
from sweepkit.feedline.plane import add_chain
from sweepkit.lines import parse_piece
from sweepkit.station.detuned import ANYWHERE, BEGINNINGS, Beginning, Mixture, weigh_beginning
from sweepkit.station.evidence import CHOKE, LEAD
from sweepkit.station.posterior import learn
from sweepkit.station.windows import Curve
from tests.test_posterior import CHAIN, F_HZ, MODEL

U = F_HZ / 14.15e6 - 14.15e6 / F_HZ

METRE = parse_piece("RG-58 1 m")
SEEDS = range(12)


def swept(z_ohm, seed, *more):
    """A sweep of an antenna through the told line, a little off, and pieces that nobody told of."""
    dice = np.random.default_rng([79, seed])
    line = LineChain([*CHAIN.pieces, *more])
    drawn = believable_chains(line, 0.7 * dice.standard_normal((1, scores_per_chain(line))))
    gamma = add_chain(F_HZ, gamma_from_z(z_ohm, 50.0), drawn)[0] + 0.01 * np.exp(2j * np.pi * dice.random())
    noise = 0.001 / np.sqrt(2) * (dice.normal(size=F_HZ.size) + 1j * dice.normal(size=F_HZ.size))
    return Curve(F_HZ, gamma + noise, np.full(F_HZ.size, 0.001), np.ones(F_HZ.size))


def lead_seen(*more):
    """How likely a lead looks in front of series resonators whose resistance rises."""
    seen = []
    for seed in SEEDS:
        dice = np.random.default_rng([80, seed])
        z_ohm = dice.uniform(30, 90) * (1 + dice.uniform(0, 2) * U + 1j * dice.uniform(5, 15) * U)
        seen.append(learn([swept(z_ohm, seed, *more)], CHAIN, MODEL, reference_ohm=50.0).kinds[LEAD])
    return np.array(seen)


@pytest.mark.identity
def test_a_beginning_that_is_seen_moves_a_normal_distribution_as_bayes_says():
    dice = np.random.default_rng(5)
    root, mean, slope = (
        np.tril(dice.normal(size=(4, 4))) / 4,
        dice.normal(size=4) / 4,
        dice.normal(size=4) / 4,
    )
    seen = Beginning(np.float64(0.1), slope, np.zeros(4), np.float64(2.0))
    mixture = Mixture(np.ones(1), mean[None], root[None], np.zeros(1, int))
    found = weigh_beginning(mixture, np.array([0.05]), seen, least_share=0.0)
    covariance = root.T @ root
    where, beside, share = BEGINNINGS[0]
    variance = beside**2 + (2.0 * 0.05) ** 2
    total = slope @ covariance @ slope + variance
    off = where - 0.1 - slope @ mean
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
    means, unseen = (
        np.arange(6.0).reshape(2, 3),
        Beginning(np.float64("nan"), *np.zeros((2, 3)), np.float64(1.0)),
    )
    mixture = Mixture(np.array([0.4, 0.6]), means, np.tile(np.eye(3), (2, 1, 1)), np.array([0, LEAD]))
    parts = weigh_beginning(mixture, np.zeros(2), unseen, least_share=0.0)
    np.testing.assert_allclose(parts.weights, [0.4, 0.4, 0.2])
    np.testing.assert_array_equal(parts.kind, [0, LEAD, CHOKE])
    np.testing.assert_array_equal(parts.means, [*means, [3, 4, 0]])
    np.testing.assert_array_equal(parts.factors[2], np.diag([1, 1, 0]))


@pytest.mark.parametrize("begins", ["nowhere", "in a short"])
def test_an_antenna_that_begins_elsewhere_is_learned_too(begins):
    z_ohm = {"nowhere": 1 / (1 / (20 + 35j + 300j * U) + 1 / -60j), "in a short": 60 / (1 + 9j * U)}[begins]
    assert learn([swept(z_ohm, 3)], CHAIN, MODEL, reference_ohm=50.0).kinds[0] > 0.4
