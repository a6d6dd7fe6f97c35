"""Expected values from outside, by id: value, tolerance, unit and source stand in check_values.csv."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest


@dataclass(frozen=True)
class Expected:
    """One number from outside and where it comes from."""

    value: float
    tolerance: float
    unit: str
    source: str
    how_seen: str

    def matches(self, *, unit: str) -> object:
        """What to compare a result with; ``unit`` is said again so that a mix-up fails."""
        if unit != self.unit:
            raise ValueError(f"the row is in {self.unit}, the test asks for {unit}")
        return pytest.approx(self.value, abs=self.tolerance, rel=0)


@cache
def _rows() -> dict[str, Expected]:
    with (Path(__file__).with_name("check_values.csv")).open(encoding="utf-8", newline="") as file:
        return {
            row["id"]: Expected(
                float(row["expected"]), float(row["tolerance"]), row["unit"], row["source"], row["how_seen"]
            )
            for row in csv.DictReader(file)
        }


def expected(row_id: str) -> Expected:
    """The row called ``row_id``, for example ``DATA-24``."""
    return _rows()[row_id]
