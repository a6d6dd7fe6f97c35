"""A line that nobody told of shows in the delay of a sweep; an antenna's own delay does not pass for one."""

import numpy as np
import pytest

from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.likely import guess_line, guess_lines, surely_no_lines
from sweepkit.feedline.plane import group_delay_s
from sweepkit.lines import parse_piece
from tests.feedline.modelled import antenna, measured

TABLES = [
    "dipole_40m",
    "dipole_20m_low",
    "dipole_40m_wide",
    "vee_80m",
    "whip_40m",
    "whip_80m",
    "end_fed_40m",
    "end_fed_40m_wide",
]


@pytest.mark.parametrize("name", TABLES)
def test_no_line_is_claimed_at_the_feedpoint(name):
    f_hz, gamma = antenna(name)
    for seed in range(5):
        guess = guess_line(f_hz, measured(f_hz, gamma, seed=seed))
        assert guess.answer != "likely", guess
        assert guess.finding() is None


@pytest.mark.parametrize("spec", ["RG-58 15 m", "RG-8X 20 m", "RG-213 30 m"])
@pytest.mark.parametrize(
    "name", ["dipole_40m", "dipole_20m_low", "dipole_40m_wide", "vee_80m", "end_fed_40m_wide"]
)
def test_a_line_in_front_is_found_with_its_delay(name, spec):
    f_hz, gamma = antenna(name)
    pieces = [parse_piece(spec)]
    true_s = group_delay_s(f_hz, LineChain(pieces).nominal).mean()
    for seed in range(3):
        guess = guess_line(f_hz, measured(f_hz, gamma, pieces, seed=seed))
        assert guess.answer == "likely"
        assert guess.one_way_s.low <= true_s <= guess.one_way_s.high
        assert guess.one_way_s.value == pytest.approx(true_s, abs=20e-9)


@pytest.mark.parametrize(
    ("specs", "answer"), [([], "none seen"), (["RG-58 3 m"], "likely"), (["RG-8X 4.5 m"], "likely")]
)
@pytest.mark.parametrize("name", ["dipole_40m_wide", "end_fed_40m_wide"])
def test_a_short_line_is_found_in_a_wide_sweep_by_the_place_of_its_echo(name, specs, answer):
    f_hz, gamma = antenna(name)
    pieces = [parse_piece(spec) for spec in specs]
    true_s = group_delay_s(f_hz, LineChain(pieces).nominal).mean() if pieces else 0.0
    for seed in range(3):
        guess = guess_line(f_hz, measured(f_hz, gamma, pieces, seed=seed))
        assert guess.answer == answer
        if pieces:
            assert guess.one_way_s.low <= true_s <= guess.one_way_s.high


def test_an_echo_with_something_before_it_is_a_wire_not_a_line():
    """A wire of 9 m behind a transformer, as a line that radiates: some comes back from its connector."""
    f_hz = np.linspace(1e6, 30e6, 201)
    far = 0.6 * np.exp(-2j * np.pi * f_hz * 60e-9)
    assert guess_line(f_hz, measured(f_hz, far)).answer == "likely"
    assert guess_line(f_hz, measured(f_hz, 0.3 + far)).answer != "likely"


def test_the_finding_speaks_of_nanoseconds_and_metres():
    f_hz, gamma = antenna("dipole_40m_wide")
    finding = guess_line(f_hz, measured(f_hz, gamma, [parse_piece("RG-58 15 m")])).finding()
    assert finding.code == "line-likely"
    assert finding.level == "note"
    assert (
        "76 ns one way" in finding.text or "77 ns one way" in finding.text or "78 ns one way" in finding.text
    )
    assert "15 m (" in finding.text


def test_a_narrow_sweep_cannot_say_and_says_what_to_take():
    f_hz, gamma = antenna("dipole_40m")
    near = slice(190, 232)  # 0.25 MHz round the dip
    guess = guess_line(f_hz[near], measured(f_hz, gamma)[near])
    assert guess.answer == "cannot say"
    assert "sweep 10 MHz or more" in guess.one_way_s.reason
    assert guess.hidden_s == np.inf


def test_few_points_cannot_say():
    guess = guess_line(np.linspace(1e6, 30e6, 9), np.full(9, 0.5 + 0j))
    assert guess.answer == "cannot say"
    assert "15 are needed" in guess.one_way_s.reason


def test_a_dummy_load_shows_no_line():
    f_hz = np.linspace(1e6, 30e6, 201)
    for seed in range(20):
        guess = guess_line(f_hz, measured(f_hz, np.zeros(201), seed=seed))
        assert guess.answer != "likely"


def test_uneven_grids_are_taken_as_they_are():
    f_hz, gamma = antenna("dipole_40m_wide")
    kept = np.sort(np.random.default_rng(1).choice(f_hz.size, 250, replace=False))
    pieces = [parse_piece("RG-58 15 m")]
    guess = guess_line(f_hz[kept], measured(f_hz, gamma, pieces)[kept])
    assert guess.answer == "likely"
    assert guess.one_way_s.value == pytest.approx(77e-9, abs=8e-9)


@pytest.mark.parametrize("specs", [[], ["RG-58 6 m"], ["RG-58 15 m"], ["RG-213 40 m"]])
@pytest.mark.parametrize("name", [name for name in TABLES if "wide" not in name])
def test_what_surely_shows_no_line_is_never_guessed_to_have_one(name, specs):
    """Spans, steps and noise of all kinds; at the feedpoint most of those a fit describes need no guess."""
    f_hz, gamma = antenna(name)
    pieces, dice = [parse_piece(spec) for spec in specs], np.random.default_rng(8)
    for step in (1, 2, 4):
        for noise in (1e-5, 0.0005, 0.002, 0.008):
            seen = [
                measured(f_hz, gamma, pieces, noise=noise, seed=int(dice.integers(1e9))) for _ in range(2)
            ]
            some = np.stack(seen)[:, ::step]
            surely = surely_no_lines(f_hz[::step], some)
            likely = [guess.answer == "likely" for guess in guess_lines(f_hz[::step], some)]
            assert not (surely & likely).any()


@pytest.mark.identity
def test_one_resonance_in_noise_surely_shows_no_line_and_a_delayed_one_may():
    f_hz = np.linspace(6.8e6, 7.4e6, 201)
    z_ohm = 45 * (1 + 12j * (f_hz / 7.1e6 - 7.1e6 / f_hz))
    gamma = (z_ohm - 50) / (z_ohm + 50)
    behind = gamma * np.exp(-2j * np.pi * f_hz * 300e-9)
    surely = surely_no_lines(f_hz, np.stack([measured(f_hz, gamma), measured(f_hz, behind)]))
    assert surely.tolist() == [True, False]
    assert guess_line(f_hz, measured(f_hz, behind)).answer == "likely"
