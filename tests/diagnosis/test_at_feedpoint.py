"""Sweeps at the feedpoint: no coax hangs there, whips with low radials, and another antenna of the same band."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.diagnosis.acting.story import ROUGHEST, roughly
from sweepkit.diagnosis.answer import Hypothesis
from sweepkit.diagnosis.by_acting import NO_COAX, is_other_antenna, say_missing
from sweepkit.diagnosis.common_grid import find_common
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.diagnosis.dip import Part
from sweepkit.diagnosis.missing import has_two_antennas_q
from sweepkit.diagnosis.seen import Seen, describe_shift
from sweepkit.diagnosis.spreads import usual_spread
from sweepkit.diagnosis.wording import CAUSES, step_of
from sweepkit.kit import Analyzer
from sweepkit.reviews.review import review
from sweepkit.sweep import Sweep
from tests.diagnosis.faults import setups
from tests.diagnosis.test_causes import scene_of

F_HZ = np.linspace(6.4e6, 7.9e6, 121)
SHIELD = {"common-mode", "no-counterpoise", "counterpoise-added"}


def swept(z, seed):
    dice = np.random.default_rng(seed)
    noise = 0.0007 * (dice.standard_normal(F_HZ.size) + 1j * dice.standard_normal(F_HZ.size))
    return Sweep.from_gamma(F_HZ, (z - 50) / (z + 50) + noise)


def whip(f0_hz, r_ohm, slope_ohm):
    return r_ohm + 1j * slope_ohm * np.log(F_HZ / f0_hz)


def weights(now, before, **more):
    answer = diagnose([now], baseline=before, measured_at="feedpoint", draws=0, **more)
    return [one.code for one in answer.hypotheses], {one.code: one.weight for one in answer.hypotheses}


def of_model(name, f_hz, seed):
    (setup,) = [one for one in setups() if one.name == name]
    z = setup.states["healthy"](f_hz)
    dice = np.random.default_rng(seed)
    noise = 0.0007 * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size))
    return Sweep.from_gamma(f_hz, (z - 50) / (z + 50) + noise)


@pytest.mark.parametrize(("low_mhz", "high_mhz", "whip_of"), [(6.4, 7.8, 1), (9.2, 11.1, 3)])
def test_a_whip_held_against_an_end_fed_is_another_antenna_whatever_kind_is_told(low_mhz, high_mhz, whip_of):
    f_hz = np.linspace(low_mhz, high_mhz, 121) * 1e6
    now, before = of_model(f"loaded-whip/{whip_of}", f_hz, 1), of_model(f"end-fed/{whip_of // 3}", f_hz, 2)
    named, _ = weights(now, before, kind="end-fed")
    assert named[0] == "other-antenna"
    assert not SHIELD & {*named}


@pytest.mark.parametrize(
    ("r", "q", "expected"), [(-85.0, 196.0, True), (-108.0, 18.0, False), (20.0, 196.0, False)]
)
def test_two_antennas_differ_in_q_and_what_joins_one_changes_r_alone(r, q, expected):
    parts = {"r": Part(r, 5.0), "q": Part(q, 5.0)}
    seen = Seen(parts=parts, dip_kept=True, dips_hz=(None, None), swr=(None, None), at_feedpoint=True)
    assert has_two_antennas_q(seen) is expected


@pytest.mark.parametrize("state", ["common-mode", "no-counterpoise"])
@pytest.mark.parametrize("number", range(4))
def test_coax_and_counterpoise_of_wire_models_are_no_two_antennas(number, state):
    (setup,) = [one for one in setups() if one.name == f"end-fed/{number}"]
    good, now = (_seen(setup.states[each], setup.f_hz) for each in ("healthy", state))
    common = find_common([good.planes.measured, now.planes.measured])
    assert not has_two_antennas_q(
        describe_shift(good, now, common, usual_spread("joined-anew", is_whip=False))
    )


def _seen(impedance, f_hz):
    z = impedance(f_hz)
    sweep = Sweep.from_gamma(f_hz, (z - 50) / (z + 50))
    return review(sweep, measured_at="feedpoint", bands=(), draws=0)


def test_low_radials_that_are_off_may_take_r_along():
    """Two of four off: the dip 3.4 % up and R a third down, where radials that stand high would bring more R."""
    good = swept(whip(7.04e6, 17.0, 1000.0), 1)
    named, _ = weights(swept(whip(7.28e6, 11.7, 1040.0), 2), good, kind="loaded-whip", rung="joined-anew")
    assert named[0] == "radial-off"


def test_coax_that_nobody_spoke_of_weighs_little_at_the_feedpoint():
    good, now = swept(whip(7.04e6, 17.0, 1000.0), 1), swept(whip(7.20e6, 20.0, 1000.0), 2)
    known = {"kind": "loaded-whip", "rung": "joined-anew"}
    _, silent = weights(now, good, **known)
    _, spoken = weights(now, good, changed="coax", **known)
    assert silent.get("common-mode", 0.0) < spoken["common-mode"]
    assert NO_COAX < 1


@pytest.mark.identity
@pytest.mark.parametrize("size", [0.02, 1.3])
def test_what_is_rough_is_off_by_no_more_than_an_antenna_may_be(size):
    scene = scene_of("dipole")
    h, u = np.zeros((1, scene.sigmas.size)), np.array([[0.0, 1.0, 0.0, 0.0, 0.0]])
    act = roughly(lambda s, h, u: s.healthy(h) + size, 0.3)
    off = np.abs(act(scene, h, u) - scene.healthy(h) - size).max() * np.sqrt(2)
    assert off == pytest.approx(0.3 * size / np.hypot(1, 0.3 * size / ROUGHEST), rel=1e-6)
    assert off < ROUGHEST


@pytest.mark.parametrize(("weight", "alone"), [(0.44, False), (0.8, True)])
def test_that_nothing_else_holds_is_said_where_it_is_likely(weight, alone):
    causes = [
        Hypothesis(code, share, ("a",), (), step_of(code), CAUSES[code].test)
        for code, share in (("other-antenna", weight), ("loose-joint", 1 - weight))
    ]
    assert is_other_antenna(causes) is alone
    assert (say_missing(causes, 0.0, None, Analyzer()) is not None) is alone
