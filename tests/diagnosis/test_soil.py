"""Other soil: what the image of a wire adds, and that wire models with other soil are known by it."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.diagnosis.acting.causes.shield_current import boxed, unboxed
from sweepkit.diagnosis.acting.causes.soil import (
    LEVEL,
    OF_A_CLASS,
    SUSCEPTANCE,
    TURNS,
    other_soils,
)
from tests.diagnosis.faults import setups
from tests.diagnosis.laboratory import act
from tests.diagnosis.test_causes import F_HZ, scene_of

CHANCES = {"drier-soil": 0.6, "wetter-soil": 0.6}


def ohm(gamma):
    return 50 * (1 + gamma) / (1 - gamma)


@pytest.mark.identity
def test_an_image_adds_its_impedance_and_turns_by_twice_the_height():
    """Drier soil under a level wire: 3 ohm and -2.5 ohm in mid-sweep, beside a curve that stays where it was."""
    scene = scene_of("dipole")
    drier, wetter = other_soils("dipole", CHANCES, rung="put-up-again")
    h, u = np.zeros((1, scene.sigmas.size)), np.zeros((1, 3))
    added = ohm(drier.act(scene, h, drier.guess(u))[0]) - ohm(scene.healthy(h)[0])
    middle = F_HZ.size // 2
    assert added[middle] == pytest.approx(50 * (LEVEL[0][0] + 1j * LEVEL[1][0]), rel=0.02)
    turned = np.angle(added[-1] / added[0]) / (np.ptp(F_HZ) / F_HZ.mean())
    assert turned == pytest.approx(-np.sqrt(TURNS[0] * TURNS[1]), rel=1e-3)
    assert ohm(wetter.act(scene, h, wetter.guess(u))[0]) - ohm(scene.healthy(h)[0]) == pytest.approx(
        -added, rel=1e-6
    )


@pytest.mark.identity
def test_behind_a_box_the_wires_admittance_alone_changes():
    """With parameters that cancel the trend nothing does, whatever box and counterpoise are; nor does a box alone."""
    scene = scene_of("end-fed")
    drier, _ = other_soils("end-fed", CHANCES, rung="put-up-again")
    h, u = np.zeros((1, scene.sigmas.size)), np.full((1, 9), 0.7)
    u[0, 0], u[0, 8] = 0.0, 0.0
    still, moved = u.copy(), u.copy()
    still[0, 1], moved[0, 1] = -SUSCEPTANCE / 0.07, 2.0
    assert drier.act(scene, h, drier.guess(still))[0] == pytest.approx(scene.healthy(h)[0], abs=1e-9)
    assert np.abs(drier.act(scene, h, drier.guess(moved))[0] - scene.healthy(h)[0]).max() > 0.03
    pair = scene.far_end(h)
    for through in (
        lambda p: boxed(scene, unboxed(scene, p, u), u),
        lambda p: unboxed(scene, boxed(scene, p, u), u),
    ):
        assert np.allclose(through(pair), pair, atol=1e-12)


@pytest.mark.identity
@pytest.mark.parametrize("kind", ["dipole", "vertical", "end-fed"])
def test_rain_on_an_antenna_that_stands_is_a_part_of_a_class(kind):
    """The same parameters make as much smaller an addition; untold it lies between."""
    scene = scene_of(kind)
    moved = {}
    for rung in ("swept-again", "joined-anew", None, "put-up-again"):
        drier, _ = other_soils(kind, CHANCES, rung=rung)
        h, u = np.zeros((1, scene.sigmas.size)), 0.0 * drier.starts[:1]
        moved[rung] = float(np.abs(drier.act(scene, h, drier.guess(u)) - scene.healthy(h)).mean())
    assert moved["swept-again"] == moved["joined-anew"] < moved[None] < moved["put-up-again"]
    assert moved["joined-anew"] / moved["put-up-again"] == pytest.approx(OF_A_CLASS, rel=0.05)


@pytest.mark.identity
def test_the_part_is_that_of_a_wet_layer_of_20_cm_on_soil_that_stayed():
    """Mean over 7 and 14 MHz and two steps of soil; upright incidence on a layer (Pozar 2012, section 2.5)."""
    steps = [((5, 0.002), (13, 0.005)), ((13, 0.005), (20, 0.03))]
    parts = []
    for f_hz in (7.1e6, 14.1e6):
        for before, after in steps:
            n0, n1 = (np.sqrt(e - 1j * s / (2 * np.pi * f_hz * 8.854e-12)) for e, s in (before, after))
            top, under = (1 - n1) / (1 + n1), (n1 - n0) / (n1 + n0)
            twice = np.exp(-4j * np.pi * f_hz * n1 * 0.2 / 2.998e8)
            layered = (top + under * twice) / (1 + top * under * twice)
            still = (1 - n0) / (1 + n0)
            parts.append(abs(layered - still) / abs(top - still))
    assert np.mean(parts) == pytest.approx(OF_A_CLASS, abs=0.05)


def test_a_whip_answers_as_the_table_has_it():
    assert not list(other_soils("loaded-whip", CHANCES))


@pytest.mark.parametrize("name", ["dipole/0", "dipole/2", "end-fed/0", "end-fed/1"])  # 0.05 rms or more
def test_other_soil_under_a_wire_that_stayed_is_among_the_first_two(name):
    setup = next(one for one in setups() if one.name == name)
    truth = next(state for state in ("wetter-soil", "drier-soil") if state in setup.states)
    answer = act(truth, setup, "joined-anew", (5, 1)).diagnosed(told=True)
    assert answer.changed == "yes"
    assert truth in [one.code for one in answer.hypotheses[:2]]
