"""A piece of line measured from sweeps of it: figures, faults, refusals, and the way back into the kit."""

import dataclasses
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest

from sweepkit.errors import BadInput
from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.dead_line import find_dead_line
from sweepkit.feedline.line_findings import find_line_faults
from sweepkit.feedline.line_json import kit_block, kit_block_of, measurement_json
from sweepkit.feedline.loss_check import find_loss_excess_db
from sweepkit.feedline.losses import matched_loss_db
from sweepkit.feedline.measure import measure_line
from sweepkit.feedline.plane import add_chain
from sweepkit.feedline.propagation import DB_PER_NEPER, formula_loss_db_per_100m
from sweepkit.feedline.reflections import BEYOND_TOLD
from sweepkit.feedline.told import Told
from sweepkit.kit import read_kit
from sweepkit.lines import LinePiece, catalogued_piece, parse_piece, read_catalogue
from sweepkit.report.line_page import line_page
from sweepkit.sweep import Sweep
from tests.feedline.modelled import antenna, measured, swept_line

ROOT = Path(__file__).resolve().parents[2]
CORPUS = Path(os.environ.get("SWEEPKIT_CORPUS", ROOT.parent / "shared" / "corpus"))
RG58 = catalogued_piece("RG-58", 1.0)
SPOOL = [parse_piece("RG-58 15 m")]
NARROW_HZ = np.linspace(14.0e6, 14.35e6, 201)


def codes(line):
    return [finding.code for finding in find_line_faults(line)]


def holds(figure, true):
    return figure.low <= true <= figure.high


@pytest.mark.parametrize("far_end", ["open", "short"])
def test_a_good_piece_of_known_type(far_end):
    sweep = swept_line(SPOOL, 1.0 if far_end == "open" else -1.0)
    line = measure_line([(sweep, far_end)], Told(piece=RG58))
    assert line.length_m.value == pytest.approx(15.0, rel=1e-3)
    assert holds(line.length_m, 15.0)
    assert line.velocity_factor.value == 0.66
    assert line.z0_ohm.value == pytest.approx(50, abs=0.3)
    true_db = matched_loss_db(line.loss_hz, LineChain(SPOOL).nominal)[0]
    for loss, true in zip(line.loss_db, true_db, strict=True):
        assert loss.value == pytest.approx(true, abs=0.02)
        assert holds(loss, true)
    assert (line.resolution_m, line.range_m) == pytest.approx((1.677, 335.4), rel=1e-3)
    (end,) = line.reflections
    assert end.looks_like == far_end
    assert end.size_db == pytest.approx(0, abs=0.01)
    assert codes(line) == []


def test_a_told_length_gives_the_velocity_factor():
    line = measure_line([(swept_line(SPOOL, 1.0), "open")], Told(length_m=15.0))
    assert line.length_m.value == 15.0
    assert line.velocity_factor.value == pytest.approx(0.66, abs=0.001)
    assert holds(line.velocity_factor, 0.66)


def test_open_and_short_together_are_surer_of_the_loss():
    """A scale error of the analyzer and its source match turn over with the end, and so cancel in part."""
    errors = {"scale_error": 0.004j, "source_match": 0.01}
    opened, shorted = swept_line(SPOOL, 1.0, **errors), swept_line(SPOOL, -1.0, seed=1, **errors)
    both = measure_line([(opened, "open"), (shorted, "short")], Told(piece=RG58))
    true_db = matched_loss_db(both.loss_hz, LineChain(SPOOL).nominal)[0]
    for loss, true in zip(both.loss_db, true_db, strict=True):
        assert holds(loss, true)
        assert loss.value == pytest.approx(true, abs=0.02)


