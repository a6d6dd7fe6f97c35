"""The ladder: alike setups stay on their rung at the stated rate, planted shifts are found, words claim no more."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import stdtrit

from sweepkit.antennas.rungs import LIMIT_SDS, ROUGH_LIMIT_SDS, RUNGS, trade_limit, trade_sd
from sweepkit.comparison import compare_setups
from sweepkit.comparison.differences import MOST_PAIRED, OTHERS, in_words, pair_verdict
from sweepkit.comparison.setups import FOLLOWING, JUDGED
from sweepkit.comparison.spread import TRADE_FREEDOM, TRADE_WEIGHT, Reerections, find_usual
from tests.comparison.made import TRUE_SD, drawn, erections, rng, setup, summary

TRIALS = 400


def verdict(comparison, pair=0):
    return pair_verdict(list(comparison.pairs.values())[pair])


def dip(comparison):
    return next(one for one in comparison.differences if one.quantity == "dip_hz")


def shifted(share, **more):
    return setup("b", {"dip_hz": 7.1e6 * (1 + share)}, **more)


@pytest.mark.parametrize("earlier", [0, 3, 8])
def test_alike_setups_are_beyond_their_rung_in_one_of_twenty(earlier):
    """Of one figure, with hardly any error of measurement, whose interval would make it rarer."""
    from scipy.stats import binom

    dice = rng(earlier)
    wrong = 0
    for _ in range(TRIALS):
        pair = erections(dice, 2, "new")
        wrong += dip(compare_setups(pair, background=erections(dice, earlier, "old"))).verdict == "different"
    assert binom.ppf(1e-4, TRIALS, 0.05) <= wrong <= binom.ppf(1 - 1e-4, TRIALS, 0.065)


def test_r_adds_two_in_a_hundred_to_the_alike_pairs_that_are_called_different():
    """With hardly any error of measurement: dip 5 in 100, R 2.1 in 100, in setups of the trade's spread."""
    from scipy.stats import binom

    dice, wrong = rng(11), {"dip_hz": 0, "r_ohm": 0}
    for _ in range(TRIALS):
        found = compare_setups(erections(dice, 2)).differences
        for one in found[:2]:
            wrong[one.quantity] += one.verdict == "different"
    assert binom.ppf(1e-4, TRIALS, 0.05) <= wrong["dip_hz"] <= binom.ppf(1 - 1e-4, TRIALS, 0.05)
    assert 1 <= wrong["r_ohm"] <= binom.ppf(1 - 1e-4, TRIALS, 0.0211)


def test_sites_that_differ_as_sites_do_are_no_ghosts():
    from scipy.stats import binom

    dice = rng(5)
    wrong = 0
    for _ in range(TRIALS):
        shift = {"dip_hz": math.sqrt(0.013**2 - 0.004**2) * dice.standard_normal() * np.sqrt(2)}
        a, b = setup("a", drawn(dice)), setup("b", drawn(dice, shift), facts={"site": "valley"})
        wrong += dip(compare_setups([a, b])).verdict == "different"
    assert wrong <= binom.ppf(1 - 1e-4, TRIALS, 0.05)


@pytest.mark.parametrize(
    ("told", "share", "word"),
    [
        ("swept-again", 0.005, "different"),
        ("swept-again", 0.0, "same"),
        ("joined-anew", 0.005, "different"),
        ("joined-anew", 0.001, "same"),
        ("put-up-again", 0.02, "different"),
        ("put-up-again", 0.005, "same"),
        ("another-site", 0.02, "within"),
        ("another-site", 0.05, "different"),
        (None, 0.001, "within"),
        (None, 0.03, "cannot_say"),
    ],
)
def test_a_word_claims_no_more_than_what_was_told(told, share, word):
    unknown = {"site": None}
    pair = [setup("a", facts=unknown, told=False), shifted(share, facts=unknown, told=False)]
    found = dip(compare_setups(pair, told=told))
    assert found.verdict == word
    assert [scale.what for scale in found.scales] == list(RUNGS)
    for scale in found.scales:
        assert scale.beyond == (found.difference.low > scale.limit)
    assert ("nobody told" in found.why) == (word == "cannot_say")
    assert ("would hide" in found.why) == (word == "within" and told is not None)


def test_same_needs_an_interval_that_is_narrow_enough():
    wide = {"width": 0.2}
    found = dip(compare_setups([setup("a", **wide), setup("b", **wide)]))
    assert found.verdict == "within"
    assert "would hide" in found.why


