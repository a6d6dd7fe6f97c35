"""Is today inside the antenna's usual cloud?"""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from sweepkit.comparison.today import NOT_SURELY, _finding_since, judge_today
from tests.comparison.made import drawn, erections, rng, setup


def test_alike_setups_are_inside_at_the_stated_rate():
    from scipy.stats import binom

    dice, trials = rng(1), 400
    outside = 0
    for _ in range(trials):
        found = judge_today(setup("today", drawn(dice)), erections(dice, 5))
        outside += found.code == "outside-usual"
    assert binom.ppf(1e-4, trials, 0.05) <= outside <= binom.ppf(1 - 1e-4, trials, 0.06)


def test_a_lost_radial_stands_out():
    """Four radials to three: dip up 1.9 %, R up 12 %, Q down 9 % (common practice, no source)."""
    dice = rng(2)
    shift = {"dip_hz": 0.05, "r_ohm": 0.12, "q": -0.09}
    found = judge_today(setup("today", drawn(dice, shift)), erections(dice, 8))
    assert found.code == "outside-usual"
    assert found.level == "warning"
    assert "dip" in found.text
    assert found.next_step.startswith("radio off and disconnected")


@pytest.mark.parametrize("facts", [{"site": "valley"}, {"ground": "wet"}, {"feed_height_m": 3.0}])
def test_another_site_ground_or_height_is_allowed_for(facts):
    dice = rng(3)
    usual = {"ground": "dry", "feed_height_m": 8.0}
    earlier = erections(dice, 6, facts=usual)
    shift = {"dip_hz": 0.025}
    here = judge_today(setup("today", drawn(dice, shift), facts=usual), earlier)
    there = judge_today(setup("today", drawn(dice, shift), facts=usual | facts), earlier)
    assert here.code == "outside-usual"
    assert there.code == "inside-usual"


def test_a_site_that_nobody_told_is_called_no_other():
    earlier = [setup("S1", facts={"site": "hill"})]
    assert "at other sites" in judge_today(setup("today", facts={"site": "valley"}), earlier).text
    untold = judge_today(setup("today", facts={"site": None}), earlier).text
    assert "at any site, since none was told for this one" in untold


def test_one_earlier_setup_is_enough_and_another_length_is_another_antenna():
    dice = rng(4)
    assert judge_today(setup("today"), []).code == "usual-unknown"
    assert judge_today(setup("today"), [setup("S1")]).code == "inside-usual"
    far = setup("today", {"dip_hz": 7.1e6 * 1.03})
    assert judge_today(far, [setup("S1")]).code == "outside-usual"
    longer = erections(dice, 5, facts={"length_m": 10.6})
    assert judge_today(setup("today", facts={"length_m": 10.2}), longer).code == "usual-unknown"


def test_it_is_not_held_against_itself():
    dice = rng(5)
    assert judge_today(setup("S0"), erections(dice, 1)).code == "usual-unknown"


def test_what_is_beyond_the_usual_though_not_surely_is_not_called_as_usual():
    beyond = judge_today(setup("today", {"dip_hz": 7.1e6 * 1.03}, width=0.05), [setup("S1", width=0.05)])
    assert beyond.code == "inside-usual"
    assert beyond.text.startswith(NOT_SURELY)
    unchanged = SimpleNamespace(changed="no", nothing_wrong=0.64, hypotheses=())
    texts = [_finding_since(unchanged, since="sweep 3", usual=usual).text for usual in ("here", None)]
    assert texts[0].startswith("as usual here; it differs from sweep 3 no more than it may (64 %")
    assert texts[1].startswith("no fault seen since sweep 3; ")
    assert not any("needs doing" in text for text in texts)
