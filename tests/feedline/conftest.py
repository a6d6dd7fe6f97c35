"""The rows of tests/published/feedline/rows.csv by their id."""

import csv
from pathlib import Path

import pytest

ROWS_PATH = Path(__file__).parents[1] / "published" / "feedline" / "rows.csv"


@pytest.fixture(scope="session")
def published_rows():
    with ROWS_PATH.open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


@pytest.fixture(scope="session")
def expected(published_rows):
    """Value and tolerance of a row."""

    def look_up(row_id):
        row = published_rows[row_id]
        return complex(row["expected"]), float(row["tolerance"])

    return look_up
