"""The diagnosis from sweeps: one, a pair, A-B-A, and input that does not allow one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.errors import BadInput
from sweepkit.feedline.plane import add_chain
from sweepkit.lines import LinePiece, catalogued_piece
from sweepkit.readers import read_sweep
from sweepkit.sweep import Sweep
from tests.coverage.antennas import series
from tests.diagnosis.modelled import nominal, swept

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"
F_HZ = np.linspace(6.5e6, 7.7e6, 151)
WIDE_HZ = np.linspace(1e6, 60e6, 301)
DRAWS = {"draws": 50}


def sample(name: str) -> Sweep:
    return read_sweep(SAMPLES / f"{name}.s1p")


def resonator(f0_hz=7.1e6, r_ohm=60.0, q=12.0, seed=0, f_hz=F_HZ, **known) -> Sweep:
    return swept(series(r_ohm, q, f0_hz), f_hz, np.random.default_rng(seed), **known)


def bare_line(end: float, pieces: list[LinePiece], seed: int = 0) -> Sweep:
    dice = np.random.default_rng(seed)
    gamma = add_chain(WIDE_HZ, np.full(WIDE_HZ.shape, end, dtype=complex), nominal(pieces))[0]
    scatter = dice.standard_normal((2, WIDE_HZ.size)) * 0.001
    return Sweep.from_gamma(WIDE_HZ, gamma + scatter[0] + 1j * scatter[1])


def codes(answer):
    return [one.code for one in answer.hypotheses]


def test_one_sweep_of_an_antenna_names_nothing_and_asks_for_another():
    for sweep in (sample("ridge_dipole_40m"), sample("spit_whip_40m"), resonator()):
        answer = diagnose([sweep], **DRAWS)
        assert (answer.changed, answer.nothing_wrong, answer.false_alarm_rate) == ("cannot_say", 0.5, 0.0)
        assert codes(answer) == ["something-else"]
        assert "--baseline" in answer.cannot_say
        assert "A, B and A again" in answer.cannot_say


def test_a_broken_line_is_named_with_its_distance():
    answer = diagnose([sample("broken_line")], lines=["RG-58 20 m"], **DRAWS)
    assert codes(answer)[0] == "open-line"
    assert len(answer.hypotheses) >= 2
    distance = answer.hypotheses[0].distance_m
    assert distance.low <= 11.0 <= distance.high  # broken there by make_lines.py


@pytest.mark.parametrize(("end", "code"), [(1.0, "open-line"), (-1.0, "shorted-line")])
def test_a_bare_line_is_named_and_never_alone(end, code):
    answer = diagnose([bare_line(end, [catalogued_piece("RG-58", 12.0)])], **DRAWS)
    assert codes(answer)[0] == code
    assert len(answer.hypotheses) >= 2


@pytest.mark.identity
def test_the_distance_is_that_of_the_delay():
    length_m = 0.66 * 299_792_458 * 100e-9 / 2  # 100 ns round trip at velocity factor 0.66: 9.8932 m
    piece = LinePiece(
        "ideal", z0_ohm=50.0, velocity_factor=0.66, k1_db_per_100m=0.0, k2_db_per_100m=0.0, length_m=length_m
    )
    told = replace(piece, length_m=30.0, velocity_factor_sigma=1e-6, length_sigma_m=1e-6)
    answer = diagnose([bare_line(1.0, [piece])], lines=[told], **DRAWS)
    # 2 cm: a fit through noise of 0.0014
    assert answer.hypotheses[0].distance_m.value == pytest.approx(length_m, abs=0.02)


def test_a_piece_of_75_ohm_is_named():
    answer = diagnose([sample("mixed_chain_open")], **DRAWS)
    assert codes(answer)[0] == "wrong-impedance-piece"
    assert answer.hypotheses[0].distance_m.value == pytest.approx(8, rel=0.25)  # velocity factor untold


def test_a_jump_inside_one_sweep_is_a_joint():
    sweep = resonator()
    gamma = np.array(sweep.gamma)
    gamma[80:] += 0.2
    answer = diagnose([Sweep.from_gamma(F_HZ, gamma)], **DRAWS)
    assert codes(answer) == ["loose-joint", "interference"]


def test_an_equal_pair_has_not_changed():
    answer = diagnose([resonator(seed=1), resonator(seed=2)], **DRAWS)
    assert (answer.changed, answer.cannot_say) == ("no", None)
    assert answer.nothing_wrong > 0.7
    assert 0 < answer.false_alarm_rate <= 0.1


def test_a_baseline_is_the_one_before():
    before, now = resonator(), resonator(7.3e6, seed=1)
    by_baseline = diagnose([now], baseline=before, kind="dipole", **DRAWS)
    assert by_baseline == diagnose([before, now], kind="dipole", **DRAWS)
    assert codes(by_baseline)[0] == "length-changed"


def test_a_line_fault_against_a_baseline_has_its_distance():
    line = catalogued_piece("RG-58", 15.0)
    good = swept(series(60, 12, 14.1e6), WIDE_HZ, np.random.default_rng(3), line=[line])
    broken = bare_line(1.0, [catalogued_piece("RG-58", 6.0)])
    answer = diagnose([broken], baseline=good, lines=[line], kind="vertical", **DRAWS)
    assert answer.changed == "yes"
    assert codes(answer)[0] == "open-line"
    assert answer.hypotheses[0].distance_m.value == pytest.approx(6.0, abs=0.3)


def test_a_b_a_that_comes_back_and_one_that_does_not():
    steady = [resonator(seed=1), resonator(7.2e6, seed=2), resonator(seed=3)]
    moving = [resonator(seed=1), resonator(7.2e6, seed=2), resonator(7.15e6, seed=3)]
    back, away = (
        diagnose(sweeps, kind="dipole", changed="moved coax", **DRAWS) for sweeps in (steady, moving)
    )
    assert back.changed == away.changed == "yes"
    assert "Repeats agree" in back.summary
    assert "Repeats do not agree" in away.summary
    said = [text for one in away.hypotheses for text in (*one.evidence_for, *one.evidence_against)]
    assert any("something still moves" in text for text in said)


def test_several_sweeps_against_a_baseline_are_its_repeats():
    now = [resonator(7.3e6, seed=1), resonator(7.3e6, seed=2), resonator(7.3e6, seed=3)]
    answer = diagnose(now, baseline=resonator(), kind="dipole", **DRAWS)
    assert answer.changed == "yes"
    assert "Repeats agree" in answer.summary


def test_no_common_frequencies_say_what_to_sweep():
    answer = diagnose([resonator(), resonator(14.1e6, f_hz=np.linspace(13e6, 15e6, 151))], **DRAWS)
    assert answer.changed == "cannot_say"
    assert "sweep the same span" in answer.cannot_say


def test_sweeps_of_two_planes_are_not_compared():
    radio, feedpoint = (replace(resonator(), measured_at=place) for place in ("radio", "feedpoint"))
    answer = diagnose([radio, feedpoint], **DRAWS)
    assert answer.changed == "cannot_say"
    assert "same place" in answer.cannot_say


def test_a_plane_that_moved_untold_is_the_first_cause():
    answer = diagnose([sample("valley_dipole_rg58")], baseline=sample("valley_dipole_feedpoint"), **DRAWS)
    assert codes(answer)[0] == "wrong-plane"


def test_a_jagged_sweep_is_not_compared():
    noisy = resonator(noise=0.2)
    answer = diagnose([noisy], baseline=resonator(), **DRAWS)
    assert answer.changed == "cannot_say"
    assert "jagged" in answer.cannot_say


def test_without_phase_the_shift_still_shows_and_what_is_missing_is_said():
    before, now = (Sweep.from_magnitude(F_HZ, resonator(f0).gamma_abs) for f0 in (7.1e6, 7.3e6))
    answer = diagnose([before, now], kind="dipole", lines=["RG-58 10 m"], **DRAWS)
    assert answer.changed == "yes"
    assert "R and Q" in answer.cannot_say
    assert any("no phase" in note for note in answer.notes)


def test_another_antenna_is_doubted():
    answer = diagnose([sample("spit_whip_40m")], baseline=sample("ridge_dipole_40m"), **DRAWS)
    assert answer.changed == "yes"
    assert "this antenna" in answer.cannot_say
    assert codes(answer)[0] == "other-antenna"


def test_put_up_again_is_held_against_the_spread_of_that():
    pair = [resonator(), resonator(7.1e6 * 1.004, r_ohm=63.0, seed=1)]
    again = diagnose(pair, changed="put up again", **DRAWS)
    assert again.changed == "no"


def test_more_than_three_sweeps_and_an_unknown_kind_are_refused():
    with pytest.raises(BadInput, match="expected one to 3"):
        diagnose([resonator()] * 4, **DRAWS)
    with pytest.raises(BadInput, match="kind 'beam' is not known"):
        diagnose([resonator()], kind="beam", **DRAWS)


def test_the_same_seed_gives_the_same_answer():
    sweeps = [resonator(), resonator(7.25e6, seed=1)]
    assert diagnose(sweeps, kind="dipole", seed=4, **DRAWS) == diagnose(
        sweeps, kind="dipole", seed=4, **DRAWS
    )


MANY_BANDS_HZ = np.linspace(3e6, 30e6, 401)


def standing_wire(length: float, loss: float, metres: float, seed: int) -> Sweep:
    """Legs as an open line that loses a little, behind coax, over many bands; put up so much longer, so much lossier.

    No shape of the curve is left over but noise and the offset of a new calibration.
    """
    dice = np.random.default_rng(seed)
    share = MANY_BANDS_HZ / 7e6 * length
    z = 1000 / np.tanh(0.065 * loss * share**0.35 + 0.5j * np.pi * share)
    gamma = (z - 50) / (z + 50)
    f_mhz = MANY_BANDS_HZ / 1e6
    lost_db = (1.27 * np.sqrt(f_mhz) + 0.005 * f_mhz) * metres / 100
    gamma = gamma * 10 ** (-lost_db / 10) * np.exp(-4j * np.pi * f_mhz * metres / 299.792458 / 0.66)
    offset = 0.007 * complex(*dice.standard_normal(2))
    noise = 0.0007 * dice.standard_normal((2, f_mhz.size))
    return Sweep.from_gamma(MANY_BANDS_HZ, gamma + offset + noise[0] + 1j * noise[1])


def test_a_wire_put_up_again_just_as_it_was_is_no_change_where_nobody_tells():
    before, now = standing_wire(1.0, 1.0, 15.0, 1), standing_wire(1.004, 1.07, 15.01, 2)
    told = {"kind": "dipole", "lines": ["RG-58 15 m"], "draws": 0}
    answer = diagnose([now], baseline=before, **told)
    assert answer.nothing_wrong > 0.2
    assert answer.changed == "no" or "--put-up-again" in answer.cannot_say
    assert diagnose([now], baseline=before, rung="put-up-again", **told).changed == "no"
