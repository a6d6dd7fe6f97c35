"""A piece of line from what an operator writes, and everything that is refused."""

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sweepkit.errors import BadInput
from sweepkit.lines import LinePiece, catalogued_piece, find_line_type, parse_piece, read_catalogue


def test_every_row_of_the_catalogue_has_a_source_and_a_fit_range():
    for line_type in read_catalogue().values():
        assert line_type.source
        assert 0 < line_type.fit_low_hz < line_type.fit_high_hz
        assert 0 < line_type.loss_spread < 1


@pytest.mark.parametrize(
    ("spec", "line_type", "length_m"),
    [
        ("RG-58 15 m", "RG-58", 15.0),
        ("rg58 15m", "RG-58", 15.0),
        ("RG 58 15 m", "RG-58", 15.0),
        ("6.1 mm foam coax 33 ft 4 in", "6.1 mm foam coax", 10.16),
        ("6.1 mm foam coax 33' 4\"", "6.1 mm foam coax", 10.16),
        ("300 ohm twin lead 10 m", "300 ohm twin lead", 10.0),
        ("RG-213,  150 cm", "RG-213", 1.5),
        ("adapter 4 cm", "adapter", 0.04),
    ],
)
def test_type_and_length(spec, line_type, length_m):
    piece = parse_piece(spec)
    assert piece.type == line_type
    assert piece.length_m == pytest.approx(length_m, rel=1e-12)


@pytest.mark.parametrize("row", [row for row in read_catalogue().values() if row.formerly])
def test_a_former_name_is_read_and_shown_as_the_present_one(row):
    piece, now = parse_piece(f"{row.formerly}  15 m"), parse_piece(f"{row.type} 15 m")
    assert piece == now
    assert piece.name == f"{row.type} 15 m"
    assert catalogued_piece(row.formerly, 15.0) == catalogued_piece(row.type, 15.0)


def test_a_catalogued_piece_carries_what_is_known_of_its_type():
    piece = parse_piece("RG-58 15 m")
    row = find_line_type("RG-58")
    assert piece.loss_sigma == row.loss_spread
    assert (piece.fit_low_hz, piece.fit_high_hz) == (10e6, 470e6)
    assert piece.length_sigma_m == pytest.approx(math.hypot(0.15, 0.05))  # 1 % of 15 m and 5 cm, in squares
    assert catalogued_piece("RG-58", 15.0, length_sigma_m=0.01).length_sigma_m == 0.01


@pytest.mark.parametrize(
    ("spec", "words"),
    [
        ("RG-58 15", "'15' has no unit"),
        ("RG-58 -3 m", "length above zero was expected"),
        ("RG-58 0 m", "length above zero was expected"),
        ("RG-58 15 parsec", "'parsec', which is not one of"),
        ("RG-58", "not a type followed by a length"),
        ("15 m", "not a type followed by a length"),
        ("", "not a type followed by a length"),
        ("RG-59C 3 m", "near it are RG-59"),
        ("XY-400 3 m", "near it are 10.3 mm foam coax"),
        ("foam coax 3 m", "near it are 6.1 mm foam coax, 10.3 mm foam coax"),
        ("rope 3 m", "known are RG-58, RG-213"),
    ],
)
def test_what_cannot_be_a_piece_is_refused(spec, words):
    with pytest.raises(BadInput, match=words):
        parse_piece(spec)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("velocity_factor", 1.2, "velocity factor is 1.2; it must be above 0 and at most 1"),
        ("velocity_factor", 0.0, "velocity factor is 0"),
        ("z0_ohm", 0.0, "impedance is 0"),
        ("z0_ohm", math.inf, "impedance is inf"),
        ("length_m", -1.0, "length is -1"),
        ("length_m", math.nan, "length is nan"),
        ("k1_db_per_100m", -1.0, "a loss is positive"),
        ("k2_db_per_100m", -0.1, "a loss is positive"),
        ("length_sigma_m", -0.1, "length tolerance is -0.1"),
        ("velocity_factor_sigma", -0.1, "velocity factor tolerance"),
        ("loss_sigma", math.nan, "loss tolerance is nan"),
        ("velocity_factor_at_hz", 0.0, "frequency of the velocity factor"),
    ],
)
def test_a_value_no_line_can_have_is_refused(field, value, words):
    good = LinePiece("spare", 50.0, 0.66, 1.4, 0.013, 10.0)
    with pytest.raises(BadInput, match=words):
        dataclasses.replace(good, **{field: value})


@given(st.text(max_size=30))
def test_any_text_gives_a_piece_or_a_message(spec):
    try:
        said = parse_piece(spec).name
    except BadInput as error:
        said = error.text
    assert said
    assert "\n" not in said