@pytest.mark.parametrize("seed", range(10))
def test_random_lines(seed):
    """Types of the catalogue, 2 to 60 m, spans to 60, 120 and 230 MHz: within 2 % or one cell."""
    dice = np.random.default_rng(seed)
    row = list(read_catalogue().values())[dice.integers(11)]
    length_m, loss = dice.uniform(2, 60), np.exp(0.1 * dice.standard_normal())
    factor = row.velocity_factor * (1 + 0.01 * dice.uniform(-1.5, 1.5))
    piece = LinePiece(
        "true", row.z0_ohm, factor, row.k1_db_per_100m * loss, row.k2_db_per_100m * loss, length_m
    )
    for stop_hz, points in ((60e6, 201), (120e6, 401), (230e6, 801)):
        far_end = str(dice.choice(["open", "short", "unknown"]))
        f_hz = np.linspace(1e6, stop_hz, points)
        sweep = swept_line([piece], -1.0 if far_end == "short" else 1.0, f_hz=f_hz, seed=seed)
        line = measure_line([(sweep, far_end)], Told(velocity_factor=row.velocity_factor), draws=300)
        assert abs(line.length_m.value - length_m) < max(0.02 * length_m, line.resolution_m)
        assert line.length_m.value * factor / row.velocity_factor == pytest.approx(length_m, rel=2e-3)
        assert line.reflections[-1].looks_like == ("short" if far_end == "short" else "open")
        assert line.length_m.value < line.range_m


def test_nothing_told_leaves_the_length_open():
    line = measure_line([(swept_line(SPOOL, 1.0), "open")], Told())
    assert line.length_m.low < 15.0 < line.length_m.high
    assert line.length_m.high / line.length_m.low > 1.3
    assert codes(line) == ["velocity-factor-unknown"]


def test_a_break_at_11_m():
    broken = swept_line([parse_piece("RG-58 11 m")], 1.0)
    told = measure_line([(broken, "open")], Told(length_m=20.0, piece=RG58))
    assert codes(told) == ["open-line", "length-contradicts-delay"]
    finding = find_line_faults(told)[0]
    assert finding.level == "stop"
    assert finding.distance_m.value == pytest.approx(11.0, rel=0.005)
    assert holds(finding.distance_m, 11.0)
    assert finding.next_step.startswith("radio off and disconnected")
    unknown = find_line_faults(measure_line([(broken, "unknown")], Told(piece=RG58)))
    assert [(finding.code, finding.level) for finding in unknown] == [("open-line", "warning")]
    without_type = find_line_faults(measure_line([(broken, "open")], Told(length_m=20.0)))
    assert [finding.code for finding in without_type] == ["open-line", "length-contradicts-delay"]
    assert "velocity factor of 1.20" in without_type[1].text


def test_a_short_in_a_line_swept_open():
    line = measure_line([(swept_line([parse_piece("RG-58 6 m")], -1.0), "open")], Told(piece=RG58))
    (finding,) = find_line_faults(line)
    assert (finding.code, finding.level) == ("shorted-line", "stop")
    assert finding.distance_m.value == pytest.approx(6.0, rel=0.005)
    assert "or the end was told wrong" in finding.text


def test_a_length_that_contradicts_the_delay():
    line = measure_line([(swept_line(SPOOL, 1.0), "open")], Told(length_m=13.0, piece=RG58))
    assert codes(line) == ["length-contradicts-delay"]
    assert "longer than the 13.00 m told" in find_line_faults(line)[0].text
    feet = measure_line([(swept_line(SPOOL, 1.0), "open")], Told(length_m=4.57))  # 15 ft told, 15 m there
    assert "length-contradicts-delay" in codes(feet)
    assert feet.velocity_factor.value is None


def test_water_in_a_line():
    wet = catalogued_piece("RG-58", 15.0, k1_db_per_100m=2.2, k2_db_per_100m=0.06)
    sweeps = [(swept_line([wet], 1.0), "open"), (swept_line([wet], -1.0, seed=1), "short")]
    line = measure_line(sweeps, Told(piece=RG58))
    (finding,) = find_line_faults(line)
    assert finding.code == "line-loss"
    assert "water in it" in finding.text
    at_hz = np.array([28.5e6])
    more = matched_loss_db(at_hz, LineChain([wet]).nominal)[0, 0]
    more -= 0.15 * formula_loss_db_per_100m(28.5e6, RG58.k1_db_per_100m, RG58.k2_db_per_100m)
    assert holds(find_loss_excess_db(line), more)
    assert more > 0.8


def test_another_type_than_told():
    line = measure_line(
        [(swept_line([parse_piece("10.3 mm foam coax 20 m")], 1.0), "open")], Told(piece=RG58)
    )
    assert codes(line) == ["wrong-type"]


