"""Frozen values check themselves: figures, sweeps, quantities, bands, saving."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweepkit.bands import find_band, read_bands
from sweepkit.conversions import gamma_from_z, renormalise_gamma, z_from_gamma
from sweepkit.errors import BadInput, NeedsHint, UnreadableFile
from sweepkit.figures import Figure
from sweepkit.quantities import length_text, parse_frequency_hz, parse_inductance_h, parse_length_m
from sweepkit.saving import save_bytes
from sweepkit.sweep import Sweep


@pytest.mark.parametrize(
    ("text", "f_hz"),
    [("14.175 MHz", 14.175e6), ("7100 kHz", 7.1e6), ("1e6Hz", 1e6), (" 0.4 GHz ", 4e8), ("7.1mhz", 7.1e6)],
)
def test_frequencies_as_people_write_them(text, f_hz):
    assert parse_frequency_hz(text) == pytest.approx(f_hz, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "length_m"),
    [
        ("10.2 m", 10.2), ("-3 cm", -0.03), ("33 ft 4 in", 33 * 0.3048 + 4 * 0.0254), ("12 in", 0.3048),
        ("-1 ft 6 in", -1.5 * 0.3048), ("5'6\"", 5.5 * 0.3048), ("+10 cm", 0.1), ("7 mm", 0.007),
    ],
)  # fmt: skip
def test_lengths_as_people_write_them(text, length_m):
    assert parse_length_m(text) == pytest.approx(length_m, rel=1e-12)


@pytest.mark.parametrize(
    ("parse", "text", "words"),
    [
        (parse_frequency_hz, "14.1", "has no unit; write it like 14.175 MHz"),
        (parse_frequency_hz, "-3 MHz", "not a frequency above zero"),
        (parse_frequency_hz, "14.1 m", "has the unit 'm', which is not one of"),
        (parse_length_m, "10", "has no unit; write it like 10.2 m"),
        (parse_length_m, "ten m", "write a number and a unit"),
        (parse_inductance_h, "11.3", "has no unit; write it like 11.3 uH"),
    ],
)
def test_a_quantity_without_its_unit_is_refused(parse, text, words):
    with pytest.raises(BadInput, match=words):
        parse(text)


@given(st.floats(-50, 50).filter(lambda x: abs(x) > 0.001))
def test_lengths_read_back_within_their_digits(length_m):
    assert parse_length_m(length_text(length_m)) == pytest.approx(length_m, abs=0.0051)


def test_errors_say_where_in_one_place():
    error = UnreadableFile("line has 2 numbers, 3 expected", line=14)
    error.path = "dipole.s1p"
    assert str(error) == "dipole.s1p:14: line has 2 numbers, 3 expected"
    assert NeedsHint("x", hint="unit").hint == "unit"


def test_figures_check_themselves():
    with pytest.raises(ValueError, match="not in order"):
        Figure(1.0, 2.0, 3.0)
    with pytest.raises(ValueError, match="exactly one must be given"):
        Figure(None)
    with pytest.raises(ValueError, match="must be finite"):
        Figure(math.inf)
    assert Figure.none("why").to_json() == {"value": None, "low": None, "high": None, "reason": "why"}


def test_a_figure_of_draws():
    draws = np.concatenate([[0.0], np.random.default_rng(1).standard_normal(100_000)])
    figure = Figure.from_draws(draws, reason="-")
    assert (figure.low, figure.high) == pytest.approx((-1.96, 1.96), abs=0.03)
    mostly_lost = draws.copy()
    mostly_lost[1:60_000] = np.nan
    assert "only 40%" in Figure.from_draws(mostly_lost, reason="lost").reason
    assert Figure.from_draws(draws[:1], reason="-").low is None
    at_wall = np.abs(0.01 + 0.01 * np.exp(2j * np.pi * np.random.default_rng(2).random(2001)))
    assert Figure.from_draws(at_wall, reason="-", wall=0.0).low == 0.0
    far = np.abs(0.03 + 0.01 * np.exp(2j * np.pi * np.random.default_rng(2).random(2001)))
    assert Figure.from_draws(far, reason="-", wall=0.0).low == pytest.approx(0.02, abs=1e-3)


@pytest.mark.identity
@given(st.complex_numbers(max_magnitude=0.99), st.floats(5, 500), st.floats(5, 500))
def test_another_reference_is_the_same_impedance(gamma, one_ohm, other_ohm):
    moved = renormalise_gamma(np.array([gamma]), one_ohm, other_ohm)
    z_ohm = z_from_gamma(np.array([gamma]), one_ohm)
    np.testing.assert_allclose(moved, gamma_from_z(z_ohm, other_ohm), atol=1e-9)


def test_a_sweep_is_frozen_and_hands_out_copies():
    gamma = np.array([0.1, 0.2 + 0.1j, 0.3])
    sweep = Sweep.from_gamma([1e6, 2e6, 3e6], gamma)
    gamma[0] = 9
    assert sweep.gamma[0] == 0.1
    with pytest.raises(ValueError, match="read-only"):
        sweep.gamma[0] = 1
    network = sweep.network
    network.s[0, 0, 0] = 5
    assert sweep.network.s[0, 0, 0] == 0.1
    np.testing.assert_array_equal(sweep.network.f, [1e6, 2e6, 3e6])


@pytest.mark.parametrize(
    ("f_hz", "gamma", "words"),
    [
        ([1e6, 1e6], [0, 0], "f_hz does not rise at point 1"),
        ([1e6, 2e6], [0], "it needs a value for each of 2"),
        ([1e6, 2e6], [0, np.nan], "gamma is not finite at point 1"),
        ([-1.0, 2e6], [0, 0], "frequencies must lie between"),
    ],
)
def test_what_is_no_sweep_is_refused(f_hz, gamma, words):
    with pytest.raises(ValueError, match=words):
        Sweep.from_gamma(f_hz, gamma)


def test_magnitudes_have_no_network_and_no_other_reference():
    sweep = Sweep.from_magnitude([1e6, 2e6], [0.1, 0.2], reference_ohm=75.0)
    with pytest.raises(BadInput, match="no signed phase"):
        _ = sweep.network
    with pytest.raises(BadInput, match="magnitudes against 75 ohm say nothing about SWR at 50 ohm"):
        sweep.renormalised(50.0)


def test_without_a_region_the_narrowest_common_edges_hold():
    common = {band.name: band for band in read_bands()}
    assert (common["40 m"].low_hz, common["40 m"].high_hz) == (7.0e6, 7.2e6)
    assert (common["160 m"].low_hz, common["160 m"].high_hz) == (1.81e6, 1.85e6)
    assert "1.25 m" not in common, "not in every region"
    assert find_band(read_bands(region=2), "1.25M").name == "1.25 m"


def test_a_band_table_of_ones_own(tmp_path):
    path = tmp_path / "bands.csv"
    path.write_text("name,region,low,high\nclub,,7.05 MHz,7.06 MHz\n")
    assert [band.name for band in read_bands(path, region=3)] == ["club"]
    path.write_text("name,region,low,high\nclub,,7.05,7.06 MHz\n")
    with pytest.raises(UnreadableFile, match=r"bands.csv:2: '7.05' has no unit"):
        read_bands(path)
    path.write_text("name,low\nclub,7\n")
    with pytest.raises(UnreadableFile, match=r"bands.csv:1: no column region, high"):
        read_bands(path)


def test_a_file_is_written_whole_and_never_over_another(tmp_path):
    path = tmp_path / "out.txt"
    save_bytes(path, b"one")
    with pytest.raises(BadInput, match="exists already"):
        save_bytes(path, b"two")
    save_bytes(path, b"two", force=True)
    assert path.read_bytes() == b"two"
    with pytest.raises(BadInput, match="stays as it is"):
        save_bytes(path, b"three", force=True, inputs=(path,))
    assert [entry.name for entry in tmp_path.iterdir()] == ["out.txt"], "nothing half written is left"


def test_a_band_table_without_a_band_for_the_region_is_refused(tmp_path):
    table = tmp_path / "bands.csv"
    table.write_text("name,region,low,high\nmine,1,7.0 MHz,7.05 MHz\n", encoding="utf-8")
    assert [band.name for band in read_bands(table, region=1)] == ["mine"]
    with pytest.raises(UnreadableFile, match="no band is told for every region; give --region"):
        read_bands(table)
    with pytest.raises(UnreadableFile, match="no band is told for region 2"):
        read_bands(table, region=2)
    with pytest.raises(
        UnreadableFile, match=r"No such file or directory\); a CSV with name, region, low, high"
    ):
        read_bands(tmp_path / "none.csv")
