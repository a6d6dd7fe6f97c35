"""The whole way from a sweep to the plan, on modelled antennas and the samples."""

from dataclasses import replace

import numpy as np
import pytest

from sweepkit.antennas.kind import Known
from sweepkit.conversions import gamma_from_z
from sweepkit.errors import BadInput
from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.plane import add_chain
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer, Kit
from sweepkit.lines import parse_piece
from sweepkit.readers import read_sweep
from sweepkit.report.trim_page import headline, trim_page
from sweepkit.reviews.planes import lay_out_planes
from sweepkit.sweep import Source, Sweep
from sweepkit.trim.aim import best_scale
from sweepkit.trim.from_sweep import plan_trim
from sweepkit.trim.seen import SeenSweep
from sweepkit.trim.wire import EarlierState
from tests.models.make_tables import read_table
from tests.models.trim_study import _analyzer, _lines
from tests.test_sample_sweeps import SAMPLES
from tests.trim.views import dips_at_feedpoint

NOISE = 0.001


def sweep_of(table, *, low_hz=0.0, high_hz=1e12, line=None, noise=NOISE, seed=0, every=1):
    """A committed model table as a sweep, through a line where one is named."""
    f_hz, z_ohm = read_table(table)
    kept = (f_hz >= low_hz) & (f_hz <= high_hz)
    f_hz, z_ohm = f_hz[kept][::every], z_ohm[kept][::every]
    gamma = gamma_from_z(z_ohm, 50.0)
    dice = np.random.default_rng(seed)
    if line is not None:
        gamma = add_chain(f_hz, gamma, draw_chain(LineChain((parse_piece(line),)), dice, 0))[0]
    parts = dice.standard_normal((2, f_hz.size)) * noise / np.sqrt(2)
    return Sweep.from_gamma(f_hz, gamma + parts[0] + 1j * parts[1], source=Source(path=f"{table}.s1p"))


def test_the_dip_of_a_wide_sweep_is_the_one_of_the_length():
    answer = plan_trim(
        sweep_of("dipole_40m_wide"), kind="dipole", length_m=10.2, target_hz=7.1e6, measured_at="feedpoint"
    )
    assert answer.plan.now_hz.value == pytest.approx(7.056e6, rel=2e-3)
    wide = sweep_of("end_fed_40m_wide")
    answer = plan_trim(wide, kind="end-fed", length_m=20.3, target_hz=7.1e6, measured_at="feedpoint")
    assert answer.plan.now_hz.value == pytest.approx(6.92e6, rel=4e-3)


def test_a_known_line_changes_the_answer_little_and_its_certainty_not_much():
    asked = {"kind": "dipole", "length_m": 10.2, "target_hz": 7.1e6, "by": "cut"}
    there = plan_trim(sweep_of("dipole_40m"), **asked, measured_at="feedpoint").plan
    behind = plan_trim(sweep_of("dipole_40m", line="RG-58 20 m"), **asked, lines=["RG-58 20 m"]).plan
    untold = plan_trim(sweep_of("dipole_40m", line="RG-58 20 m"), **asked).plan
    assert behind.now_hz.value == pytest.approx(there.now_hz.value, rel=5e-4)
    width = {name: p.now_hz.high - p.now_hz.low for name, p in (("told", behind), ("untold", untold))}
    assert width["untold"] > 1.3 * width["told"]


def test_magnitudes_alone_suffice():
    full = sweep_of("dipole_40m")
    bare = Sweep.from_magnitude(full.f_hz, full.gamma_abs)
    asked = {"kind": "dipole", "length_m": 10.2, "target_hz": 7.1e6}
    answer = plan_trim(bare, **asked).plan
    assert answer.now_hz.low < 7.056e6 < answer.now_hz.high
    assert answer.action == "shorten" or answer.action == "leave"


def test_a_dip_just_outside_the_sweep_is_found_with_a_wider_interval():
    inside = plan_trim(
        sweep_of("dipole_40m"), kind="dipole", length_m=10.2, target_hz=7.2e6, measured_at="feedpoint"
    ).plan
    beyond = plan_trim(
        sweep_of("dipole_40m", low_hz=7.2e6),
        kind="dipole",
        length_m=10.2,
        target_hz=7.2e6,
        measured_at="feedpoint",
    ).plan
    assert beyond.now_hz.value == pytest.approx(7.056e6, rel=2e-3)
    assert beyond.now_hz.low < 7.056e6 < beyond.now_hz.high
    assert (beyond.now_hz.high - beyond.now_hz.low) > 1.5 * (inside.now_hz.high - inside.now_hz.low)


