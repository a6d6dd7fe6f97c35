"""What lies between two setups, by a word of the logbook or beside the files; which antenna serves which band."""

from __future__ import annotations

import csv
import io
import math

import pytest
from scipy.special import betaincinv

from sweepkit.comparison import compare_setups
from sweepkit.comparison.serving import chance_of_next, describe_serving
from sweepkit.figures import Figure
from sweepkit.report.compare_page import compare_page
from sweepkit.report.page_text import page_text
from sweepkit.report.tables import compare_csv
from tests.comparison.made import erections, rng, setup, summary

UNKNOWN = {"site": None}


def dip(comparison):
    return next(one for one in comparison.differences if one.quantity == "dip_hz")


def words_of(comparison):
    return " ".join(page_text(compare_page(comparison, pictures=False), explain=True).split())


def since(name, word, share=0.0, facts=None):
    made = setup(name, {"dip_hz": 7.1e6 * (1 + share)}, facts=facts or UNKNOWN)
    return type(made)(made.id, made.facts, made.sweeps, since=word)


@pytest.mark.parametrize(
    ("word", "rung"),
    [("kept", "swept-again"), ("rejoined", "joined-anew"), ("put-up-again", "put-up-again"), (None, None)],
)
def test_a_word_of_the_field_since_tells_the_rung(word, rung):
    assert dip(compare_setups([since("a", None), since("b", word)])).told == rung


def test_since_goes_before_the_site_and_is_of_the_later_one():
    ridge = {"site": "ridge"}
    assert dip(compare_setups([since("a", None), since("b", "kept", facts=ridge)])).told == "swept-again"
    both = [since("a", "put-up-again", facts=ridge), since("b", "rejoined", facts=ridge)]
    assert dip(compare_setups(both)).told == "joined-anew"


def test_since_finds_what_the_site_alone_would_hide():
    kept = dip(compare_setups([since("a", None), since("b", "kept", -0.005)]))
    again = dip(compare_setups([since("a", None), since("b", "put-up-again", -0.005)]))
    assert (kept.verdict, again.verdict) == ("different", "same")


def test_an_option_goes_before_since():
    found = compare_setups([since("a", None), since("b", "kept")], told="put-up-again")
    assert dip(found).told == "put-up-again"


def test_r_is_different_beyond_a_limit_that_holds_the_doubt_of_its_spread():
    """Student's t of 8 degrees of freedom, 2.306, times sqrt(2) 8 %: 26.1 % of a logarithm, 29.8 %."""
    words = {}
    for share in (0.15, 0.28, 0.31):
        pair = [setup("a"), setup("b", {"r_ohm": 62.0 * (1 + share)})]
        found = next(one for one in compare_setups(pair).differences if one.quantity == "r_ohm")
        scale = next(scale for scale in found.scales if scale.what == "put-up-again")
        words[share] = scale.beyond, found.verdict
        assert scale.limit == pytest.approx(62.0 * math.expm1(2.306 * math.sqrt(2) * 0.08), rel=1e-3)
    assert words == {0.15: (False, "same"), 0.28: (False, "within"), 0.31: (True, "different")}


def test_a_table_of_groups_has_a_row_for_each():
    dice = rng(3)
    setups = [
        *erections(dice, 4, "r", facts={"site": "=ridge"}),
        *erections(dice, 3, "v", facts={"site": "valley"}),
    ]
    found = compare_setups(setups, by="site")
    rows = list(csv.DictReader(io.StringIO(compare_csv(found))))
    assert [(row["group"], row["n"], row["sites"]) for row in rows] == [
        ("'=ridge", "4", "1"),
        ("valley", "3", "1"),
    ]
    for row, group in zip(rows, found.groups, strict=True):
        for end, value in (("", "value"), ("_low", "low"), ("_high", "high")):
            assert float(row[f"dip_hz{end}"]) == pytest.approx(getattr(group.figures["dip_hz"], value))
        assert float(row["r_ohm_low"]) < float(row["r_ohm"]) < float(row["r_ohm_high"])


def test_no_interval_of_a_group_reaches_what_cannot_be():
    pair = [
        setup(site, {"dip_swr": 1.05, "r_ohm": 50.0}, facts={"site": site}) for site in ("ridge", "valley")
    ]
    for group in compare_setups(pair, by="site").groups:
        swr, r_ohm = group.figures["dip_swr"], group.figures["r_ohm"]
        assert swr.low == 1.0
        assert swr.high > swr.value == pytest.approx(1.05)
        assert r_ohm.low > 0


def test_a_page_says_each_difference_once():
    found = compare_setups([setup("a"), setup("b", {"dip_hz": 7.4e6})])
    text = words_of(found)
    assert text.count("MOVED 300 kHz up") == 1
    assert text.count("R: moved") == 1


