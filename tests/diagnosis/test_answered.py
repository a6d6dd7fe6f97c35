"""Tests that were made: of every code, that its sweep moves the weights the way it should."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from sweepkit.diagnosis.answer import Diagnosis, Hypothesis
from sweepkit.diagnosis.answered import (
    BARE,
    IN_THE_LINE,
    PUT_RIGHT,
    READS,
    TEST_CODES,
    Made,
    after_test,
    ask_for_the_other_end,
)
from sweepkit.diagnosis.signatures import ELSE
from sweepkit.diagnosis.wording import CAUSES, step_of
from sweepkit.errors import BadInput
from sweepkit.kit import Analyzer
from sweepkit.next_tests import step_of_test
from sweepkit.reviews.review import Review, review
from sweepkit.sweep import Sweep
from tests.models.set_ups import make_coax

LINE = "RG-58 12 m"
F_HZ = np.linspace(6.5e6, 7.7e6, 101)
BARE_HZ = np.linspace(1e6, 60e6, 151)
GOOD_HZ, NOW_HZ = 7.1e6, 7.0e6
STARTED = 0.4  # weight of the cause before the test


def antenna(f0_hz, f_hz=F_HZ, q=12.0):
    return 60 * (1 + 1j * q * (f_hz / f0_hz - f0_hz / f_hz))


def coax():
    return make_coax("RG-58", 12.0, np.random.default_rng(7))


def reviewed(z, f_hz, seed, *, line=True, place="radio") -> Review:
    dice = np.random.default_rng(seed)
    noise = 0.0007 * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size))
    sweep = Sweep.from_gamma(f_hz, (z - 50) / (z + 50) + noise)
    return review(sweep, lines=[LINE] if line else None, measured_at=place, bands=(), draws=0)


@cache
def station(f0_hz, seed):
    return reviewed(coax().seen_through(F_HZ, antenna(f0_hz)), F_HZ, seed)


def bare(ohm, end_ohm):
    """The line alone with a resistance in series at 5 m."""
    z = coax().seen_through(BARE_HZ, np.full(BARE_HZ.shape, end_ohm, dtype=complex), coax().length_m - 5)
    return reviewed(coax().seen_through(BARE_HZ, z + ohm, 5.0), BARE_HZ, 3)


def at_feedpoint(f0_hz):
    return reviewed(antenna(f0_hz), F_HZ, 4, line=False, place="feedpoint")


def standard(gamma):
    return reviewed(50 * (1 + gamma) / (1 - gamma), F_HZ, 5, line=False, place="feedpoint")


def weights_after(code, made, causes):
    """Of the causes, equal before, of healthy and of something else, after the test."""
    weights = {ELSE: 0.3} | dict.fromkeys(causes, STARTED / len(causes))
    live = tuple(Hypothesis(one, weights[one], ("a",), (), step_of(one), CAUSES[one].test) for one in weights)
    asked = Diagnosis("yes", 0.03, live, 1 - sum(weights.values()), None)
    reviews = (station(GOOD_HZ, 1), station(NOW_HZ, 2))
    answer = after_test(asked, Made(code, made), reviews, kind="dipole", analyzer=Analyzer())
    assert sum(one.weight for one in answer.hypotheses) + answer.nothing_wrong == pytest.approx(1.0)
    return answer, sum(one.weight for one in answer.hypotheses if one.code in causes)


def test_every_code_is_walked_through():
    assert set(TEST_CODES) == {*PUT_RIGHT, *BARE, *READS, "at-feedpoint"}
    assert {cause.test for cause in CAUSES.values()} <= set(TEST_CODES)


@pytest.mark.parametrize("code", PUT_RIGHT)
def test_what_was_put_right_was_wrong_if_the_sweep_goes_back(code):
    causes = sorted(PUT_RIGHT[code])
    _, back = weights_after(code, station(GOOD_HZ, 6), causes)
    _, stays = weights_after(code, station(NOW_HZ, 7), causes)
    assert back > STARTED > stays


@pytest.mark.parametrize(("code", "end_ohm"), [("antenna-unplugged", 1e6), ("far-end-shorted", 0.05)])
def test_a_bare_line_shows_its_fault_or_that_it_is_sound(code, end_ohm):
    _, faulty = weights_after(code, bare(20.0, end_ohm), ["loose-joint"])
    _, sound = weights_after(code, bare(0.0, end_ohm), ["loose-joint"])
    assert faulty > 0.9 > STARTED > sound


def test_an_antenna_that_is_as_it_was_at_the_feedpoint_leaves_the_line():
    causes = sorted(IN_THE_LINE)
    _, as_it_was = weights_after("at-feedpoint", at_feedpoint(GOOD_HZ), causes)
    _, changed = weights_after("at-feedpoint", at_feedpoint(NOW_HZ), causes)
    assert as_it_was > STARTED > changed


@pytest.mark.parametrize(
    ("code", "right", "wrong"),
    [("check-load", 0.01, 0.12), ("plane-shorted", -0.99, -np.exp(0.8j) * 0.97)],
)
def test_a_standard_at_the_analyzer_is_read_right_or_not(code, right, wrong):
    (cause,) = [READS[code][3]]
    _, as_it_should = weights_after(code, standard(np.full(F_HZ.shape, right, dtype=complex)), [cause])
    _, off = weights_after(code, standard(np.full(F_HZ.shape, wrong, dtype=complex)), [cause])
    assert off > STARTED > as_it_should


def test_asked_until_one_answer_is_left():
    """Each sweep that stays as it is takes from the cause that was put right; what is left open asks for the next."""
    answer, _ = weights_after("wiggled", station(NOW_HZ, 7), ["loose-joint"])
    assert answer.cannot_say.startswith("the test leaves it open; next, radio off")
    settled, weight = weights_after("antenna-unplugged", bare(20.0, 1e6), ["loose-joint"])
    assert weight > 0.9
    assert settled.cannot_say is None


def test_a_test_that_was_made_gives_way_to_another_and_says_what_it_showed():
    """Wiggled without a change, the bare line is next; back to the good one, the joint is proved."""
    stays, _ = weights_after("wiggled", station(NOW_HZ, 7), ["loose-joint"])
    back, _ = weights_after("wiggled", station(GOOD_HZ, 6), ["loose-joint"])
    assert (stays.tested.showed.partition(" (")[0], back.tested.showed.partition(" (")[0]) == (
        "no change",
        "back to the good one",
    )
    assert not stays.tested.is_proved
    for answer in (stays, back):
        (joint,) = [one for one in answer.hypotheses if one.code == "loose-joint"]
        assert joint.test == "antenna-unplugged"
    proved, weight = weights_after("antenna-unplugged", bare(20.0, 1e6), ["loose-joint"])
    assert weight > 0.9
    assert proved.tested.is_proved
    assert proved.tested.showed == "the bare line shows a loose joint"


def after_wiggling(made, weights, kind):
    live = tuple(Hypothesis(one, w, ("a",), (), step_of(one), CAUSES[one].test) for one, w in weights.items())
    reviews = (station(GOOD_HZ, 1), station(NOW_HZ, 2))
    asked = Diagnosis("yes", 0.03, live, 0.0, None)
    return after_test(asked, Made("wiggled", made), reviews, kind=kind, analyzer=Analyzer())


def test_a_sweep_that_is_back_is_evidence_for_what_was_put_right():
    """Who wiggles a joint dries no soil: from one in ten the joint comes first."""
    weights = {"drier-soil": 0.7, "other-antenna": 0.2, "loose-joint": 0.1}
    answer = after_wiggling(station(GOOD_HZ, 6), weights, "dipole")
    assert answer.hypotheses[0].code == "loose-joint"
    assert answer.hypotheses[0].weight > 0.8


def test_a_sweep_that_stays_proves_no_other_cause():
    """Where nothing was put right, what is left is likelier, not shown."""
    answer = after_wiggling(station(NOW_HZ, 7), {"radial-off": 0.95, "loose-joint": 0.05}, "loaded-whip")
    assert answer.hypotheses[0].weight > 0.95
    assert not answer.tested.is_proved


def test_a_test_that_needs_a_good_sweep_asks_for_one():
    answer = Diagnosis("cannot_say", 0.0, (), 1.0, None)
    with pytest.raises(BadInput, match="name it with --baseline"):
        after_test(
            answer, Made("wiggled", station(NOW_HZ, 7)), (station(NOW_HZ, 2),), kind=None, analyzer=Analyzer()
        )


@pytest.mark.parametrize(
    ("far_end", "asked", "expected"),
    [
        ("open", "antenna-unplugged", "far-end-shorted"),
        ("short", "far-end-shorted", "antenna-unplugged"),
        ("antenna", "antenna-unplugged", "antenna-unplugged"),
        ("open", "wiggled", "wiggled"),
    ],
)
def test_the_sweep_that_was_made_is_not_asked_for(far_end, asked, expected):
    cause = Hypothesis("line-loss", 0.9, (), (), step_of_test(asked), asked)
    (one,) = ask_for_the_other_end(Diagnosis("cannot_say", 0.0, (cause,), 0.1, None), far_end).hypotheses
    assert (one.test, one.next_step) == (expected, step_of_test(expected))


@pytest.mark.parametrize(
    "weights", [(0.8836, 0.0727, 0.0437), (0.5005, 0.4989, 0.0006, 0.0), (0.3335, 0.3335, 0.3330)]
)
def test_rounded_weights_add_to_one_and_keep_their_order(weights):
    causes = tuple(Hypothesis(f"cause-{k}", one, (), (), "", "put-back") for k, one in enumerate(weights))
    document = Diagnosis("yes", 0.03, causes, 0.0, None).to_json()
    shown = [one["weight"] for one in document["hypotheses"]]
    assert sum(shown) + document["nothing_wrong"] == pytest.approx(1.0, abs=1e-9)
    assert shown == sorted(shown, reverse=True)
    assert shown == pytest.approx(weights, abs=0.0011)
