"""Sweeps over many bands: a station that was put up again is not called faulty, and a wire slides behind its box."""

from __future__ import annotations

import numpy as np
import pytest

from sweepkit.comparison import compare_setups, setups_from_sweeps
from sweepkit.comparison.answer import NOT_SHOWN, ONE_DIP
from sweepkit.diagnosis.acting.box import BOXES, before, behind
from sweepkit.diagnosis.acting.healthy import _bands, healthy_sigmas
from sweepkit.diagnosis.acting.scene import scene_with_baseline
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.sweep import Sweep
from tests.diagnosis.laboratory import act
from tests.diagnosis.wide import wide_setups
from tests.models.set_ups import make_coax

F_HZ = np.linspace(3e6, 30e6, 401)
NARROW_HZ = np.linspace(6e6, 8.4e6, 201)
SPEED_M_S = 299_792_458.0  # exact, SI


def end_fed_ohm(f_hz, wire_m=20.3):
    """A wire of its own as an open line that loses a little, seen through 49 to 1."""
    turn = 0.1 * wire_m / 10 + 2j * np.pi * f_hz * wire_m / (0.965 * SPEED_M_S)
    y = 49 * np.tanh(turn) / 550 + 1 / 900 + 1 / (2j * np.pi * f_hz * 9e-6) + 2j * np.pi * f_hz * 60e-12
    return 1 / y


def swept(z_ohm, seed, *, f_hz=F_HZ):
    """Through 6 m of coax, by an analyzer with errors of its own."""
    coax = make_coax("RG-58", 6.0, np.random.default_rng(5))
    z = coax.seen_through(f_hz, z_ohm)
    gamma, dice = (z - 50) / (z + 50), np.random.default_rng(seed)
    error = 0.006 * np.exp(2j * np.pi * 0.3)
    noise = 0.0008 * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size))
    return Sweep.from_gamma(f_hz, error + gamma * (1 + 0.005j) / (1 - 0.01 * gamma) + noise)


GOOD, LONGER = swept(end_fed_ohm(F_HZ), 1), swept(end_fed_ohm(F_HZ, 20.3 * 1.008), 2)
TOLD = {"kind": "end-fed", "lines": ["RG-58 6 m"], "measured_at": "radio", "draws": 0}


@pytest.mark.identity
@pytest.mark.parametrize("kind", BOXES)
def test_behind_a_box_and_before_it_are_the_same_way(kind):
    z = np.array([3.0 - 20j, 0.4 + 0.1j, 1.0, 60 + 2j])
    f_hz = np.array([3e6, 7e6, 14e6, 29e6])
    wire = behind(BOXES[kind], f_hz, z, reference_ohm=50.0)
    assert np.all(wire.real > 0)
    assert np.allclose(before(BOXES[kind], f_hz, wire, reference_ohm=50.0), z, rtol=1e-10)


@pytest.mark.identity
def test_what_differs_from_band_to_band_is_nothing_where_the_sweep_answers_most():
    answers = 1 / (1 + 20j * (F_HZ / 14e6 - 14e6 / F_HZ))
    bands = _bands(F_HZ, answers)
    home = int(np.argmax(np.abs(answers)))
    assert np.allclose(bands[home], 0, atol=1e-12)
    assert np.allclose(bands[np.abs(np.log(F_HZ / F_HZ[home])) < 0.17], 0, atol=1e-12)
    assert bands[0, 0] == pytest.approx(1, abs=0.02)
    assert np.linalg.eigvalsh(bands).min() > -1e-9


@pytest.mark.identity
def test_evidence_counts_as_ever_round_one_dip_and_for_less_over_many_bands():
    scenes = [
        scene_with_baseline(
            f_hz,
            gamma,
            (f_hz, gamma),
            None,
            end="antenna",
            reference_ohm=50.0,
            sigmas=healthy_sigmas("end-fed", "joined-anew"),
            parallel=True,
            box=BOXES["end-fed"],
        )
        for f_hz in (NARROW_HZ, F_HZ)
        for gamma in [(end_fed_ohm(f_hz) - 50) / (end_fed_ohm(f_hz) + 50)]
    ]
    assert scenes[0].bands == 1
    assert scenes[1].bands == pytest.approx(np.log(10) / 0.35)
    assert scenes[0].home_hz == pytest.approx(NARROW_HZ.mean())
    assert scenes[1].home_hz == pytest.approx(7.1e6, rel=0.08)


def test_a_wire_put_up_again_a_little_longer_is_not_called_faulty():
    answer = diagnose([LONGER], baseline=GOOD, rung="put-up-again", **TOLD)
    assert answer.changed == "no"
    assert max(one.weight for one in answer.hypotheses) < answer.nothing_wrong


def test_a_wire_that_kept_standing_and_is_longer_is_no_loose_joint():
    answer = diagnose([LONGER], baseline=GOOD, rung="joined-anew", **TOLD)
    weights = {one.code: one.weight for one in answer.hypotheses}
    assert answer.changed == "yes"
    assert weights.get("loose-joint", 0.0) < 0.1
    assert answer.hypotheses[0].code in ("wet-wire", "length-changed", "touching", "hot-drift")


def test_stations_put_up_again_are_not_called_faulty():
    """One of each kind of the laboratory, once; its tables are in docs/diagnose.md."""
    kinds = {setup.name.split("/")[0]: setup for setup in wide_setups(3)}
    cases = [act("nothing", setup, "put-up-again", (3, k)) for k, setup in enumerate(kinds.values())]
    assert sum(case.diagnosed(told=True).changed == "yes" for case in cases) == 0


def test_a_joint_in_the_line_is_found_over_many_bands():
    setup = next(one for one in wide_setups(3) if one.kind == "dipole")
    case = act("series joint", setup, "joined-anew", (4, 1))
    assert case.diagnosed(told=True).hypotheses[0].code == "loose-joint"


def test_compare_says_that_one_dip_of_many_bands_is_compared():
    told = {"told": {"kind": "end-fed"}, "lines": ["RG-58 6 m"], "measured_at": "radio", "draws": 0}
    wide = compare_setups(setups_from_sweeps([GOOD, LONGER], **told))
    narrow = [swept(end_fed_ohm(NARROW_HZ), seed, f_hz=NARROW_HZ) for seed in (3, 4)]
    assert wide.not_shown == (NOT_SHOWN, ONE_DIP)
    assert compare_setups(setups_from_sweeps(narrow, **told)).not_shown == (NOT_SHOWN,)


def test_what_compare_calls_the_same_and_diagnose_changed_is_said():
    dice = np.random.default_rng(9)
    noise = 0.001 * (dice.standard_normal(F_HZ.size) + 1j * dice.standard_normal(F_HZ.size))
    jumped = Sweep.from_gamma(F_HZ, GOOD.gamma + noise + 0.15 * (F_HZ > 24e6))
    answer = diagnose([jumped], baseline=GOOD, rung="put-up-again", **TOLD)
    assert answer.changed == "yes"
    assert any("compare" in note for note in answer.notes)