# A sound sweep is not refused for a dip at its very edge, whichever side of it, and one sweep is asked for.
@pytest.mark.parametrize("low_hz", [7.00e6, 7.05e6, 7.06e6, 7.10e6])
def test_a_dip_at_the_edge_is_answered_with_one_sweep_to_take(low_hz):
    sweep = sweep_of("dipole_40m", low_hz=low_hz)
    answer = plan_trim(sweep, kind="dipole", length_m=10.2, target_hz=7.2e6, measured_at="feedpoint").plan
    assert answer.now_hz.low < 7.056e6 < answer.now_hz.high
    assert answer.now_hz.value == pytest.approx(7.056e6, rel=2e-3)
    said = [finding for finding in answer.findings if "sweep again" in finding.next_step]
    assert len(answer.next_sweeps) == (low_hz > 7.03e6)
    assert not said
    assert all(wanted.start_hz < 7.0e6 and wanted.stop_hz > 7.2e6 for wanted in answer.next_sweeps)


def test_a_dip_far_outside_the_sweep_asks_for_another_sweep():
    answer = plan_trim(
        sweep_of("dipole_40m", low_hz=7.7e6), kind="dipole", length_m=10.2, target_hz=7.1e6
    ).plan
    assert answer.action == "cannot_say"
    assert answer.now_hz.value is None
    wanted = answer.next_sweeps[0]
    assert wanted.start_hz < 7.05e6 < wanted.stop_hz
    assert wanted.start_hz < 7.1e6 < wanted.stop_hz


def test_a_sweep_too_coarse_for_a_whip_asks_for_another_sweep():
    coarse = read_sweep(SAMPLES / "spit_whip_40m_coarse.s1p")
    answer = plan_trim(coarse, kind="loaded-whip", length_m=2.6, target_hz=7.1e6).plan
    assert answer.action == "cannot_say"
    wanted = answer.next_sweeps[0]
    step_hz = (wanted.stop_hz - wanted.start_hz) / (wanted.points - 1)
    assert wanted.start_hz < 7.1e6 < wanted.stop_hz
    assert step_hz < 92e3 / 7  # the dip is 92 kHz wide, seven points inside are wanted


def test_a_random_wire_is_never_trimmed():
    answer = plan_trim(sweep_of("dipole_40m"), kind="random-wire", length_m=16.2, target_hz=7.1e6).plan
    assert answer.action == "leave"
    assert answer.first_move.by == "none"
    assert answer.first_move.m == 0
    assert "there is nothing to trim" in answer.reason
    assert answer.change_m.value is None


def test_a_band_is_fitted_with_the_line_put_back():
    line = "RG-59 11 m"  # 75 ohm: it moves the best place
    sweep = sweep_of("dipole_40m", line=line)
    answer = plan_trim(
        sweep, kind="dipole", length_m=10.2, band_hz=(7.0e6, 7.3e6), lines=[line], draws=50
    ).plan
    told = [finding for finding in answer.findings if finding.code == "band-target"]
    worst_told = float(told[0].text.rsplit(" ", 1)[1])
    scale = answer.target_hz / 7.056e6
    f_hz, z_ohm = read_table("dipole_40m")
    chain = draw_chain(LineChain((parse_piece(line),)), np.random.default_rng(0), 0)

    def worst(factor):
        band_hz = np.linspace(7.0e6, 7.3e6, 31)
        moved = np.interp(band_hz / factor, f_hz, z_ohm.real) + 1j * np.interp(
            band_hz / factor, f_hz, z_ohm.imag
        )
        size = np.abs(add_chain(band_hz, gamma_from_z(moved, 50.0), chain)[0])
        return ((1 + size) / (1 - size)).max()

    assert worst(scale) == pytest.approx(worst_told, abs=0.03)
    assert worst(scale) <= min(worst(scale * 0.99), worst(scale * 1.01))


def test_a_band_inside_the_limit_is_left_and_one_not_swept_is_said():
    good = plan_trim(
        read_sweep(SAMPLES / "ridge_dipole_40m.s1p"),
        kind="dipole",
        length_m=10.14,
        band_hz=(7.0e6, 7.2e6),
        measured_at="feedpoint",
    ).plan
    assert good.action == "leave"
    assert good.change_m.value is not None
    assert "SWR is 1.8 or less" in good.reason or "SWR is 1.7" in good.reason
    narrow = sweep_of("dipole_40m", low_hz=7.0e6, high_hz=7.12e6)
    answer = plan_trim(narrow, kind="dipole", length_m=10.2, band_hz=(7.0e6, 7.3e6)).plan
    assert "band-not-swept" in [finding.code for finding in answer.findings]