def test_one_calibration_narrows_a_difference():
    plain = compare_setups([setup("a", width=1e-3), setup("b", width=1e-3)])
    shared = {"calibrated": "home, Friday"}
    told = compare_setups([setup("a", width=1e-3, facts=shared), setup("b", width=1e-3, facts=shared)])
    other = compare_setups([setup("a", width=1e-3, facts=shared), setup("b", width=1e-3)])
    widths = [dip(one).difference.high for one in (plain, told, other)]
    assert widths[1] < widths[0] == widths[2]


def test_one_line_that_nobody_took_apart_narrows_a_difference():
    at_feedpoint = summary({}, width=1e-3)
    through = replace(at_feedpoint, planes={"radio": at_feedpoint.planes["feedpoint"], **at_feedpoint.planes})

    def high(sweep, told, line=("RG-58 15 m",)):
        a, b = setup("a", sweeps=(sweep,)), setup("b", sweeps=(sweep,), facts={"line": line})
        return dip(compare_setups([a, b], told=told)).difference.high

    assert high(through, "swept-again") == pytest.approx(high(at_feedpoint, "swept-again") * math.sqrt(0.5))
    assert high(through, "joined-anew") == high(at_feedpoint, "joined-anew")
    assert high(through, "swept-again", line=("RG-58 12 m",)) == high(at_feedpoint, "swept-again")


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({}, "put-up-again"),
        ({"site": "valley"}, "another-site"),
        ({"site": "valley", "ground": "wet"}, "other-ground"),
        ({"feed_height_m": 4.0}, "other-ground"),
        ({"site": None}, None),
    ],
)
def test_what_lies_between_is_read_off_the_facts(facts, told):
    ground = {"ground": "dry", "feed_height_m": 7.0}
    found = compare_setups([setup("a", facts=ground), setup("b", facts=ground | facts)])
    assert dip(found).told == told


@pytest.mark.identity
def test_the_ladder_of_the_trade():
    """A wire at 7.1 MHz: 1.4, 14 and 79 kHz, of differences with sigma 0.01 %, 0.1 % and sqrt(2) 0.4 %."""
    sizes = [7.1e6 * trade_limit("dip_hz", "wire", rung) for rung in RUNGS[:3]]
    assert sizes == pytest.approx([1.39e3, 13.9e3, 78.7e3], rel=0.005)
    assert trade_limit("dip_hz", "whip", "put-up-again") == pytest.approx(
        ROUGH_LIMIT_SDS * 0.015 * math.sqrt(2)
    )
    assert trade_limit("dip_hz", "whip", "joined-anew") == trade_limit("dip_hz", "wire", "joined-anew")
    assert pytest.approx(stdtrit(TRADE_FREEDOM, 0.975)) == ROUGH_LIMIT_SDS
    for body in ("wire", "whip", "end-fed"):
        for name in JUDGED:
            sds = [trade_sd(name, body, rung) for rung in RUNGS]
            assert sds == sorted(sds)


@pytest.mark.identity
def test_own_setups_enter_without_a_step():
    """The variance is (w v0 + n v) / (w + n), from none to many; what sites add likewise."""
    dice = rng(3)
    setups = erections(dice, 40)
    values = list(np.log([one.sweeps[0].planes["feedpoint"][0].dip_hz.value for one in setups]))
    for n in (0, 1, 2, 3, 10, 40):
        usual = find_usual("dip_hz", Reerections(setups[:n], values[:n]), "wire")
        squares = float(np.var(values[:n]) * n) if n else 0.0
        own = max(n - 1, 0)
        expected = (TRADE_WEIGHT * 0.004**2 + squares) / (TRADE_WEIGHT + own)
        assert usual.setup.sd == pytest.approx(math.sqrt(expected), rel=1e-9)
        assert usual.setup.freedom == TRADE_FREEDOM + own


