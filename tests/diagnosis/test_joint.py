"""Joints behind a line that is off what was told of it, as lines are; most of all where the antenna hangs on it."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.antennas.rungs import body_of_kind
from sweepkit.diagnosis.acting.causes.joint import SERIES_OHM, joints
from sweepkit.diagnosis.acting.healthy import healthy_sigmas
from sweepkit.diagnosis.acting.priors import normal_at
from sweepkit.diagnosis.acting.scene import scene_with_baseline
from sweepkit.diagnosis.acting.walk import lay_walk, reflection
from sweepkit.feedline.chain import LineChain
from sweepkit.lines import catalogued_piece, default_length_sigma_m
from tests.diagnosis.faults import setups
from tests.diagnosis.laboratory import act

F_HZ = np.linspace(6.5e6, 7.7e6, 60)
TOLD = [catalogued_piece("RG-58", 10.0), catalogued_piece("RG-174", 3.0)]
LONGER, OHMS = 1.013, 1.011  # waves and impedance of the line over what was told
OHM = 15.0


def antenna():
    return 60 * (1 + 24j * np.log(F_HZ / 7.1e6)) / 50


def through_line(z, walk):
    """Reflection at the radio through the line as it really is."""
    pair = (z[None, :], np.ones((1, F_HZ.size), dtype=complex))
    return reflection(walk.carry(pair, 0.0, walk.length_m, turns=LONGER, z_factor=OHMS))[0]


def scene_of(now_z):
    chain = LineChain(TOLD)
    walk = lay_walk(F_HZ, chain, reference_ohm=50.0)
    good, now = through_line(antenna(), walk), through_line(now_z, walk)
    sigmas = healthy_sigmas(body_of_kind("dipole"), "joined-anew")
    return scene_with_baseline(
        F_HZ, now, (F_HZ, good), chain, end="antenna", reference_ohm=50.0, sigmas=sigmas
    )


@pytest.mark.identity
def test_back_along_a_line_undoes_the_way_forth():
    walk = lay_walk(F_HZ, LineChain(TOLD), reference_ohm=50.0)
    far = antenna()[None, :], np.ones((1, F_HZ.size), dtype=complex)
    for near_m in (0.0, 4.0, 10.0, 11.5):
        swept = walk.carry(far, 0.0, walk.length_m, turns=LONGER, z_factor=OHMS)
        back = walk.carry_back(swept, near_m, turns=LONGER, z_factor=OHMS)
        forth = walk.carry(far, near_m, walk.length_m, turns=LONGER, z_factor=OHMS)
        assert np.allclose(back, forth, atol=1e-12)


@pytest.mark.identity
def test_a_joint_at_the_antenna_is_exact_once_the_line_is_as_it_is():
    """As told it leaves hundredths, behind which other soil fits as well."""
    scene = scene_of(antenna() + OHM / 50)
    at_antenna = [story for story in joints(scene, chance=1.0) if len(story.starts[0]) == 5][2]
    waves, ohms = scene.line_sigmas
    share = np.log(OHM / SERIES_OHM[0]) / np.log(SERIES_OHM[1] / SERIES_OHM[0])
    size = float(normal_at(np.array([share]))[0])
    own = np.array([[size, -8.0, 0.0, (LONGER - 1) / waves, (OHMS - 1) / ohms], [size, -8.0, 0.0, 0.0, 0.0]])
    h = np.zeros((2, scene.sigmas.size))
    left = np.abs(at_antenna.act(scene, h, at_antenna.guess(own)) - scene.now).max(axis=1)
    assert left[0] < 1e-4
    assert left[1] > 20 * left[0]
    assert at_antenna.place_m(scene, own)[0] == pytest.approx(13.0)


@pytest.mark.identity
def test_joints_are_met_as_often_as_the_table_says_and_only_where_a_line_has_connectors():
    scene = scene_of(antenna())
    stories = list(joints(scene, chance=0.8))
    assert sum(story.chance for story in stories) == pytest.approx(0.8)
    placed = [story for story in stories if story.place_m is not None]
    at_m = [[float(story.place_m(scene, start[None])[0]) for start in story.starts] for story in placed]
    assert sorted({own[0] for own in at_m if len({*own}) == 1}) == pytest.approx([0.0, 10.0, 13.0])
    assert sum(len({*own}) > 1 for own in at_m) == 2  # anywhere, in series and across


@pytest.mark.parametrize(
    ("number", "rung", "named"), [(0, "swept-again", 1), (2, "swept-again", 1), (1, "joined-anew", 2)]
)
def test_a_joint_where_the_antenna_hangs_on_the_line_is_a_joint(number, rung, named):
    """Behind lines of the laboratory, which are off their told length, speed and impedance as lines are."""
    dipoles = [setup for setup in setups() if setup.kind == "dipole"]
    case = act("feedpoint joint", dipoles[number], rung, (19, number))
    answer = case.diagnosed(told=True)
    (found,) = [one for one in answer.hypotheses[:named] if one.code == "loose-joint"]
    told_m = float(case.line[0].split()[1])
    assert found.distance_m.value == pytest.approx(told_m, abs=0.5)
    assert case.place_m == pytest.approx(told_m, abs=3 * default_length_sigma_m(told_m))
