"""Causes one by one: the physics that each acts out, and that it is told apart from what it was mistaken for."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.antennas.rungs import body_of_kind
from sweepkit.diagnosis.acting.causes.near_wire import NEAR, things_near
from sweepkit.diagnosis.acting.healthy import healthy_sigmas
from sweepkit.diagnosis.acting.scene import scene_with_baseline
from sweepkit.diagnosis.acting.wider import STOPS_MHZ, span_that_shows
from sweepkit.diagnosis.diagnose import diagnose
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
    gamma = water.act(scene, np.zeros((1, scene.sigmas.size)), np.zeros((1, 3)))[0]
    slid = resonance(F_HZ * np.exp(fall), parallel=kind == "end-fed") / 50
    own = resonance(F_HZ, parallel=kind == "end-fed") / 50
    power = -1 if kind == "end-fed" else 1
    expected = (slid**power + angle * np.abs((slid**power - own**power).imag)) ** power
    inside = slice(0, -6)  # above the sweep the curve is carried on
    assert gamma[inside] == pytest.approx(gamma_of(50 * expected)[inside], abs=2e-3)


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