def test_the_own_spread_is_that_of_another_library():
    """Unbalanced sites: pooled inside sites, as the mixed model of statsmodels has it where sites matter."""
    statsmodels = pytest.importorskip("statsmodels.regression.mixed_linear_model")
    dice = rng(11)
    setups, values, sites = [], [], []
    for k, n in enumerate((4, 7, 2, 5, 9, 3, 6)):
        middle = 0.05 * dice.standard_normal()
        for m in range(n):
            setups.append(setup(f"{k}-{m}", facts={"site": f"site {k}"}))
            values.append(middle + 0.004 * dice.standard_normal())
            sites.append(k)
    usual = Reerections(setups, values)
    squares, freedom = usual.setup_squares()
    model = statsmodels.MixedLM(1e3 * np.array(values), np.ones((len(values), 1)), groups=sites).fit(
        reml=True
    )
    assert squares / freedom == pytest.approx(float(model.scale) * 1e-6, rel=0.01)
    site_squares, site_freedom = usual.site_squares(math.sqrt(squares / freedom))
    # Moments of unweighted means against REML: two estimates of one variance, near each other where sites dominate.
    assert site_squares / site_freedom == pytest.approx(float(model.cov_re[0, 0]) * 1e-6, rel=0.01)


@pytest.mark.identity
def test_what_is_judged_is_no_part_of_what_it_is_judged_by():
    dice = rng(8)
    setups = [
        *erections(dice, 4, "a"),
        *erections(dice, 3, "b", facts={"site": "valley"}),
        *erections(dice, 2, "c", facts={"length_m": 9.8}),
    ]
    values = list(dice.normal(0, 1, len(setups)))
    found, own = Reerections(setups, values).setup_squares(without=["a1", "b2", "c0"])
    left = {"a": [0, 2, 3], "b": [4, 5], "c": [8]}
    squares = sum(np.var(np.take(values, own)) * len(own) for own in left.values())
    freedom = sum(len(own) - 1 for own in left.values())
    assert own == freedom
    assert found == pytest.approx(squares, rel=1e-9)


@pytest.mark.identity
def test_each_of_many_is_held_against_the_mean_of_all_others():
    dice = rng(9)
    setups = erections(dice, MOST_PAIRED + 3)
    comparison = compare_setups(setups)
    assert len(comparison.pairs) == len(setups)
    logs = np.log([one.sweeps[0].planes["feedpoint"][0].dip_hz.value for one in setups])
    dips = np.exp(logs)
    for k, difference in enumerate(d for d in comparison.differences if d.quantity == "dip_hz"):
        assert (difference.a, difference.b) == (setups[k].id, OTHERS)
        others = np.exp(np.delete(logs, k).mean())
        assert difference.difference.value == pytest.approx(others - dips[k], rel=1e-9, abs=1e-3)


@pytest.mark.identity
def test_the_interval_of_a_difference_is_that_of_both_sides():
    """Zou and Donner 2008, eq. 3: with equal widths w it is the difference, sqrt(2) w to both sides."""
    a, b = setup("a", {"r_ohm": 50.0}, width=0.02), setup("b", {"r_ohm": 50.0}, width=0.02)
    found = next(d for d in compare_setups([a, b]).differences if d.quantity == "r_ohm").difference
    assert found.value == 0
    assert found.high == pytest.approx(np.sqrt(2), rel=1e-9)
    assert found.low == pytest.approx(-np.sqrt(2), rel=1e-9)


def test_like_is_compared_with_like():
    """Two antennas at two sites: the second site is 1 % lower for both; one antenna was up there more often."""
    dice = rng(2)
    whip = {"antenna": "spit-whip", "kind": "loaded-whip"}
    lower = {"dip_hz": -0.01}
    setups = [
        *erections(dice, 4, "a"),
        *erections(dice, 4, "b", facts=whip, shift={"dip_hz": 0.3}, span=(6e6, 12e6)),
        *erections(dice, 1, "c", facts={"site": "valley"}, shift=lower),
        *erections(dice, 7, "d", facts=whip | {"site": "valley"}, shift={"dip_hz": 0.29}, span=(6e6, 12e6)),
    ]
    found = compare_setups(setups, by="site").differences[0]
    assert (found.a, found.b) == ("ridge", "valley")
    assert found.difference.value == pytest.approx(-0.01 * 7.1e6 * (1 + np.exp(0.3)) / 2, rel=0.4)
    unpaired = np.exp(0.3) * 7.1e6 - 7.1e6
    assert abs(found.difference.value) < 0.1 * unpaired


def test_a_site_is_judged_by_how_often_it_was_tried():
    dice = rng(6)
    shift = {"dip_hz": -0.012}
    once = [*erections(dice, 1, "a"), *erections(dice, 1, "b", shift=shift, facts={"site": "valley"})]
    often = [*erections(dice, 6, "a"), *erections(dice, 6, "b", shift=shift, facts={"site": "valley"})]
    assert dip(compare_setups(once, by="site")).verdict == "within"
    assert dip(compare_setups(often, by="site")).verdict == "different"


