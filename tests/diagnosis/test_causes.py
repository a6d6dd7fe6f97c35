"""Causes one by one: the physics that each acts out, and that it is told apart from what it was mistaken for."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from sweepkit.antennas.rungs import body_of_kind
from sweepkit.diagnosis.acting.causes.joint import joints
from sweepkit.diagnosis.acting.causes.near_wire import NEAR, things_near
from sweepkit.diagnosis.acting.causes.other_piece import ANY_OHM, VELOCITY, other_pieces
from sweepkit.diagnosis.acting.healthy import healthy_sigmas
from sweepkit.diagnosis.acting.scene import scene_with_baseline
from sweepkit.diagnosis.acting.slid import slide_off
from sweepkit.diagnosis.acting.stories import ENDS, WITHOUT_ANTENNA, list_stories
from sweepkit.diagnosis.acting.story import roughly
from sweepkit.diagnosis.acting.wider import STOPS_MHZ, span_that_shows
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.diagnosis.signatures import signatures_of
from sweepkit.feedline.chain import LineChain
from sweepkit.kit import Analyzer
from sweepkit.lines import catalogued_piece
from sweepkit.sweep import Sweep
from tests.diagnosis.faults import setups
from tests.diagnosis.laboratory import act
from tests.models.set_ups import make_coax

F_HZ = np.linspace(6.5e6, 7.7e6, 60)
F0_HZ, R_OHM, Q = 7.1e6, 60.0, 12.0
CHAIN = LineChain([catalogued_piece("RG-58", 15.0)])


def gamma_of(z):
    return (z - 50) / (z + 50)


def resonance(f_hz, *, parallel=False):
    """A series circuit, or a parallel one of the same dip."""
    v = 2 * Q * np.log(f_hz / F0_HZ)
    return R_OHM / (1 + 1j * v) if parallel else R_OHM * (1 + 1j * v)


def scene_of(kind):
    parallel = kind == "end-fed"
    gamma = gamma_of(resonance(F_HZ, parallel=parallel))
    return scene_with_baseline(
        F_HZ,
        gamma,
        (F_HZ, gamma),
        None,
        end="antenna",
        reference_ohm=50.0,
        sigmas=healthy_sigmas(body_of_kind(kind), "joined-anew"),
        parallel=parallel,
    )


def far_z(scene, **more):
    h = np.zeros((1, scene.sigmas.size))
    v, i = scene.far_end(h, **{name: np.array([[value]]) for name, value in more.items()})
    return 50 * (v / i)[0]


@pytest.mark.identity
@pytest.mark.parametrize(("kind", "power"), [("dipole", 1), ("end-fed", -1)])
def test_what_changes_r_leaves_the_dip_and_the_slope_that_is_the_wires(kind, power):
    """Of a series circuit R alone; of a parallel one its conductance, so that the susceptance stays."""
    scene = scene_of(kind)
    before, after = far_z(scene) ** power, far_z(scene, r=0.1) ** power
    assert after.imag == pytest.approx(before.imag, abs=1e-6 * np.abs(before).max())
    assert after.real == pytest.approx(np.exp(0.1 * power) * before.real, rel=1e-6)


@pytest.mark.identity
@pytest.mark.parametrize("kind", ["dipole", "end-fed"])
def test_a_film_of_water_slides_the_dip_and_loses_its_angle_of_what_it_adds(kind):
    """1 % lower; beside it the loss angle times what the reactance, of an end-fed the susceptance, changed by."""
    scene = scene_of(kind)
    water = next(story for story in things_near({"wet-wire": 1.0}))
    angle = np.exp((np.log(NEAR[0].angle[0]) + np.log(NEAR[0].angle[1])) / 2)
    fall = np.exp((np.log(NEAR[0].falls[0]) + np.log(NEAR[0].falls[1])) / 2)
    gamma = water.act(scene, np.zeros((1, scene.sigmas.size)), water.guess(np.zeros((1, 3))))[0]
    slid = resonance(F_HZ * np.exp(fall), parallel=kind == "end-fed") / 50
    own = resonance(F_HZ, parallel=kind == "end-fed") / 50
    power = -1 if kind == "end-fed" else 1
    expected = (slid**power + angle * np.abs((slid**power - own**power).imag)) ** power
    inside = slice(0, -6)  # above the sweep the curve is carried on
    assert gamma[inside] == pytest.approx(gamma_of(50 * expected)[inside], abs=2e-3)


@pytest.mark.identity
@pytest.mark.parametrize("kind", ["dipole", "end-fed"])
def test_a_slide_and_a_scale_leave_nothing(kind):
    scene = scene_of(kind)
    h = np.zeros((1, scene.sigmas.size))
    v, i = scene.far_end(h, slide=np.array([[0.03]]), r=np.array([[0.2]]), x=np.array([[-0.05]]))
    slid = replace(scene, now=((v - i) / (v + i))[0])
    assert np.abs(slid.now - scene.now).max() > 0.3
    found = slide_off(slid)
    assert np.abs(found.left).max() < 2e-3
    assert found.slide == pytest.approx(0.03, abs=1e-3)


@pytest.mark.identity
def test_what_is_roughly_so_is_exact_where_nothing_is_off_and_leaves_what_did_not_change():
    scene = scene_of("dipole")
    h, u = np.zeros((2, scene.sigmas.size)), np.zeros((2, 5))
    u[1, 1:] = (1.0, -2.0, 0.5, 1.0)

    def moved(scene, h, u):
        return scene.healthy(h) + 0.1 * u[:, :1] + 0.1

    exact, off = roughly(moved, 0.3)(scene, h, u) - scene.healthy(h)
    assert exact == pytest.approx(np.full(F_HZ.size, 0.1), abs=1e-12)
    assert np.abs(off - exact).max() > 0.01
    assert roughly(lambda s, h, u: s.healthy(h), 0.3)(scene, h, u) == pytest.approx(
        scene.healthy(h), abs=1e-12
    )


def test_a_piece_like_the_line_itself_changes_nothing():
    gamma = gamma_of(resonance(F_HZ))
    scene = scene_with_baseline(
        F_HZ,
        gamma,
        (F_HZ, gamma),
        CHAIN,
        end="antenna",
        reference_ohm=50.0,
        sigmas=healthy_sigmas("wire", "joined-anew"),
    )
    h = np.zeros((1, scene.sigmas.size))
    line = CHAIN.pieces[0]
    share = NormalDist().inv_cdf
    ohm, velocity = (
        share((value - low) / (high - low))
        for value, (low, high) in ((line.z0_ohm, ANY_OHM), (line.velocity_factor, VELOCITY))
    )
    usual, _, any_ohm, _ = other_pieces(
        scene, chance=1.0
    )  # each in the place of some of the line, then added
    u = np.array([[0.3, 0.0, ohm, velocity]])
    like, other = (
        np.abs(story.act(scene, h, story.guess(u))[0] - scene.healthy(h)[0]).max()
        for story in (any_ohm, usual)
    )
    assert like < 0.03  # the line told has an impedance that is not quite real
    assert other > 0.1


def test_a_line_that_ends_is_searched_for_nothing_that_leaves_an_antenna_on_it():
    """Nor does that change which comes first: an open is as plain with all of them weighed."""
    case = act("open-line", setups()[6], "joined-anew", (3,))
    answer = case.diagnosed(told=True)
    assert answer.hypotheses[0].code == "open-line"
    assert answer.hypotheses[0].weight > 0.9
    assert {one.code for one in answer.hypotheses} <= {*ENDS, *WITHOUT_ANTENNA, "something-else"}


def test_a_radial_more_is_told_from_one_that_is_off_and_is_first_once_it_is_said():
    whip = next(one for one in setups() if one.kind == "loaded-whip")
    case = act("radial-added", whip, "joined-anew", (1,))
    silent, told = (
        diagnose(
            [case.now],
            baseline=case.before,
            kind="loaded-whip",
            lines=list(case.line),
            measured_at="radio",
            rung="joined-anew",
            changed=words,
            draws=0,
        )
        for words in (None, "added radials")
    )
    weights = {one.code: one.weight for one in silent.hypotheses}
    assert weights.get("radial-added", 0.0) > weights.get("radial-off", 0.0)
    assert told.hypotheses[0].code == "radial-added"


@pytest.mark.parametrize("seed", [1, 3])
def test_another_antenna_is_said_first_and_nothing_else_holds(seed):
    dipole = next(one for one in setups() if one.name == "dipole/1")
    answer = act("other-antenna", dipole, "joined-anew", (7, seed)).diagnosed(told=True)
    assert answer.hypotheses[0].code == "other-antenna"
    assert "hardly of the same antenna" in answer.cannot_say


def station(truth, kind, seed, rung="joined-anew"):
    setup = next(
        one for one in setups() if one.kind == kind and (truth in one.states or truth == "letting go")
    )
    return act(truth, setup, rung, (seed,)).diagnosed(told=True)


@pytest.mark.parametrize("seed", [1, 2])
def test_an_end_fed_without_its_counterpoise_is_no_other_antenna(seed):
    answer = station("no-counterpoise", "end-fed", seed)
    weights = {one.code: one.weight for one in answer.hypotheses}
    assert answer.hypotheses[0].code == "no-counterpoise"
    assert weights.get("other-antenna", 0.0) < 0.1


@pytest.mark.parametrize("seed", [1, 2])
def test_a_leg_off_is_among_the_first_two(seed):
    assert "leg-off" in [one.code for one in station("leg-off", "dipole", seed).hypotheses[:2]]


@pytest.mark.identity
def test_what_a_row_and_physics_act_out_is_met_as_often_as_the_table_says():
    rows = [row for row in signatures_of("end-fed") if row.code in ("common-mode", "no-counterpoise")]
    stories = list(list_stories(scene_of("end-fed"), "end-fed"))
    for row in rows:
        chances = [story.chance for story in stories if story.code == row.code]
        assert len(chances) == (3 if row.code == "common-mode" else 2)
        assert sum(chances) == pytest.approx(row.common)


@pytest.mark.identity
def test_a_jump_is_where_the_curve_jumps_however_few_points_are_looked_at():
    """Beside a sharp dip, whose own steps are as long."""
    f_hz = np.sort(np.concatenate([np.linspace(6.9e6, 7.3e6, 41), np.linspace(7.053e6, 7.118e6, 25)]))
    gamma = gamma_of(20 * (1 + 160j * np.log(f_hz / 7.1e6))) + 0.08j * (f_hz > 7.151e6)
    scene = replace(scene_of("loaded-whip"), f_hz=f_hz, now=gamma)
    lets_go = list(joints(scene, chance=1.0))[-1]
    nothing = np.zeros((1, scene.sigmas.size))
    for every in (1, 2):
        thin = scene.thinned(every)
        jumps = lets_go.act(thin, nothing, lets_go.starts) - thin.healthy(nothing)
        off = np.abs(jumps - 0.08j * (thin.f_hz > 7.151e6)).max(axis=1)
        assert off.min() < 3e-3


@pytest.mark.parametrize("rung", ["swept-again", "put-up-again"])
def test_a_contact_that_lets_go_in_mid_sweep_is_a_joint(rung):
    assert station("letting go", "dipole", 3, rung).hypotheses[0].code == "loose-joint"


def bare(stop_hz, *, piece):
    """A line of another model, open, with 1.4 m of 75 ohm in the middle or none."""
    f_hz = np.linspace(1e6, stop_hz, 201)
    dice = np.random.default_rng(5)
    line, other = make_coax("RG-58", 15.0, dice), make_coax("RG-59", 1.4, dice)
    z = line.seen_through(f_hz, np.full(f_hz.shape, 1e6, dtype=complex), line.length_m / 2 - 0.7 * piece)
    z = other.seen_through(f_hz, z) if piece else z
    z = line.seen_through(f_hz, z, line.length_m / 2 - 0.7 * piece)
    noise = 0.0007 * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size))
    return Sweep.from_gamma(f_hz, gamma_of(z) + noise)


def test_the_span_that_is_asked_for_shows_the_piece():
    """Where it begins, 0.7 m before the middle; and a sound line swept as wide has no fault."""
    stop_hz = span_that_shows("wrong-impedance-piece", CHAIN, Analyzer())
    assert stop_hz / 1e6 in STOPS_MHZ
    known = {"lines": ["RG-58 15 m"], "far_end": "open", "draws": 0}
    shown = diagnose([bare(stop_hz, piece=True)], **known).hypotheses[0]
    assert (shown.code, shown.weight > 0.9) == ("wrong-impedance-piece", True)
    assert shown.distance_m.low <= 6.8 <= shown.distance_m.high
    sound = diagnose([bare(stop_hz, piece=False)], **known)
    assert sound.nothing_wrong > max(one.weight for one in sound.hypotheses)


def test_a_poor_analyzer_needs_more_span():
    good, poor = (
        Analyzer(directivity_db=size, source_match_db=size, tracking=10 ** (-size / 20))
        for size in (50.0, 12.0)
    )
    stops = [span_that_shows("wrong-impedance-piece", CHAIN, analyzer) for analyzer in (good, poor)]
    assert stops[0] < stops[1]
