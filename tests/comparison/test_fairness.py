"""Fairness: what else is different is named, and bars what would mean nothing."""

from __future__ import annotations

import json

import pytest

import sweepkit
from sweepkit.comparison import compare_setups
from sweepkit.errors import BadInput
from tests.comparison.made import erections, rng, setup, summary

WHIP = {"antenna": "spit-whip", "kind": "loaded-whip"}


def codes(comparison):
    return [unfair["code"] for unfair in comparison.to_json()["fairness"]]


@pytest.mark.parametrize(
    ("other", "by", "code"),
    [
        ({"facts": {"line": ("RG-174 10 m",)}}, "setup", "different-line"),
        ({"facts": {"line": None}}, "setup", "different-line"),
        ({"points": 41}, "setup", "different-settings"),
        ({"adequate": False}, "setup", "poor-sweep"),
        ({"facts": {"length_m": 9.9}}, "setup", "different-length"),
        ({"facts": {"ground": "wet"}}, "setup", "different-ground"),
        ({"facts": {"weather": ("rain",)}}, "setup", "different-weather"),
        ({"facts": {"when": "2026-11-20T10:00+01:00"}}, "setup", "different-season"),
        ({"facts": {"radials": 3}}, "setup", "different-radials"),
        ({"span": (13e6, 15e6), "values": {"dip_hz": 14.1e6}}, "setup", "no-overlap"),
        ({"plane": "unknown"}, "setup", "different-plane"),
        ({"facts": {"site": "valley"}}, "site", "too-few-setups"),
        ({"facts": {"site": "valley"}}, "site", "missing-control"),
        ({"facts": {"antenna": "spit-whip", "when": "2026-05-21T10:00+02:00"}}, "antenna", "missing-control"),
        ({"facts": {"site": None}}, "site", "unknown-site"),
        ({}, "site", "one-side"),
    ],
)
def test_what_else_is_different_is_named(other, by, code):
    facts = {
        "length_m": 10.2,
        "ground": "average",
        "weather": ("dry",),
        "radials": 4,
        "when": "2026-05-20T10:00+02:00",
    }
    one = setup("a", facts=facts)
    arguments = dict(other)
    two = setup("b", arguments.pop("values", None), facts=facts | arguments.pop("facts", {}), **arguments)
    assert code in codes(compare_setups([one, two], by=by))


def test_nothing_is_named_where_all_is_alike():
    dice = rng(4)
    facts = {"length_m": 10.2, "ground": "average", "weather": ("dry",), "when": "2026-05-20T10:00+02:00"}
    assert codes(compare_setups(erections(dice, 3, facts=facts))) == []


def test_planes_that_differ_leave_only_the_dip():
    comparison = compare_setups([setup("a"), setup("b", plane="radio")])
    told = {d.quantity: d.verdict for d in comparison.differences if d.verdict is not None}
    assert told == {"dip_hz": "same", "r_ohm": "cannot_say"}


def test_r_is_not_compared_where_nobody_told_the_plane():
    comparison = compare_setups([setup("a", plane="unknown"), setup("b", plane="unknown")])
    told = {d.quantity: d.verdict for d in comparison.differences}
    assert told["r_ohm"] == "cannot_say"
    assert told["dip_hz"] == "same"


def test_antennas_on_other_bands_keep_r_and_q():
    dice = rng(7)
    setups = [
        *erections(dice, 3, "a", span=(6e6, 15e6)),
        *erections(dice, 3, "b", facts=WHIP, shift={"dip_hz": 0.69}, span=(6e6, 15e6)),
    ]
    comparison = compare_setups(setups, by="antenna")
    told = {d.quantity: d.verdict for d in comparison.differences}
    assert "different-bands" in codes(comparison)
    assert told["dip_hz"] == "cannot_say"
    assert told["r_ohm"] in ("same", "within")


def test_an_antenna_on_another_band_does_not_bar_the_others():
    dice = rng(8)
    third = {"antenna": "third", "kind": "dipole"}
    setups = [
        *erections(dice, 3, "a", span=(6e6, 15e6)),
        *erections(dice, 3, "b", facts=WHIP, span=(6e6, 15e6)),
        *erections(dice, 3, "c", facts=third, shift={"dip_hz": 0.69}, span=(6e6, 15e6)),
    ]
    comparison = compare_setups(setups, by="antenna")
    names = {setup.facts["antenna"] for setup in setups}
    told = {frozenset((d.a, d.b)): d.verdict for d in comparison.differences if d.quantity == "dip_hz"}
    assert told.pop(frozenset(names - {"third"})) in ("same", "within")
    assert set(told.values()) == {"cannot_say"}
    assert len(told) == 2


def test_different_antennas_are_no_two_setups_of_one():
    comparison = compare_setups([setup("a"), setup("b", facts=WHIP)])
    assert {d.verdict for d in comparison.differences} == {"cannot_say", None}
    assert "no antenna" in comparison.differences[0].why


