"""Answers as plain types."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import ClassVar

from sweepkit.figures import Figure
from sweepkit.plain_types import HIDDEN, IF_KNOWN, Plain, to_plain


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


@dataclass(frozen=True)
class Told(Plain):
    schema: ClassVar[str] = "told/1"
    in_json: ClassVar[dict[str, str]] = {"weight": "rounded", "more": "twice"}

    weight: float
    name: str
    for_people: str = field(default="", metadata=HIDDEN)
    distance_m: Figure | None = field(default=None, metadata=IF_KNOWN)

    @property
    def rounded(self):
        return round(self.weight, 1)

    @property
    def twice(self):
        return 2 * self.weight


def test_what_differs_from_the_fields_stands_beside_them():
    answer = Told(0.26, "a", "words").to_json()
    assert list(answer.items()) == [("schema", "told/1"), ("weight", 0.3), ("name", "a"), ("more", 0.52)]
    assert Told(0.26, "a", distance_m=Figure(2.0)).to_json()["distance_m"]["value"] == 2.0
