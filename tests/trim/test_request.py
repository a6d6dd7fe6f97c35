"""What operators write, turned into numbers or refused in words."""

import pytest

from sweepkit.antennas.catalogue import KINDS
from sweepkit.errors import BadInput
from sweepkit.trim.request import parse_earlier, parse_lie, parse_move, parse_positive_m, parse_segment_hz


def test_wire_is_folded_and_a_whip_slid_unless_told():
    assert parse_move(None, KINDS["dipole"]) == "fold"
    assert parse_move(None, KINDS["loaded-whip"]) == "slide"
    assert parse_move("cut", KINDS["dipole"]) == "cut"
    with pytest.raises(BadInput, match=r"--by is 'saw'; it is one of fold, cut, slide"):
        parse_move("saw", KINDS["dipole"])


def test_how_a_tail_lies():
    assert parse_lie(None) is None
    assert parse_lie("taped") == "taped"
    assert parse_lie("2 cm") == pytest.approx(0.02)
    with pytest.raises(BadInput, match=r"or say contact or taped"):
        parse_lie("2")
    with pytest.raises(BadInput, match=r"--tail-lies is '2 m'; a tail lies 0 to 30 cm from its wire"):
        parse_lie("2 m")


@pytest.mark.parametrize(
    "text", ["7000-7074 kHz", "7.000 MHz-7.074 MHz", "7.000 to 7.074 MHz", "7000 kHz - 7.074 MHz"]
)
def test_segments(text):
    assert parse_segment_hz(text) == pytest.approx((7.000e6, 7.074e6))


@pytest.mark.parametrize("text", ["7.074-7.000 MHz", "7.000 MHz", "7.000", "7-8-9 MHz"])
def test_segments_that_are_none(text):
    with pytest.raises(BadInput, match=r"write its two ends, lower first, like 7000-7074 kHz|has no unit"):
        parse_segment_hz(text)


def test_earlier_sweeps():
    state, path = parse_earlier("10.40 m=first.s1p", "fold")
    assert (state.length_m, state.relative, state.by, path) == (10.40, False, "fold", "first.s1p")
    state, path = parse_earlier("cut: +10 cm=a=b.s1p", "fold")
    assert (state.length_m, state.relative, state.by, path) == (pytest.approx(0.10), True, "cut", "a=b.s1p")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("first.s1p", r"write length then and file, like '10\.40 m=first\.s1p'"),
        ("10.4 m=", r"write length then and file"),
        ("10.4=first.s1p", r"'10\.4' has no unit"),
        ("saw:10.4 m=first.s1p", r"begins with 'saw'; say fold, cut, slide, or nothing"),
    ],
)
def test_earlier_sweeps_that_cannot_be(text, says):
    with pytest.raises(BadInput, match=says):
        parse_earlier(text, "fold")


def test_lengths_are_above_zero():
    with pytest.raises(BadInput, match=r"--length is '-3 cm'; it must be above zero, like 10\.2 m"):
        parse_positive_m("-3 cm", "--length")