def test_lines_alone_are_ranked_and_only_where_it_is_fair():
    fair = {"when": "2026-05-20T10:00+02:00"}
    short = [setup(f"a{k}", facts=fair | {"line": ("RG-58 5 m",)}, loss_db=0.2) for k in range(3)]
    long = [setup(f"b{k}", facts=fair | {"line": ("RG-58 15 m",)}, loss_db=0.6) for k in range(3)]
    ranked = compare_setups([*long, *short], by="line").to_json()
    assert ranked["ranking"] == ["RG-58 5 m", "RG-58 15 m"]
    assert compare_setups([*long, *short[:1]], by="line").to_json()["ranking"] is None
    by_setup = compare_setups(long).to_json()
    assert by_setup["ranking"] is None
    assert "signals" in by_setup["why_no_ranking"]


def test_what_a_sweep_cannot_show_is_said_and_never_a_percentage_of_efficiency():
    text = json.dumps(compare_setups([setup("a"), setup("b")]).to_json(), allow_nan=False)
    assert "neither efficiency nor pattern" in text
    assert text.count("efficien") == 1


def test_one_setup_says_what_is_missing():
    comparison = compare_setups([setup("a")])
    assert codes(comparison) == ["one-side"]
    assert comparison.differences == ()


def test_nothing_and_an_unknown_question_are_refused():
    with pytest.raises(BadInput, match="nothing to compare"):
        compare_setups([])
    with pytest.raises(BadInput, match="--by is"):
        sweepkit.compare(by="weather")
    with pytest.raises(BadInput, match="one site was told"):
        compare_setups([setup("a"), setup("b", facts={"site": "valley"})], told="swept-again")
    with pytest.raises(BadInput, match="--by site sorts"):
        compare_setups([setup("a"), setup("b")], by="site", told="swept-again")


def test_a_dip_that_is_nowhere_near_is_no_dip_of_this_antenna():
    both = summary({})
    other = summary({"dip_hz": 9.1e6}, span=(6.6e6, 9.6e6))
    comparison = compare_setups(
        [setup("a", sweeps=(both,)), setup("b", sweeps=(both,)), setup("c", sweeps=(other,))]
    )
    assert comparison.figures["c"]["dip_hz"].value is None
    named = {unfair.code: unfair.text for unfair in comparison.fairness}
    assert named["no-common-dip"].startswith("no dip in common with the others: c;")
    assert {d.verdict for d in comparison.differences if "c" in (d.a, d.b)} == {"cannot_say", None}


def test_sweeps_of_another_antenna_than_the_logged_one_are_named():
    """The logbook's dip is at 7.1 MHz, twice as far off as any change of length is taken for one."""
    other = summary({"dip_hz": 13.5e6}, span=(12.6e6, 14.6e6))
    pair = [setup(name, sweeps=(other,), facts={"antenna": "a"}) for name in ("x", "y")]
    logged = [setup(f"S{k}", facts={"antenna": "a"}) for k in range(3)]
    comparison = compare_setups(pair, background=logged, told="swept-again")
    named = {unfair.code: unfair.text for unfair in comparison.fairness}
    assert "another antenna under this name" in named["no-common-dip"]
    assert {one.verdict for one in comparison.differences} == {"cannot_say", None}
    assert "no-common-dip" not in {one.code for one in compare_setups(pair).fairness}


def test_a_dip_that_moved_far_is_still_compared():
    """A wire that became a tenth shorter still has the one dip it had."""
    wide = {"span": (6.0e6, 9.0e6)}
    comparison = compare_setups(
        [setup("a", **wide), setup("b", **wide), setup("c", {"dip_hz": 7.1e6 * 1.1}, **wide)],
        told="put-up-again",
    )
    found = {(d.a, d.b): d.verdict for d in comparison.differences if d.quantity == "dip_hz"}
    assert found == {("a", "b"): "same", ("a", "c"): "different", ("b", "c"): "different"}


def test_radials_are_described_and_called_different_by_what_joining_anew_does():
    when = {"when": "2026-05-20T10:00+02:00", "antenna": "spit-whip", "kind": "loaded-whip"}
    steps = {
        1: (7.45e6, 36.0, 60.0),
        2: (7.25e6, 30.0, 70.0),
        4: (7.1e6, 26.0, 80.0),
        8: (6.98e6, 23.0, 90.0),
    }
    setups = [
        setup(f"r{n}", {"dip_hz": f, "r_ohm": r, "q": q}, facts=when | {"radials": n})
        for n, (f, r, q) in steps.items()
    ]
    answer = compare_setups(setups, by="radials").to_json()
    assert [(s["fewer"], s["more"]) for s in answer["radials"]["dip_hz"]["steps"]] == [(1, 2), (2, 4), (4, 8)]
    assert answer["radials"]["r_ohm"]["steps"][0]["per_radial"]["value"] == pytest.approx(30 / 36 - 1)
    dips = [d for d in answer["differences"] if d["quantity"] == "dip_hz"]
    assert all(d["verdict"] == "different" for d in dips)
    assert {d["told"] for d in dips} == {"joined-anew"}