@pytest.mark.parametrize("tries", [(1, 1), (2, 3), (6, 4)])
def test_the_difference_of_two_sites_holds_the_true_one_and_so_do_their_means(tries):
    from scipy.stats import binom

    dice = rng(20 + tries[0])
    held, means, trials = 0, 0, 200
    for _ in range(trials):
        true = 0.013 * dice.standard_normal()
        setups = [
            *erections(dice, tries[0], "a"),
            *erections(dice, tries[1], "b", shift={"dip_hz": true}, facts={"site": "valley"}),
        ]
        found = compare_setups(setups, by="site")
        one = dip(found).difference
        held += one.low <= 7.1e6 * math.expm1(true) <= one.high
        mean = found.groups[1].figures["dip_hz"]
        means += mean.low <= 7.1e6 * math.exp(true) <= mean.high
    assert held >= binom.ppf(1e-3, trials, 0.95)
    assert means >= binom.ppf(1e-3, trials, 0.95)


@pytest.mark.parametrize("by", ["site", "setup", "antenna", "radials", "line", "ground", "month"])
def test_groups_have_a_line_each_and_single_setups_none(by):
    dice = rng(12)
    facts = {"ground": "dry", "radials": 4, "when": "2026-05-20T10:00+02:00"}
    setups = [*erections(dice, 2, "a", facts=facts), *erections(dice, 3, "b", facts=facts)]
    answer = compare_setups(setups, by=by).to_json()
    assert [group["n"] for group in answer["groups"]] == ([] if by == "setup" else [5])
    for group in answer["groups"]:
        assert group["dip_hz"]["low"] < group["dip_hz"]["value"] < group["dip_hz"]["high"]
        assert group["ends"]["dip_hz"]["lowest"]["value"] < group["ends"]["dip_hz"]["highest"]["value"]


def test_figures_that_follow_are_shown_and_not_judged():
    dice = rng(1)
    comparison = compare_setups(erections(dice, 3))
    names = (*JUDGED, *FOLLOWING)
    assert [d.quantity for d in comparison.differences] == [q for q in names for _ in range(3)]
    for one in comparison.differences:
        assert (one.verdict is None) == (one.quantity in FOLLOWING)
        assert one.difference.value is not None
    assert set(TRUE_SD) == set(names)


def steps(name, word, shares):
    """A setup with a sweep for each share, of which the log tells what was done before."""
    sweeps = tuple(summary({"dip_hz": 7.1e6 * (1 + share)}) for share in shares)
    return replace(setup(name, sweeps=sweeps), steps=(None, *[word] * (len(shares) - 1)))


def test_sweeping_again_and_joining_anew_are_learned_from_what_the_log_tells():
    """One variance of 6 (the trade's) and n (own) degrees of freedom; the other rung stays as it is."""
    swings = [0.0, 0.0006, -0.0002, 0.0004, 0.0, 0.0005, -0.0003]
    pair = [setup("a"), setup("b")]
    limits = {}
    for word in ("kept", "rejoined", None):
        found = dip(compare_setups(pair, background=[steps("old", word, swings)]))
        limits[word] = {scale.what: scale.limit / 7.1e6 for scale in found.scales}
    logs = np.log1p(swings)
    own = float(np.sum(np.diff(logs) ** 2) / 2)
    for word, rung in (("kept", "swept-again"), ("rejoined", "joined-anew")):
        trade = trade_sd("dip_hz", "wire", rung)
        sd = math.sqrt((TRADE_WEIGHT * trade**2 + own) / (TRADE_WEIGHT + 6))
        assert limits[word][rung] == pytest.approx(LIMIT_SDS * sd * math.sqrt(2), rel=2e-3)
    assert limits["kept"]["joined-anew"] == limits[None]["joined-anew"]
    assert limits[None]["swept-again"] == pytest.approx(
        trade_limit("dip_hz", "wire", "swept-again"), rel=1e-3
    )


@pytest.mark.parametrize(
    ("size_hz", "words"), [(14.24e3, "14.2 kHz"), (999.6e3, "1000 kHz"), (1.89e6, "1890 kHz")]
)
def test_a_size_is_said_without_powers_of_ten(size_hz, words):
    assert in_words("dip_hz", size_hz) == words
