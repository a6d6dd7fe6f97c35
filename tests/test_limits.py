"""Limits of what people tell: the same wherever it is told, said in one line, and whole at their edges."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from sweepkit.errors import BadInput
from sweepkit.kit import read_kit
from sweepkit.limits import LIMITS, complaint, refuse_outside
from sweepkit.quantities import parse_frequency_hz, parse_inductance_h, parse_length_m

NO_NUMBERS = (math.nan, math.inf, -math.inf, 10**400, 1e300, -1e300, True, "7", None, [7], b"7")


@pytest.mark.parametrize("limit", LIMITS.values(), ids=LIMITS)
def test_ends_belong_to_the_range_and_what_is_beyond_does_not(limit):
    step = 1 if limit.whole else max(abs(limit.high), 1e-9) * 1e-9
    assert limit.low < limit.high
    assert limit.holds(limit.high)
    assert not limit.holds(limit.high + step)
    assert limit.holds(limit.low) is not limit.above
    assert not limit.holds(limit.low - step)
    if limit.whole:
        assert not limit.holds(limit.low + 0.5)


@pytest.mark.parametrize("value", NO_NUMBERS, ids=lambda value: repr(value)[:20])
@pytest.mark.parametrize("name", LIMITS)
def test_what_is_no_such_number_is_refused_in_one_short_line(name, value):
    wrong = complaint(name, value)
    assert wrong
    assert len(wrong) < 160
    assert "\n" not in wrong


def test_the_message_holds_name_value_and_range():
    with pytest.raises(
        BadInput, match=r"^--draws is about 10\^9; it must be a whole number from 0 to 10000$"
    ):
        refuse_outside("draws", 10**9, called="--draws")
    refuse_outside("draws", None)


@pytest.mark.parametrize(
    ("parse", "inside", "beyond"),
    [
        (parse_frequency_hz, ("1 kHz", "1000 GHz"), ("999 Hz", "1000.1 GHz", "1e300 MHz", "1e999 Hz")),
        (parse_length_m, ("10000 m", "-10000 m", "0 m"), ("10001 m", "-10001 m", "1e300 m", "1e999 ft 1 in")),
        (parse_inductance_h, ("1 H", "1 nH"), ("1.01 H", "1e300 uH")),
    ],
)
def test_typed_quantities_at_their_ends(parse, inside, beyond):
    for text in inside:
        parse(text)
    for text in beyond:
        with pytest.raises(BadInput, match="was expected; check the unit"):
            parse(text)


@pytest.mark.parametrize(
    "text",
    [
        '[lines.a]\ntype = "RG-58"\nlength = "1000000 m"',
        '[lines.a]\ntype = "RG-58"\nlength = "15 m"\nz0_ohm = 1e17',
        "[radio]\npower_w = 1e17",
        "[radio]\npower_at_swr = [[1e17, 1.0]]",
        "[tuner]\nmax_swr = 1e17",
        "[analyzer]\npoints = [100000000]",
        '[antennas.a]\nkind = "vertical"\nradials = 100000',
        '[antennas.a]\nkind = "vertical"\nlength = "11 km"',
        '[antennas.a]\nkind = "loaded-whip"\ncoil = "2 H"',
    ],
)
def test_the_kit_refuses_with_its_line(tmp_path, text):
    path = tmp_path / "kit.toml"
    path.write_text(text)
    with pytest.raises(BadInput, match=rf"kit\.toml:{text.count(chr(10)) + 1}: "):
        read_kit(path)


def test_the_page_of_names_holds_the_table():
    page = (Path(__file__).parents[1] / "docs" / "names.md").read_text(encoding="utf-8")
    for limit in LIMITS.values():
        assert f"| `{limit.name}` | {limit.help} | {limit.rule} |" in page
