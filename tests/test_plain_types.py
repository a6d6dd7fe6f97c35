"""Answers as plain types."""

from __future__ import annotations

import json
from dataclasses import dataclass

from sweepkit.figures import Figure
from sweepkit.plain_types import record, to_plain


@dataclass(frozen=True)
class Part:
    f_hz: Figure
    kind: str | None


@dataclass(frozen=True)
class Whole:
    name: str
    parts: tuple[Part, ...]
    by_name: dict[str, Part]
    for_people: str
    distance_m: Figure | None = None


WHOLE = Whole("a", (Part(Figure(7e6, 6e6, 8e6), None),), {"b": Part(Figure.none("why"), "series")}, "words")


def test_fields_stand_in_order_and_parts_are_written_all_the_way_down():
    assert json.dumps(to_plain(WHOLE)) == json.dumps(
        {
            "name": "a",
            "parts": [{"f_hz": {"value": 7e6, "low": 6e6, "high": 8e6}, "kind": None}],
            "by_name": {
                "b": {"f_hz": {"value": None, "low": None, "high": None, "reason": "why"}, "kind": "series"}
            },
            "for_people": "words",
            "distance_m": None,
        }
    )


def test_what_is_for_people_is_left_out_and_what_is_not_known_may_be_absent():
    answer = record(WHOLE, left_out=("for_people",), absent=("distance_m",))
    assert list(answer) == ["name", "parts", "by_name"]