def test_the_operators_own_record_is_the_measure():
    """20 % more loss than when new is a finding against the record, and none against the catalogue."""
    record = dataclasses.replace(RG58, name="spool", type=None, loss_sigma=0.03)
    aged = catalogued_piece("RG-58", 30.0, k1_db_per_100m=1.66, k2_db_per_100m=0.0162)
    sweep = swept_line([aged], 1.0)
    assert codes(measure_line([(sweep, "open")], Told(piece=record))) == ["line-loss"]
    assert codes(measure_line([(sweep, "open")], Told(piece=RG58))) == []


@pytest.mark.parametrize(("far_end", "reflection"), [("open", 1.0), ("short", -1.0), ("unknown", 1.0)])
def test_a_75_ohm_piece_in_a_chain(far_end, reflection):
    pieces = [parse_piece("RG-58 8 m"), parse_piece("RG-59 3 m"), parse_piece("RG-58 9 m")]
    line = measure_line([(swept_line(pieces, reflection), far_end)], Told(piece=RG58))
    finding = next(f for f in find_line_faults(line) if f.code == "wrong-impedance-piece")
    assert "about 75 ohm" in finding.text
    assert finding.distance_m.value == pytest.approx(8.0, abs=0.05)
    up, down, end = line.reflections
    assert (up.distance_m.value, down.distance_m.value, end.distance_m.value) == pytest.approx(
        (8, 11, 20), abs=0.05
    )
    assert (up.size_db, down.size_db) == pytest.approx((-14, -14), abs=0.3)
    assert up.looks_like == "step up from 50 to 75 ohm"


def test_a_75_ohm_piece_with_a_dummy_load_at_the_end():
    pieces = [parse_piece("RG-58 8 m"), parse_piece("RG-59 3 m"), parse_piece("RG-58 9 m")]
    line = measure_line([(swept_line(pieces, 0.0), "unknown")], Told(piece=RG58))
    piece = next(f for f in find_line_faults(line) if f.code == "wrong-impedance-piece")
    assert piece.distance_m.value == pytest.approx(8.0, abs=0.1)


def test_a_whole_line_of_75_ohm():
    line = measure_line([(swept_line([parse_piece("RG-59 9 m")], 1.0), "open")], Told(piece=RG58))
    (finding,) = find_line_faults(line)
    assert finding.code == "wrong-impedance-piece"
    assert "75 ohm, not 50, told as RG-58" in finding.text


@pytest.mark.parametrize("name", ["dipole_40m_wide", "end_fed_40m_wide", "dipole_40m", "whip_40m"])
@pytest.mark.parametrize("far_end", ["open", "unknown"])
def test_an_antenna_left_on_the_line_is_named(name, far_end):
    f_hz, gamma = antenna(name)
    sweep = Sweep.from_gamma(f_hz, measured(f_hz, gamma, SPOOL))
    line = measure_line([(sweep, far_end)], Told(piece=RG58))
    assert line.length_m.value is None
    assert "far-end-not-bare" in codes(line)
    assert measurement_json(line, [])["loss_db"] == []
    assert kit_block(line) == ""
    for reflection in line.reflections:
        assert reflection.distance_m.value < line.range_m


@pytest.mark.parametrize(
    ("pieces", "f_hz", "told", "words"),
    [
        (["RG-58 5 m"], NARROW_HZ, {}, "too narrow for this line, .* sweep 1 to 60 MHz with 101 points"),
        (["RG-58 5 m"], NARROW_HZ, {"length_m": 5.0}, "too narrow for 5.00 m of line"),
        (["RG-58 60 cm"], np.linspace(1e6, 60e6, 201), {}, "too narrow for this line, .* sweep 1 to 331 MHz"),
        (["RG-58 60 m"], np.linspace(1e6, 230e6, 101), {}, "too coarse for this line, .* 201 points"),
        (["10.3 mm foam coax 200 m"], np.linspace(1e6, 60e6, 101), {}, "too coarse for this line"),
        (["RG-58 60 m"], np.linspace(1e6, 101e6, 51), {"length_m": 60.0}, "too coarse for 60.00 m of line"),
    ],
)
def test_a_sweep_that_cannot_show_the_line_is_refused_with_the_one_to_take(pieces, f_hz, told, words):
    sweep = swept_line([parse_piece(spec) for spec in pieces], 1.0, f_hz=f_hz)
    with pytest.raises(BadInput, match=words):
        measure_line([(sweep, "open")], Told(piece=None if told else RG58, **told))


