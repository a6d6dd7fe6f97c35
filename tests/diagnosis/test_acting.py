"""Causes acted out: walking a line, climbing to the best guess, weights, places, and tests that were made."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.diagnosis.acting.act import POINTS, _thinned
from sweepkit.diagnosis.acting.climb import climb
from sweepkit.diagnosis.acting.healthy import LEFT, SIZES_ERECTED, Slid, list_conditions
from sweepkit.diagnosis.acting.scene import _carried_beyond
from sweepkit.diagnosis.acting.walk import lay_walk, reflection
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.diagnosis.told_words import read_told, settle_rung
from sweepkit.errors import BadInput
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import add_chain
from sweepkit.kit import Analyzer
from sweepkit.lines import catalogued_piece
from sweepkit.reviews.review import review
from sweepkit.sweep import Sweep
from tests.diagnosis.faults import setups
from tests.diagnosis.laboratory import act
from tests.models.set_ups import make_coax

F_HZ = np.linspace(1e6, 60e6, 201)
NARROW_HZ = np.linspace(12.8e6, 15.5e6, 151)
WIDE_HZ = np.linspace(1e6, 150e6, 301)
LINE = "RG-58 12 m"


def bare(seed: int, *, ohm: float = 0.0, at_m: float = 5.0, f_hz=F_HZ, end_ohm: float = 1e6) -> Sweep:
    """An independent line, open unless told, with a resistance in series somewhere, read by an even analyzer."""
    coax = make_coax("RG-58", 12.0, np.random.default_rng(7))
    z = coax.seen_through(f_hz, np.full(f_hz.shape, end_ohm, dtype=complex), coax.length_m - at_m) + ohm
    z = coax.seen_through(f_hz, z, at_m)
    dice = np.random.default_rng(seed)
    noise = 0.0007 * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size))
    return Sweep.from_gamma(f_hz, (z - 50) / (z + 50) + noise)


def weight(answer, code):
    return sum(one.weight for one in answer.hypotheses if one.code == code)


@pytest.mark.identity
def test_a_walk_is_the_chain():
    chain = LineChain([catalogued_piece("RG-58", 3.0), catalogued_piece("RG-59", 2.0)])
    walk = lay_walk(F_HZ, chain, reference_ohm=50.0)
    far = np.full((1, F_HZ.size), 1.0 + 0j), np.full((1, F_HZ.size), 0.4 + 0.1j)
    walked = reflection(walk.carry(far, 0.0, walk.length_m))[0]
    assert np.allclose(walked, add_chain(F_HZ, reflection(far)[0], chain.nominal)[0], atol=1e-12)
    halves = walk.carry(walk.carry(far, 2.5, walk.length_m), 0.0, 2.5)
    assert np.allclose(reflection(halves)[0], walked, atol=1e-12)


@pytest.mark.identity
def test_a_climb_ends_where_a_linear_story_has_its_answer():
    dice = np.random.default_rng(3)
    slopes = dice.standard_normal((30, 2)) + 1j * dice.standard_normal((30, 2))
    now = slopes @ np.array([0.7, -1.2])
    whiten = 10 * np.eye(30, dtype=complex)
    (peak,) = climb(lambda theta: theta @ slopes.T, now, whiten, np.zeros((1, 2)))
    white = 10 * np.concatenate([slopes.real, slopes.imag])
    right = np.linalg.solve(
        white.T @ white + np.eye(2), white.T @ (10 * np.concatenate([now.real, now.imag]))
    )
    assert np.allclose(peak.theta, right, atol=1e-4)


@pytest.mark.identity
def test_guesses_that_keep_numbers_of_their_own_are_climbed_at_once_as_each_alone():
    dice = np.random.default_rng(4)
    slopes = dice.standard_normal((30, 2)) + 1j * dice.standard_normal((30, 2))
    now, whiten = slopes @ np.array([0.7, -1.2]), 10 * np.eye(30, dtype=complex)

    def bent(theta):
        return theta[:, 2:3] * (theta[:, :2] + 0.1 * theta[:, :2] ** 2) @ slopes.T

    starts = np.array([[0.0, 0.0, 1.0], [0.3, 0.0, 2.0]])
    together = climb(bent, now, whiten, starts, fixed=1)
    assert [peak.start for peak in together] == [0, 1]
    for own, peak in zip(starts, together, strict=True):
        (alone,) = climb(bent, now, whiten, own[None], fixed=1)
        assert peak.theta.shape == (2,)
        assert peak.theta == pytest.approx(alone.theta, abs=1e-9)
        assert peak.cost == pytest.approx(alone.cost, abs=1e-9)
    assert np.abs(together[0].theta - together[1].theta).max() > 0.3


@pytest.mark.identity
@pytest.mark.parametrize("size", [0.97, 1.06])
def test_a_curve_goes_on_beyond_its_ends_without_a_step(size):
    """Also where a told line that loses too much leaves reflections above 1."""
    z = 12 * (1 + 200j * np.log(NARROW_HZ / 14.1e6))
    gamma = size * (z - 50) / (z + 50)
    inner = slice(10, -10)
    curve = _carried_beyond(NARROW_HZ[inner], gamma[inner])
    assert curve(np.log(NARROW_HZ)) == pytest.approx(gamma, abs=1e-2)  # cut off at 1 it would be 0.05 off


def test_half_of_the_points_lie_where_the_curve_runs():
    z = 12 * (1 + 200j * np.log(NARROW_HZ / 14.1e6))
    view = review(Sweep.from_gamma(NARROW_HZ, (z - 50) / (z + 50)), draws=0).planes.measured
    kept = NARROW_HZ[_thinned(view, np.arange(NARROW_HZ.size))]
    dip = np.abs(kept - 14.1e6) < 0.3e6  # two ninths of the sweep
    assert kept.size == POINTS[0]
    assert np.count_nonzero(dip) > 1.5 * 2 / 9 * kept.size
    assert np.diff(kept).max() < 3 * np.ptp(NARROW_HZ) / kept.size


def test_conditions_add_to_one_and_widen_up_the_ladder():
    gamma = np.full(20, 0.3 + 0.1j)
    f_hz = np.linspace(7e6, 7.4e6, 20)
    known = {"body": "wire", "analyzer": Analyzer()}
    still = Slid(0 * gamma, 0.0, 0 * gamma)
    untold = list_conditions(f_hz, gamma, 0 * gamma, still, np.full(20, 1e-3), rung=None, **known)
    assert sum(one.chance for one in untold) == pytest.approx(1.0)
    sigmas = [
        list_conditions(f_hz, gamma, 0 * gamma, still, np.full(20, 1e-3), rung=rung, **known)[0].sigmas[0]
        for rung in ("swept-again", "joined-anew", "put-up-again", "another-site")
    ]
    assert sigmas == sorted(sigmas)


def test_what_one_erection_leaves_is_as_often_so_small_as_the_wires_say():
    middle, one_in_ten = 0.003, 0.007  # of the reflection, own wire models
    sizes, shares = np.array(SIZES_ERECTED).T
    logs = np.log(sizes * LEFT["put-up-again"][0])
    mean, sigma = shares @ logs, np.sqrt(shares @ (logs - shares @ logs) ** 2)
    assert shares.sum() == pytest.approx(1.0)
    assert np.exp(mean) == pytest.approx(middle, rel=1e-9)
    assert np.exp(mean + 1.2816 * sigma) == pytest.approx(one_in_ten, rel=0.01)  # quantile 0.9 of a normal


def test_a_bare_line_as_it_is_meant_to_be_is_no_fault():
    answer = diagnose([bare(1)], lines=[LINE], far_end="open", draws=0)
    assert answer.nothing_wrong > 0.5
    answer = diagnose([bare(1)], baseline=bare(2), lines=[LINE], far_end="open", draws=0)
    assert (answer.changed, answer.nothing_wrong > 0.5) == ("no", True)


@pytest.mark.parametrize("baseline", [None, 2])
def test_a_joint_in_a_bare_line_is_found_with_its_place(baseline):
    good = None if baseline is None else bare(baseline, f_hz=WIDE_HZ)
    answer = diagnose([bare(1, ohm=10.0, f_hz=WIDE_HZ)], baseline=good, lines=[LINE], far_end="open", draws=0)
    assert answer.hypotheses[0].code == "loose-joint"
    assert answer.hypotheses[0].distance_m.value == pytest.approx(5.0, abs=0.4)
    assert answer.hypotheses[0].distance_m.low <= 5.1
    assert answer.hypotheses[0].distance_m.high >= 4.9


@pytest.mark.parametrize("at_m", [0.0, 12.0])
def test_a_joint_at_an_end_of_the_line_may_be_in_the_connector_there(at_m):
    f_hz = WIDE_HZ[::4]
    antenna = 60 + 40j
    sound, poor = (
        bare(seed, ohm=ohm, at_m=at_m, f_hz=f_hz, end_ohm=antenna) for seed, ohm in ((2, 0.0), (1, 15.0))
    )
    found = diagnose(
        [poor], baseline=sound, lines=[LINE], measured_at="radio", kind="dipole", rung="swept-again", draws=0
    ).hypotheses
    place = next(one.distance_m for one in found if one.code == "loose-joint")
    if at_m == 0.0:
        assert place.low == 0.0
    else:  # told lengths and velocities are off by a per cent, so that the end may lie beyond
        assert place.high > 12.15


def test_a_bare_line_needs_a_line():
    with pytest.raises(BadInput, match="name it with --line"):
        diagnose([bare(1)], far_end="open", draws=0)


def test_weights_and_nothing_wrong_add_to_one():
    for truth, number in (("nothing", 3), ("line-loss", 4), ("wrong-plane", 9)):
        answer = act(truth, setups()[number], "joined-anew", (8, number)).diagnosed(told=True)
        assert sum(one.weight for one in answer.hypotheses) + answer.nothing_wrong == pytest.approx(1.0)
        document = answer.to_json()
        assert sum(one["weight"] for one in document["hypotheses"]) + document[
            "nothing_wrong"
        ] == pytest.approx(1.0, abs=2e-3)
        assert all(one["test"] for one in document["hypotheses"])


def test_phrases_set_the_rung_and_words_do_not():
    assert read_told("opened up the connector").rung is None
    assert read_told("put up again, rain").rung == "put-up-again"
    assert read_told("rain").odds["wet-wire"] > 1
    assert settle_rung("put-up-again", read_told("put up again")) == "put-up-again"
    with pytest.raises(BadInput, match="leave one of them out"):
        settle_rung("swept-again", read_told("put up again"))


def test_the_sweep_of_a_test_moves_the_weights():
    case = act("line-loss", setups()[4], "joined-anew", (8, 4))
    known = {
        "baseline": case.before,
        "kind": case.setup.kind,
        "lines": list(case.line),
        "measured_at": "radio",
        "draws": 0,
    }
    plain = diagnose([case.now], **known)
    back = diagnose([case.now], test=("wiggled", case.before), **known)
    stays = diagnose([case.now], test=("wiggled", case.now), **known)
    assert weight(back, "loose-joint") >= weight(plain, "loose-joint") >= weight(stays, "loose-joint")
    assert sum(one.weight for one in back.hypotheses) + back.nothing_wrong == pytest.approx(1.0)
    assert any(
        "the test:" in text for one in back.hypotheses for text in (*one.evidence_for, *one.evidence_against)
    )
    with pytest.raises(BadInput, match="wiggled"):
        diagnose([case.now], test=("wigled", case.now), **known)
