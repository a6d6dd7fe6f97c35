"""docs/file-formats.md says what the code says."""

from pathlib import Path

from tests.readers.refusals import refusals, render

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "file-formats.md").read_text(encoding="utf-8")


def test_every_refusal_stands_in_the_document_with_its_cure():
    assert len(refusals()) > 60
    assert render() in PAGE


def test_every_refusal_says_what_to_do():
    rules = ("must be", "expected", "correct")  # of hints: what they must be is what to do
    for found, expected, cure in refusals():
        assert cure or any(rule in expected or rule in found for rule in rules), found
