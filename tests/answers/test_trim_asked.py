"""One reading of what is asked of trim, as text or as numbers, for the command and for Python."""

from __future__ import annotations

import pytest

from sweepkit.answers.trim_asked import TrimAsked
from sweepkit.errors import BadInput


def asked(**told):
    return TrimAsked(**({"beside": {}, "kind": "dipole", "length": "10.2 m", "target": "7.1 MHz"} | told))


def test_text_and_numbers_are_one_wish():
    text = asked(tail="20 cm", beside={"wire": "1 mm", "transformer": "1:1"}).wish({})
    numbers = asked(tail=0.2, length=10.2, target=7.1e6, beside={"wire": "1 mm", "transformer": "1:1"})
    assert text == numbers.wish({})
    assert (text["length_m"], text["tail_m"], text["target_hz"], text["by"]) == (10.2, 0.2, 7.1e6, "fold")


def test_what_is_not_told_is_as_the_records_know():
    facts = {"kind": "vertical", "length_m": 5.4, "tail_m": 0.1, "radials": 3}
    wish = asked(kind=None, length=None).wish(facts)
    assert (wish["kind"].name, wish["length_m"], wish["tail_m"]) == ("vertical", 5.4, 0.1)
    assert wish["known"].radials == 3
    assert asked(tail="0 m").wish(facts)["tail_m"] == 0.0


def test_nothing_to_trim_needs_no_length():
    assert asked(kind="random-wire", length=None).wish({})["length_m"] == 1.0


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"target": None}, "with one of --target, --band and --segment"),
        ({"band": "40 m"}, "with one of --target, --band and --segment"),
        ({"kind": None}, "the kind of antenna is not told; add --kind"),
        ({"length": None}, "the length is not told; add --length"),
        ({"length": "-3 m"}, "length is '-3 m'; above 0"),
        ({"tail": "-3 cm"}, "tail is '-3 cm'; 0 to 10000 m was expected"),
        ({"target": None, "segment": (7.1e6, 7.0e6)}, "its lower end stands first"),
    ],
)
def test_what_cannot_be_asked(told, says):
    with pytest.raises(BadInput, match=says):
        asked(**told).wish({})