def test_the_sweep_that_is_proposed_does():
    f_hz = np.linspace(1e6, 60e6, 101)
    line = measure_line([(swept_line([parse_piece("RG-58 5 m")], 1.0, f_hz=f_hz), "open")], Told(piece=RG58))
    assert line.length_m.value == pytest.approx(5.0, rel=0.002)


def test_open_and_short_swapped():
    opened, shorted = swept_line(SPOOL, 1.0), swept_line(SPOOL, -1.0, seed=1)
    with pytest.raises(BadInput, match=r"told as open is that of a short.*swap the two --end"):
        measure_line([(opened, "short"), (shorted, "open")], Told(piece=RG58))


def test_open_and_short_of_different_spans():
    other = swept_line(SPOOL, -1.0, f_hz=np.linspace(1e6, 50e6, 201))
    with pytest.raises(BadInput, match=r"spans 1.000 MHz to 50.000 MHz .* same start, stop and points"):
        measure_line([(swept_line(SPOOL, 1.0), "open"), (other, "short")], Told(piece=RG58))


def test_a_line_into_a_dummy_load_shows_nothing():
    with pytest.raises(BadInput, match="nothing comes back from the far end"):
        measure_line([(swept_line(SPOOL, 0.0), "unknown")], Told(piece=RG58))


def test_a_sweep_without_phase_is_refused():
    sweep = swept_line(SPOOL, 1.0)
    with pytest.raises(BadInput, match="no signed phase"):
        measure_line([(Sweep.from_magnitude(sweep.f_hz, sweep.gamma_abs), "open")], Told(piece=RG58))


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"length_m": -1.0}, "length is -1; it must be above 0"),
        ({"velocity_factor": 1.3}, "velocity factor is 1.3"),
        ({"length_m": 10.0, "velocity_factor": 0.66}, "give one of them"),
    ],
)
def test_what_cannot_be_told(told, words):
    with pytest.raises(BadInput, match=words):
        Told(**told)


def test_the_point_at_zero_frequency_is_left_out():
    f_hz = np.linspace(0, 60e6, 201)
    line = measure_line([(swept_line(SPOOL, 1.0, f_hz=f_hz), "open")], Told(piece=RG58))
    assert line.length_m.value == pytest.approx(15.0, rel=1e-3)


def test_without_draws_there_are_values_and_no_intervals():
    line = measure_line([(swept_line(SPOOL, 1.0), "open")], Told(piece=RG58), draws=0)
    assert (line.length_m.low, line.loss_db[0].high) == (None, None)
    assert line.length_m.value == pytest.approx(15.0, rel=1e-3)
    assert codes(line) == []


def test_the_same_seed_gives_the_same_answer():
    sweeps = [(swept_line(SPOOL, 1.0), "open")]
    first, second = (measure_line(sweeps, Told(piece=RG58), seed=3) for _ in range(2))
    assert first.length_m == second.length_m
    assert first.loss_db == second.loss_db


@pytest.mark.parametrize(
    ("length_m", "expected"), [(6.4, ["open-line", "length-contradicts-delay"]), (15.1, [])]
)
def test_the_end_of_a_line_of_the_kit_is_where_the_kit_has_it(length_m, expected):
    there = swept_line([parse_piece(f"RG-58 {length_m} m")], 1.0)
    told = Told(piece=dataclasses.replace(SPOOL[0], length_m=15.0), is_record=True)
    line = measure_line([(there, "open")], told)
    assert codes(line) == expected
    assert line.length_m.low < length_m < line.length_m.high  # by the delay: the record's length is no input
    assert bool(kit_block_of(line, find_line_faults(line))) == (not expected)


def test_a_line_that_stops_short_of_what_was_told_is_nothing_for_the_kit():
    short = swept_line([parse_piece("RG-58 6.4 m")], 1.0)
    line = measure_line([(short, "unknown")], Told(length_m=15.0, piece=RG58))
    assert kit_block_of(line, find_line_faults(line)) == ""