@pytest.mark.identity
def test_a_curve_that_was_moved_is_moved_back():
    f_hz, z_ohm = read_table("dipole_40m")

    def found(factor):
        (planes,) = lay_out_planes(
            [Sweep.from_gamma(f_hz * factor, gamma_from_z(z_ohm, 50.0))],
            chain=LineChain(()),
            measured_at="feedpoint",
            analyzer=Analyzer(),
            reference_ohm=50.0,
            draws=0,
            seed=0,
        )
        return best_scale(planes, 7.0e6, 7.2e6)

    here, moved = found(1.0), found(1.03)
    assert moved.scale * 1.03 == pytest.approx(here.scale, rel=2e-3)
    assert moved.worst_then == pytest.approx(here.worst_then, rel=5e-3)


def test_errors_name_the_sweep():
    with pytest.raises(BadInput, match=r"^dipole_40m\.s1p: a leg of 20\.40 m cannot belong"):
        plan_trim(sweep_of("dipole_40m"), kind="dipole", length_m=20.4, target_hz=7.1e6)
    with pytest.raises(BadInput, match=r"give either a target frequency or a band or segment"):
        plan_trim(sweep_of("dipole_40m"), kind="dipole", length_m=10.2)


def test_an_earlier_sweep_without_a_dip_is_refused():
    flat = replace(sweep_of("dipole_40m", low_hz=7.9e6), source=Source(path="flat.s1p"))
    with pytest.raises(BadInput, match=r"^flat\.s1p: --earlier .*no dip stands out in this sweep"):
        plan_trim(
            sweep_of("dipole_40m"),
            kind="dipole",
            length_m=10.2,
            target_hz=7.1e6,
            earlier=[(EarlierState("flat.s1p", 10.4, False, "cut"), flat)],
        )


def test_dips_of_a_view_are_those_of_the_model():
    f_hz, z_ohm = read_table("end_fed_40m")
    gamma = gamma_from_z(z_ohm, 50.0)
    (dip,) = dips_at_feedpoint(f_hz, gamma, draws=20)
    least = int(np.argmin(np.abs(gamma)))
    assert dip.measured_hz == pytest.approx(f_hz[least], abs=f_hz[1] - f_hz[0])
    assert dip.resonance == "parallel"
    assert dip.r_ohm[0] == pytest.approx(z_ohm[least].real, rel=0.03)
    # The width over which the power taken in falls by a ninth, read off the curve itself.
    inside = np.flatnonzero(1 - np.abs(gamma) ** 2 >= (8 / 9) * (1 - np.abs(gamma[least]) ** 2))
    width = (f_hz[inside[-1]] - f_hz[inside[0]] + (f_hz[1] - f_hz[0])) / f_hz[least]
    assert dip.loaded_q[0] == pytest.approx(1 / (8**0.5 * width), rel=0.08)


# The three samples of docs/trimming.md: from too long to right, each answer learning from those before.
def test_the_worked_example_gets_from_too_long_to_right():
    first, second, third = (read_sweep(SAMPLES / f"meadow_vertical_{n}.s1p") for n in (1, 2, 3))
    asked = {
        "kind": "vertical",
        "target_hz": 14.15e6,
        "by": "cut",
        "known": Known(radials=3),
        "lines": ["RG-58 12 m"],
    }
    then_first = (EarlierState("first", 5.62, False, "cut"), first)
    then_second = (EarlierState("second", 5.40, False, "cut"), second)
    one = plan_trim(first, length_m=5.62, **asked).plan
    two = plan_trim(second, length_m=5.40, earlier=[then_first], **asked).plan
    three = plan_trim(third, length_m=5.305, earlier=[then_first, then_second], **asked).plan
    assert [plan.action for plan in (one, two, three)] == ["shorten", "shorten", "leave"]
    assert [plan.learned_from for plan in (one, two, three)] == [0, 1, 2]
    assert 5.62 + one.first_move.m == pytest.approx(5.40, abs=0.01)
    assert 5.40 + two.first_move.m == pytest.approx(5.305, abs=0.005)
    # What one says will come is what two sees, within the interval it gave.
    assert one.after_first_move_hz.low < two.now_hz.value < one.after_first_move_hz.high
    assert two.after_first_move_hz.low < three.now_hz.value < two.after_first_move_hz.high


