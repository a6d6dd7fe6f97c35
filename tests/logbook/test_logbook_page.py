"""docs/logbook.md says what the code says."""

from pathlib import Path

from tests.logbook.fact_table import render


def test_every_fact_stands_in_the_document():
    page = Path(__file__).resolve().parents[2] / "docs" / "logbook.md"
    assert render() in page.read_text(encoding="utf-8")