@pytest.mark.parametrize("specs", [["RG-58 15 m"], ["RG-58 8 m", "RG-59 3 m", "RG-58 9 m"]])
@pytest.mark.parametrize(
    "told", [Told(piece=RG58), Told(length_m=20.0), Told()], ids=["type", "length", "none"]
)
def test_the_kit_block_gives_the_same_line_back(tmp_path, specs, told):
    pieces = [parse_piece(spec) for spec in specs]
    if told.length_m is not None and len(specs) == 1:
        told = Told(length_m=15.0)
    block = kit_block(measure_line([(swept_line(pieces, 1.0), "open")], told))
    path = tmp_path / "kit.toml"
    path.write_text(block, encoding="utf-8")
    lines = read_kit(path).lines
    assert list(lines) == list(tomllib.loads(block)["lines"])
    f_hz = np.linspace(1e6, 60e6, 60)
    gamma = np.full(60, 0.4j)
    back = add_chain(f_hz, gamma, LineChain(tuple(lines.values())).nominal)
    # Of pieces of different types the block knows the loss of all together, spread evenly over their delay.
    np.testing.assert_allclose(
        back, add_chain(f_hz, gamma, LineChain(pieces).nominal), atol=0.002 if len(specs) == 1 else 0.008
    )
    assert sum(piece.length_m for piece in lines.values()) > 0
    assert all(piece.velocity_factor_at_hz == 30.5e6 for piece in lines.values())


def test_a_lossy_joint_is_not_named_where_the_end_is_untold():
    sweep = joint_in_spool(60.0, points=101)
    untold = measure_line([(sweep, "unknown")], Told(length_m=10.0, piece=RG58))
    assert "lossy" not in find_line_faults(untold)[0].text
    assert line_page(untold, [], [sweep], pictures=False).command is None


def joint_in_spool(r_ohm, *, points=201):
    """A line of 10 m, its end open, with a resistance in series 6.2 m along."""
    f_hz = np.linspace(1e6, 60e6, points)
    behind = add_chain(f_hz, np.ones(f_hz.size), LineChain([parse_piece("RG-58 3.8 m")]).nominal)[0]
    z_ohm = 50 * (1 + behind) / (1 - behind) + r_ohm
    gamma = add_chain(f_hz, (z_ohm - 50) / (z_ohm + 50), LineChain([parse_piece("RG-58 6.2 m")]).nominal)[0]
    noise = 0.001 * np.random.default_rng(2).standard_normal((2, f_hz.size))
    return Sweep.from_gamma(f_hz, gamma + noise[0] + 1j * noise[1])


# What was measured is the delay. A length that nobody told rests on a guess, and so does whatever goes by it.
@pytest.mark.parametrize(
    "told", [Told(), Told(length_m=10.0), Told(piece=RG58)], ids=["none", "tape", "type"]
)
def test_the_record_of_a_line_is_as_sure_of_metres_as_what_they_rest_on(tmp_path, told):
    record = measure_line([(swept_line([parse_piece("RG-58 10 m")], 1.0), "open")], told)
    path = tmp_path / "kit.toml"
    path.write_text(kit_block(record), encoding="utf-8")
    piece = read_kit(path).lines["measured"]
    factors = record.scale.velocity_factor
    assert piece.scale_sigma == pytest.approx(factors[1:].std() / factors[0], abs=1e-4)
    assert ("scaled by a guess" in path.read_text(encoding="utf-8")) == (told == Told())
    broken = measure_line([(swept_line([parse_piece("RG-58 6.2 m")], 1.0), "open")], Told(piece=piece))
    assert holds(broken.length_m, 6.2)
    excess = find_loss_excess_db(broken)
    assert excess.low < 0 < excess.high  # the loss goes by the delay, not by the metres
    assert excess.high - excess.low < 0.1
    whole = measure_line(
        [(swept_line([parse_piece("RG-58 10 m")], 1.0), "open")], Told(length_m=10.0, piece=piece)
    )
    assert find_loss_excess_db(whole).value == pytest.approx(0.0, abs=0.02)
    drawn = draw_chain(LineChain([piece]), np.random.default_rng(0), 200)
    delay = drawn.length_m[:, 0] / drawn.velocity_factor[:, 0]
    assert delay.std() / delay.mean() < 0.002  # the plane stays where it was measured