def test_the_picture_of_a_season_has_the_mean_of_each_month():
    dice = rng(4)
    months = [
        one
        for month in (4, 5, 6)
        for one in erections(dice, 3, f"m{month}-", facts={"when": f"2026-0{month}-10T10:00+02:00"})
    ]
    found = compare_setups(months, by="month")
    picture = compare_page(found).pictures[0]
    assert "2026-04" in picture.svg
    assert "bars: means, 95 %" in picture.svg
    assert [group.name for group in found.groups] == ["2026-04", "2026-05", "2026-06"]


@pytest.mark.identity
@pytest.mark.parametrize(("served", "n"), [(0, 4), (1, 1), (3, 4), (10, 10)])
def test_the_chance_is_that_of_jeffreys(served, n):
    found = chance_of_next(served, n)
    assert found.value == pytest.approx((served + 0.5) / (n + 1))
    low, high = betaincinv(served + 0.5, n - served + 0.5, [0.025, 0.975])
    assert found.low == pytest.approx(0.0 if served == 0 else low)
    assert found.high == pytest.approx(1.0 if served == n else high)


def test_which_band_is_served_how_surely():
    def of(name, swr, **facts):
        return setup(name, {"dip_swr": swr}, facts={"antenna": "whip", "ground": "wet", **facts})

    setups = [of(f"w{k}", 1.4) for k in range(6)]
    setups += [of(f"d{k}", 2.6 if k % 2 else 1.6, ground="dry", setup_minutes=10 + k) for k in range(4)]
    setups += [of(f"l{k}", 4.0, antenna="long", ground=None) for k in range(6)]
    found = {(one.antenna, one.ground): one for one in describe_serving(setups, direct_swr=2.0)}
    assert [(one.n, one.served, one.verdict) for one in found.values()] == [
        (6, 6, "yes"),
        (4, 2, "cannot_say"),
        (6, 0, "no"),
    ]
    assert found["whip", "dry"].setup_minutes.value == 11.5
    assert found["whip", "wet"].setup_minutes.value is None
    assert found["long", None].bandwidth_hz.value == 420e3


def test_a_band_hardly_swept_is_not_said_to_be_unserved():
    little = summary({"dip_swr": 3.0})
    band = little.bands["40 m"]
    little = type(little)(
        **{**vars(little), "bands": {"40 m": type(band)(0.2, band.best_hz, band.best_swr, band.line_loss_db)}}
    )
    assert describe_serving([setup("a", sweeps=(little,))], direct_swr=2.0) == ()


def test_serving_is_answered_where_antennas_are_compared():
    setups = [setup("a"), setup("b", facts={"antenna": "other"})]
    assert [one.antenna for one in compare_setups(setups, by="antenna").serving] == ["ridge-dipole", "other"]
    assert compare_setups(setups, by="site").serving == ()
    text = words_of(compare_setups(setups, by="antenna"))
    assert (
        "40 m: ridge-dipole needed no tuner 1 of 1 times (next time 0.75, 0.15 to 1.00): cannot say yet"
        in text
    )


def no_dip(name, *, points=201, span=(6.6e6, 7.6e6), facts=None):
    """A setup whose sweep shows no dip at all."""
    full = summary({}, points=points, span=span)
    return setup(name, sweeps=(type(full)(**{**vars(full), "planes": {"feedpoint": ()}}),), facts=facts)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("told", "more", "verdict"),
    [
        ("put-up-again", {}, "different"),
        ("other-ground", {"span": (6.9e6, 7.3e6)}, "cannot_say"),
        (None, {"facts": UNKNOWN}, "cannot_say"),
        ("put-up-again", {"points": 6}, "cannot_say"),
        ("put-up-again", {"span": (7.2e6, 7.6e6)}, "cannot_say"),
    ],
)
def test_a_dip_that_left_the_sweep_went_at_least_to_its_nearer_end(turned, told, more, verdict):
    pair = [setup("a", facts=more.get("facts")), no_dip("b", **more)]
    found = dip(compare_setups(pair[::-1] if turned else pair, told=told))
    assert found.verdict == verdict
    assert found.difference.value is None
    if verdict == "different":
        assert found.why.startswith(
            "b has no dip near 7.100 MHz, nor anywhere in its sweep: it went more than 500 kHz"
        )
        assert "more than another ground or height explains" in found.why
        assert [scale.beyond for scale in found.scales] == [True] * 5
        text = words_of(compare_setups(pair, told=told))
        assert text.startswith("DIFFERENT: a and b dip: b has no dip near 7.100 MHz")
        assert "what practice says of a wire." in text


def test_a_band_that_nothing_serves_or_dips_at_is_left_out():
    swept = summary({"dip_swr": 1.4})
    band = swept.bands["40 m"]
    far = type(band)(1.0, Figure(10.1e6), Figure(40.0), band.line_loss_db)
    swept = type(swept)(**{**vars(swept), "bands": {"40 m": band, "30 m": far}})
    assert [one.band for one in describe_serving([setup("a", sweeps=(swept,))], direct_swr=2.0)] == ["40 m"]
