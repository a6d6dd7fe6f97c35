"""What a sweep tells of its own line and analyzer: sure where it may be, nearer the truth, silent where it is blind."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sweepkit import read_sweep
from sweepkit.feedline.chain import LineChain, believable_chains, scores_per_chain
from sweepkit.feedline.plane import add_chain, remove_chain
from sweepkit.feedline.untold import TERMS, untold_terms
from sweepkit.instrument import WAVES, Draws, ErrorModel, error_waves
from sweepkit.kit.analyzer import UNTOLD_DIRECTIVITY, rms_of
from sweepkit.lines import parse_piece
from sweepkit.reviews import review
from sweepkit.station import evidence
from sweepkit.station.evidence import (
    BY_ANALYZER,
    BY_KIND,
    WITHOUT_LEAD,
    System,
    lower_inverse,
    qualities_of,
    told_apart,
    weigh,
)
from sweepkit.station.outing import listen_each
from sweepkit.station.posterior import learn, learn_each
from sweepkit.station.windows import HIGHEST_TERM, Curve, find_places
from sweepkit.sweep import Sweep

F_HZ = np.linspace(11.6e6, 17.2e6, 161)
DIP = 73  # near 14.15 MHz
AT_DIP = np.array([DIP])
CHAIN = LineChain([parse_piece("RG-58 18 m")])
MODEL = ErrorModel(noise=0.001)
SIZES = np.array([0.0107, 0.0198, 0.0198])  # rms of 35 to 46 dB and of 30 to 40 dB


def set_up(seed, noise=0.001, chain=CHAIN):
    """An antenna that is no resonator, read through a line and an analyzer of the prior; the curve, and the truth."""
    dice = np.random.default_rng([77, seed])
    u = F_HZ / 14.15e6 - 14.15e6 / F_HZ
    r_ohm, q = dice.uniform(30, 90), dice.uniform(5, 15)
    z_ohm = r_ohm * (
        1 + dice.uniform(0, 2) * u + 1j * q * u + dice.normal(0, 2) * u**2 + 1j * dice.normal(0, 2) * u**3
    )
    antenna = (z_ohm - 50) / (z_ohm + 50)
    scores = dice.standard_normal(scores_per_chain(chain))
    gamma = add_chain(F_HZ, antenna, believable_chains(chain, scores[None]))[0]
    parts = dice.standard_normal((2, 3, WAVES.size)) / np.sqrt(2)
    shares = np.sqrt([1 / 6, 2 / 3, 1 / 6])  # Gauss-Hermite quadrature of three points
    errors = (parts[0] + 1j * parts[1]) * SIZES[:, None] * shares
    directivity, tracking, match = errors @ error_waves(F_HZ)
    read = directivity + (1 + tracking) * gamma / (1 - match * gamma)
    read = read + noise / np.sqrt(2) * (
        dice.standard_normal(F_HZ.size) + 1j * dice.standard_normal(F_HZ.size)
    )
    return Curve(F_HZ, read, np.full(F_HZ.size, noise), np.ones(F_HZ.size)), antenna, scores


def at_feedpoint(curve, learned, n=0, seed=1, index=slice(None)):
    """On some points: the mean and so many draws."""
    errors, chains, untold = learned.draw(np.random.default_rng(seed), n)
    more = (untold, untold_terms(curve.f_hz, learned.chain, reference_ohm=50.0))
    free = Draws(curve.gamma, learned.model, n=n, seed=seed, f_hz=curve.f_hz, errors=errors, more=more)
    drawn = free.at(index) if n else free.nominal[index]
    return remove_chain(F_HZ[index], drawn, chains)


@pytest.fixture(scope="module")
def learned():
    trials = [set_up(seed) for seed in range(40)]
    return [(*trial, learn([trial[0]], CHAIN, MODEL, reference_ohm=50.0)) for trial in trials]


def test_the_feedpoint_comes_out_nearer_than_told(learned):
    told, found = [], []
    for curve, antenna, _, posterior in learned:
        told.append(np.abs(remove_chain(F_HZ, curve.gamma, CHAIN.nominal)[0] - antenna)[DIP])
        found.append(np.abs(at_feedpoint(curve, posterior)[0] - antenna)[DIP])
    assert np.median(found) < 0.5 * np.median(told)
    assert np.quantile(found, 0.9) < 0.7 * np.quantile(told, 0.9)


def test_it_is_as_sure_as_it_may_be(learned):
    off = []
    for _, _, scores, posterior in learned:
        best = int(np.argmax(posterior.weights))
        sigma = np.sqrt((posterior.factors[best] ** 2).sum(axis=0))
        off.append(
            ((posterior.means[best] - np.pad(scores, (BY_ANALYZER, BY_KIND))) / sigma)[BY_ANALYZER:-BY_KIND]
        )
    assert 0.8 < np.sqrt(np.mean(np.square(off))) < 1.2
    assert np.abs(np.mean(off, axis=0)).max() < 0.55, "no score leans to one side"


def test_draws_hold_the_reflection_at_the_dip(learned):
    held = []
    for curve, antenna, _, posterior in learned:
        size = np.abs(at_feedpoint(curve, posterior, n=400, index=AT_DIP)[1:, 0])
        low, high = np.quantile(size, [0.025, 0.975])
        held.append(low <= np.abs(antenna[DIP]) <= high)
    assert np.mean(held) >= 0.85  # 95 % of 40 by chance: 34 or fewer in 1 of 1000


def test_noise_is_not_taken_for_too_much_loss():
    off = []
    for seed in range(12):
        curve, _, scores = set_up(seed, noise=0.006)
        posterior = learn([curve], CHAIN, ErrorModel(noise=0.006), reference_ohm=50.0)
        off.append(posterior.mean[6 * WAVES.size + 2] - scores[2])
    assert abs(np.mean(off)) < 0.9


def test_the_first_draw_is_the_mean_and_the_same_seed_gives_the_same(learned):
    posterior = learned[0][3]
    errors, chains, untold = posterior.draw(np.random.default_rng(3), 5)
    again, *_ = posterior.draw(np.random.default_rng(3), 5)
    assert errors.shape == (3, 6, WAVES.size)
    assert chains.size == 6
    assert untold.shape == (6, TERMS)
    np.testing.assert_array_equal(errors, again)
    assert chains.length_m[0, 0] != 18.0


def test_two_sweeps_of_one_outing_share_line_and_analyzer():
    alone, together = [], []
    for seed in range(6):
        curve, _, _ = set_up(seed)
        halves = [Curve(*(part[start::2] for part in curve)) for start in (0, 1)]
        one = learn(halves[:1], CHAIN, MODEL, reference_ohm=50.0)
        both = learn(halves, CHAIN, MODEL, reference_ohm=50.0)
        alone.append(np.linalg.slogdet(one.covariance)[1])
        together.append(np.linalg.slogdet(both.covariance)[1])
    assert (np.array(together) < np.array(alone)).all()


def test_sweeps_side_by_side_are_learned_as_one_by_one(learned):
    """One that cannot be described, and one with other numbers of points, among them."""
    curves = [curve for curve, *_ in learned[:5]]
    half = Curve(*(part[::2] for part in curves[0]))
    odd = curves[1]._replace(gamma=np.full(F_HZ.size, complex("nan")))
    far = curves[2]._replace(gamma=curves[2].gamma + 0.3 * np.sin(F_HZ / 3e4))
    every = [*curves, half, odd, far]
    together = learn_each(every, CHAIN, MODEL, reference_ohm=50.0)
    alone = [learn([curve], CHAIN, MODEL, reference_ohm=50.0) for curve in every]
    assert [one is None for one in together] == [one is None for one in alone]
    assert together[6] is None
    for one, other in zip(together, alone, strict=True):
        if one is not None:
            np.testing.assert_allclose(one.mean, other.mean, rtol=1e-6, atol=1e-9)
            np.testing.assert_allclose(one.covariance, other.covariance, rtol=1e-6, atol=1e-9)


def test_nothing_is_learned_where_nothing_can_be():
    curve, _, _ = set_up(1)
    few = Curve(*(part[::12] for part in curve))
    assert learn([few], CHAIN, MODEL, reference_ohm=50.0) is None
    flat = curve._replace(gamma=np.full(F_HZ.size, 0.3 + 0.1j))
    assert learn([flat], CHAIN, MODEL, reference_ohm=50.0) is None


@pytest.mark.identity
def test_an_untold_analyzer_is_as_large_where_it_is_learned_as_where_it_is_drawn():
    low, high = UNTOLD_DIRECTIVITY
    sizes, shares = qualities_of(UNTOLD_DIRECTIVITY)
    # Moments of a size even in the logarithm: (high^k - low^k) / (k ln(high / low)).
    for power in (1, 2, 4):
        expected = (high**power - low**power) / (power * np.log(high / low))
        assert shares @ (sizes * rms_of(UNTOLD_DIRECTIVITY)) ** power == pytest.approx(expected, rel=0.01)
    assert qualities_of(0.01) == (np.ones(1), np.ones(1))


@pytest.mark.identity
def test_triangles_are_inverted():
    roots = np.tril(np.random.default_rng(1).normal(size=(3, 7, 7))) + 3 * np.eye(7)
    np.testing.assert_allclose(lower_inverse(roots), np.linalg.inv(roots), atol=1e-12)


def test_the_centre_is_not_pulled_by_a_kind_of_line_that_is_not_the_likeliest(learned):
    posterior = learned[0][3]
    own = posterior.kind == posterior.kinds.argmax()
    np.testing.assert_allclose(
        posterior.centre, np.average(posterior.means[own], axis=0, weights=posterior.weights[own])
    )
    assert np.abs(posterior.centre - posterior.mean).max() > 1e-6


@pytest.mark.parametrize(("shares", "likeliest"), [((0.3, 0.3, 0.4), 0), ((0.2, 0.25, 0.55), 2)])
def test_the_centre_has_a_lead_only_where_that_is_likelier_than_none(learned, shares, likeliest):
    means = np.eye(3)
    parts = replace(learned[0][3], weights=np.array(shares), kind=np.arange(3), means=means)
    np.testing.assert_array_equal(parts.centre, means[likeliest])


def test_a_line_that_cannot_be_is_not_learned():
    for wrong in ("RG-58 36 m", "RG-58 7000 m"):
        chain = LineChain([parse_piece(wrong)])
        curves = [set_up(k)[0] for k in range(4)]
        heard = listen_each(curves, chain, MODEL, reference_ohm=50.0)
        assert not any(outing.learned for outing in heard), wrong


def test_pieces_in_the_wrong_order_are_not_learned():
    right, wrong = (
        LineChain([parse_piece(piece) for piece in pieces])
        for pieces in (("RG-58 9 m", "RG-59 9 m"), ("RG-59 9 m", "RG-58 9 m"))
    )
    curves = [set_up(seed, chain=right)[0] for seed in range(4)]
    assert all(learn([curve], right, MODEL, reference_ohm=50.0) for curve in curves)
    assert not any(outing.learned for outing in listen_each(curves, wrong, MODEL, reference_ohm=50.0))


def held_with(pieces, joint_ohm, seeds=range(20)):
    """Share of set-ups whose reflection at the dip is held where other pieces stand in the line than were told."""
    held = []
    for seed in seeds:
        dice = np.random.default_rng([78, seed])
        curve, antenna, _ = set_up(seed)
        chain = LineChain(pieces)
        drawn = believable_chains(chain, 0.5 * dice.standard_normal((1, scores_per_chain(chain))))
        joints = drawn.joint_ohm + joint_ohm * (np.arange(len(pieces) + 1) == 1)
        gamma = add_chain(F_HZ, antenna, replace(drawn, joint_ohm=joints))[0]
        gamma = gamma + 0.008 * np.exp(2j * np.pi * dice.random())
        noise = 0.001 / np.sqrt(2) * (dice.normal(size=F_HZ.size) + 1j * dice.normal(size=F_HZ.size))
        read = curve._replace(gamma=gamma + noise)
        posterior = learn([read], CHAIN, MODEL, reference_ohm=50.0)
        size = np.abs(at_feedpoint(read, posterior, n=400, index=AT_DIP)[1:, 0])
        low, high = np.quantile(size, [0.025, 0.975])
        held.append(low <= np.abs(antenna[DIP]) <= high)
    return np.mean(held)


def test_one_thing_of_ordinary_size_that_nobody_told_of_is_held():
    """Where a sweep cannot tell, it counts as often as it occurs: 95 % of 20 by chance, 15 or fewer in 3 of 1000."""
    metre = parse_piece("RG-58 1 m")
    line = [parse_piece("RG-58 7 m"), parse_piece("RG-58 11 m")]
    assert held_with(line, 1.5) >= 0.8
    other = replace(metre, z0_ohm=metre.z0_ohm * 1.07)
    assert held_with([line[0], other, parse_piece("RG-58 10 m")], 0.0) >= 0.8
    assert held_with([metre, *line], 0.0) >= 0.8


def test_a_short_piece_of_75_ohm_makes_something_untold_likelier():
    right = LineChain([parse_piece(piece) for piece in ("RG-58 7 m", "RG-59 30 cm", "RG-58 10.7 m")])
    untold = {}
    for chain in (CHAIN, right):
        learned = (learn([set_up(k, chain=chain)[0]], CHAIN, MODEL, reference_ohm=50.0) for k in range(24))
        untold[chain] = np.mean([1 - one.kinds[0] for one in learned if one])
    assert untold[CHAIN] < 0.25 < untold[right]


DICE = np.random.default_rng(1)
ODD = {
    "noise alone": DICE.normal(size=F_HZ.size) + 1j * DICE.normal(size=F_HZ.size),
    "nothing comes back": np.zeros(F_HZ.size, dtype=complex),
    "all comes back": np.ones(F_HZ.size, dtype=complex),
    "far too much comes back": np.full(F_HZ.size, 1e6 + 0j),
    "one point": np.where(np.arange(F_HZ.size) == DIP, 0.0, 0.99) + 0j,
    "no number": np.full(F_HZ.size, complex("nan")),
}


@pytest.mark.parametrize("what", ODD)
def test_an_odd_sweep_is_no_error(what):
    curve = Curve(F_HZ, ODD[what], np.full(F_HZ.size, 0.001), np.ones(F_HZ.size))
    assert learn([curve], CHAIN, MODEL, reference_ohm=50.0) is None


def test_an_analyzer_told_without_errors_and_a_sweep_without_noise_are_no_error():
    curve, _, _ = set_up(1)
    perfect = ErrorModel(directivity=0.0, tracking=0.0, source_match=0.0)
    assert learn([curve], CHAIN, perfect, reference_ohm=50.0).mean[: 6 * WAVES.size].any() == 0
    assert learn([curve._replace(noise=np.zeros(F_HZ.size))], CHAIN, MODEL, reference_ohm=50.0) is not None
    assert learn([curve._replace(trust=np.zeros(F_HZ.size))], CHAIN, MODEL, reference_ohm=50.0) is None


def test_without_draws_the_plane_is_the_one_that_was_told(samples):
    sweep = read_sweep(samples / "meadow_vertical_1.s1p")
    told = remove_chain(sweep.f_hz, sweep.gamma, LineChain([parse_piece("RG-58 12 m")]).nominal)[0]
    without, with_draws = (
        review(sweep, lines=["RG-58 12 m"], bands=(), draws=draws).planes.feedpoint.gamma for draws in (0, 20)
    )
    np.testing.assert_allclose(without, told, rtol=1e-12)
    assert np.abs(with_draws - told).max() > 1e-3


@pytest.mark.parametrize(("apart", "low_hz", "seen"), [(0.3, 5e6, 0), (0.6, 5e6, 2), (0.6, 6e6, 1)])
def test_dips_whose_windows_would_touch_or_leave_the_sweep_tell_nothing_of_the_line(apart, low_hz, seen):
    """What is modelled round a dip is one resonance."""
    f_hz = np.linspace(low_hz, 15e6, 501)
    near = [40 * (f_hz / f0 - f0 / f_hz) for f0 in (7e6, 7e6 * (1 + apart))]
    gamma = np.prod([x / (2 + x) for x in (1j * each for each in near)], axis=0)
    curve = Curve(f_hz, gamma, np.full(f_hz.size, 1e-3), np.ones(f_hz.size))
    assert len(find_places([curve], LineChain(), 50.0)) == seen


def test_the_dips_of_a_wire_on_many_bands_stay_where_they_are_behind_a_told_line(samples):
    """Identity: the sample at its box, put behind the line that is told."""
    at_box = read_sweep(samples / "crag_end_fed.s1p")
    chain = LineChain((parse_piece("RG-58 6 m"),))
    gamma = add_chain(at_box.f_hz, at_box.gamma, chain.nominal, reference_ohm=50.0)[0]
    there = review(at_box, bands=(), measured_at="feedpoint", draws=0).feedpoint.dips
    told = {"bands": (), "lines": ("RG-58 6 m",), "draws": 200}
    behind = review(Sweep.from_gamma(at_box.f_hz, gamma), **told).feedpoint.dips
    for dip in there:
        seen = min(behind, key=lambda each: abs(each.f_hz.value - dip.f_hz.value))
        assert seen.f_hz.low < dip.f_hz.value < seen.f_hz.high


THREE = LineChain([parse_piece("RG-58 6 m"), parse_piece("RG-59 3 m"), parse_piece("RG-58 9 m")])


def test_what_a_sweep_cannot_tell_apart_of_the_pieces_is_kept_as_it_was_told(monkeypatch):
    curve, _, _ = set_up(3, chain=THREE)
    merged = learn([curve], THREE, MODEL, reference_ohm=50.0)
    monkeypatch.setattr(evidence, "FEW_SCORES", 100)
    every = learn([curve], THREE, MODEL, reference_ohm=50.0)
    assert scores_per_chain(THREE) > 12
    sigma = np.sqrt(np.diag(every.covariance))
    assert np.abs(merged.mean - every.mean).max() < 0.02
    np.testing.assert_allclose(np.sqrt(np.diag(merged.covariance)), sigma, rtol=2e-3)
    np.testing.assert_allclose(merged.covariance, every.covariance, atol=5e-3)
    assert merged.strain == pytest.approx(every.strain, abs=0.02)
    assert merged.evidence[0.25] == pytest.approx(every.evidence[0.25], abs=0.01)
    np.testing.assert_allclose(merged.kinds, every.kinds, atol=1e-3)


@pytest.mark.identity
def test_factors_of_directions_and_of_what_was_left_out_make_one_covariance():
    dice = np.random.default_rng(5)
    rows = dice.standard_normal((40, BY_ANALYZER + 20 + BY_KIND))
    chain = slice(BY_ANALYZER, -BY_KIND)
    seen = np.linalg.qr(dice.standard_normal((20, 4)))[0]
    rows[:, chain] = rows[:, chain] @ seen @ seen.T  # tells something of four directions
    normal = rows.T @ rows
    terms = np.tile(np.eye(2 * (HIGHEST_TERM + 1)), (1, 1, 1, 1))
    system = System(
        normal[None],
        (rows.T @ dice.standard_normal(40))[None],
        terms,
        np.zeros((1, 1, terms.shape[-1], len(normal))),
        np.zeros((1, 1, terms.shape[-1])),
        np.ones(1) * 100,
        np.ones(1),
    )
    less, turn = told_apart(system)
    assert less.scores.shape[-1] == len(normal) - 16
    first = np.zeros(1, dtype=int)
    factor = weigh(less, turn, WITHOUT_LEAD, np.ones(1), np.ones(1)).factors(first, first)[0]
    prior = np.ones(len(normal))
    prior[-BY_KIND:] = WITHOUT_LEAD.precision[0, 0]  # a line as told holds nothing else
    np.testing.assert_allclose(factor.T @ factor, np.linalg.inv(normal + np.diag(prior)), atol=1e-9)