def test_a_distance_in_metres_that_rest_on_a_guess_is_as_wide_as_the_guess():
    gamma_hz = np.linspace(1e6, 60e6, 201)
    gamma = add_chain(gamma_hz, np.ones(201), LineChain([parse_piece("RG-58 6.2 m")]).nominal)[0]
    sure = catalogued_piece("RG-58", 10.0)
    guessed = dataclasses.replace(sure, scale_sigma=0.1)
    ends = []
    for piece in (sure, guessed):
        draws = draw_chain(LineChain([piece]), np.random.default_rng(0), 100)
        ends.append(find_dead_line(gamma_hz, gamma, draws).distance_m)
    assert ends[1].value == ends[0].value
    assert ends[1].high - ends[1].value == pytest.approx(
        np.hypot(ends[0].high - ends[0].value, 0.196 * ends[0].value), rel=1e-6
    )


def test_a_lossy_joint_is_named_as_possible_with_the_command_that_places_it():
    sweep = joint_in_spool(60.0, points=101)
    line = measure_line([(sweep, "open")], Told(length_m=10.0, piece=RG58), draws=100)
    assert line.length_m.value is None
    (finding,) = find_line_faults(line)
    assert "one joint in it is lossy" in finding.text
    looks = [(r.distance_m.value, r.looks_like) for r in line.reflections]
    assert looks[0][0] == pytest.approx(6.2, abs=0.2)
    assert all((like == BEYOND_TOLD) == (at > 11.2) for at, like in looks)
    assert any(like == BEYOND_TOLD for _, like in looks)
    words = line_page(line, [finding], [sweep], pictures=False).command.words
    assert words[1:] == ("diagnose", "FILE", "--far-end", "open", "--line", "RG-58 10 m")
    through = dataclasses.replace(line, through=True)  # no sweep of a reflection to diagnose
    assert line_page(through, [], [sweep], pictures=False).command is None


def test_table_and_kit_block_show_one_velocity_factor_at_one_frequency():
    for pieces in (["RG-58 15 m"], ["RG-58 8 m", "RG-59 3 m", "RG-58 9 m"]):
        told = Told(length_m=sum(float(piece.split()[1]) for piece in pieces))
        sweep = swept_line([parse_piece(piece) for piece in pieces], 1.0)
        line = measure_line([(sweep, "open")], told)
        page = line_page(line, (), [sweep], pictures=False)
        shown = {row.name: row.value for row in page.tables[0].rows}
        factors = {name: value for name, value in shown.items() if name.startswith("velocity factor")}
        for block in tomllib.loads(kit_block(line))["lines"].values():
            assert factors == {
                f"velocity factor at {block['velocity_factor_at']}": f"{block['velocity_factor']:.3f}"
            }


# published: Schelkunoff 1934, a line whose conductors slow the wave by R/(2 ω L) more than the limit at low loss
def test_the_wave_is_slower_in_place_than_in_the_limit_by_what_the_conductors_store():
    line = measure_line([(swept_line([parse_piece("RG-58 15 m")], 1.0), "open")], Told(length_m=15.0))
    conductor_np = line.draws.k1_db[0] * np.sqrt(line.middle_hz / 1e6) / DB_PER_NEPER
    expected = 1 + conductor_np / (2 * np.pi * line.middle_hz * line.draws.total_delay_s[0])
    ratio = line.velocity_factor.value / line.velocity_factor_in_place.value
    assert ratio == pytest.approx(expected, rel=1e-3)
    assert ratio > 1.005


# A real cable of a laboratory, shorted, 40 to 200 MHz, raw analyzer data: no published length. Two
# independent ways must agree on the delay: our fit, and the slope of the unwrapped phase (dispersion
# moves it by less than 1 %).
@pytest.mark.skipif(not (CORPUS / "files").is_dir(), reason="the corpus is not here")
def test_a_real_shorted_cable():
    table = np.loadtxt(CORPUS / "files" / "0082.s1p", comments=("!", "#"))
    sweep = Sweep.from_gamma(table[:, 0], table[:, 1] + 1j * table[:, 2])
    line = measure_line([(sweep, "short")], Told(velocity_factor=0.7))
    slope_s = -np.polyfit(2 * np.pi * sweep.f_hz, np.unwrap(np.angle(sweep.gamma)), 1)[0] / 2
    assert line.identified.fit.sections.total_delay_s == pytest.approx(slope_s, rel=0.01)
    assert line.z0_ohm.value == pytest.approx(50, abs=2.5)
    assert line.reflections[-1].looks_like == "short"
    with pytest.raises(BadInput, match="spans"):
        measure_line([(sweep, "short"), (swept_line(SPOOL, 1.0), "open")], Told())