def bare_line(seed):
    """A line with nothing at its end, one band wide, read as people's lines and analyzers read; and what is told."""
    dice = np.random.default_rng(seed)
    told = ()
    while not told:
        told, there = _lines(dice)
    f_hz = dice.choice([3.65e6, 7.1e6, 14.15e6, 28.5e6]) * np.linspace(0.9, 1.1, 201)
    gamma = np.full(f_hz.shape, 1.0 + 0j if seed % 2 else -1.0 + 0j)
    for piece in reversed(there):
        gamma = add_chain(f_hz, gamma, draw_chain(LineChain((piece,)), dice, 0))[0]
    return Sweep.from_gamma(f_hz, _analyzer(dice)(f_hz, gamma, np.random.default_rng([seed, 0]))), told


def test_a_broken_line_is_never_trimmed():
    named = 0
    for seed in range(16):
        sweep, told = bare_line(seed)
        seen = SeenSweep.of(
            sweep, {"kit": Kit(), "lines": told, "draws": 40, "seed": 0, "measured_at": "radio"}
        )
        codes = {finding.code for finding in seen.review.findings} & {"open-line", "shorted-line"}
        assert {finding.code for finding in seen.stops} == codes
        named += bool(codes)
    assert named >= 12


def test_a_dip_deeper_than_a_bare_lines_is_believed():
    """Of an end-fed with SWR 10 behind a lossy line, whose sweep over one band is near that of a shorted line."""
    f_hz = np.linspace(21.76e6, 27.21e6, 201)
    detuned = f_hz / 24.0e6 - 24.0e6 / f_hz
    gamma = gamma_from_z(5.5 + 500j * detuned, 50.0)
    look = {"kit": Kit(), "lines": ["RG-174 12 m"], "draws": 40, "seed": 0, "measured_at": "radio"}
    line = draw_chain(LineChain((parse_piece("RG-174 12 m"),)), np.random.default_rng(0), 0)
    seen = SeenSweep.of(Sweep.from_gamma(f_hz, add_chain(f_hz, gamma, line)[0]), look)
    called = replace(seen.review, findings=(Finding("shorted-line", "warning", "a short", ""),))
    assert not replace(seen, review=called).stops


def two_pairs(f0_hz=(7.0e6, 14.1e6)):
    """Series resonances of 50 ohm in parallel stand for a fan."""
    f_hz = np.linspace(3e6, 30e6, 401)
    pairs = [50 + 50j * 12 * (f_hz / f_hz_0 - f_hz_0 / f_hz) for f_hz_0 in f0_hz]
    z = 1 / sum(1 / pair for pair in pairs)
    return Sweep.from_gamma(f_hz, (z - 50) / (z + 50))


def test_a_fan_named_as_an_end_fed_for_one_place_stops_as_for_several():
    asked = {"kind": "end-fed", "length_m": 20.5, "target_hz": 7.1e6, "draws": 100}
    found = plan_trim(two_pairs(), **asked, measured_at="feedpoint")
    assert (found.plan.action, found.plan.first_move.by) == ("cannot_say", "none")
    assert ("kind-unlikely", "stop") in [(one.code, one.level) for one in found.plan.findings]
    assert headline(found.plan) == "CANNOT SAY how much: make sure of the kind first."
    assert found.plan.next_sweeps == (), "another sweep would say the same"


def test_one_dip_that_turns_the_other_way_is_said_before_the_reason():
    asked = {"kind": "end-fed", "length_m": 20.5, "target_hz": 7.1e6, "draws": 100}
    found = plan_trim(two_pairs((6.9e6,)), **asked, measured_at="feedpoint")
    assert found.plan.action == "shorten"
    first = trim_page(found, pictures=False).verdicts[-1]
    assert first.why[0].startswith("First make sure of the kind")


def test_a_whip_on_a_coil_so_small_that_it_hardly_loads_is_answered():
    f_hz = np.linspace(6.2e6, 7.0e6, 201)
    z_ohm = 36 + 36j * 16 * (f_hz / 6.62e6 - 1)
    asked = {"kind": "loaded-whip", "length_m": 10.0, "known": Known(coil_h=2e-6), "target_hz": 7.1e6}
    found = plan_trim(Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50)), **asked, measured_at="feedpoint")
    assert found.plan.first_move.m < 0
    assert np.isfinite([found.plan.change_m.low, found.plan.change_m.high]).all()
