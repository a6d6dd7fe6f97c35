"""A test is called published only where it cites a row whose source was read; the others say what they are."""

from __future__ import annotations

import ast
import csv
import re
from pathlib import Path

TESTS = Path(__file__).parent
ROW = re.compile(r"\b([A-Z]{2,5})-(\d+)(?: (?:to|and) (?:\1-)?(\d+))?")
# Tests that take a whole family of rows, and those that hold data of the source itself.
WHOLE = {
    "test_catalogued_loss_lies_among_the_published_figures": "COAX-01 to 48",
}
DATA = {
    "test_the_dip_of_the_npl_resonator",
    "test_the_resonator_is_the_one_of_the_rows",
    "test_certified_mean_squares_give_the_components",
}


def seen_rows() -> set[str]:
    """Rows whose source was read."""
    paths = (TESTS / "published" / "check_values.csv", TESTS / "published" / "feedline" / "rows.csv")
    rows = [row for path in paths for row in csv.DictReader(path.read_text(encoding="utf-8").splitlines())]
    return {row["id"] for row in rows if row["how_seen"] == "seen"}


def cited(text: str) -> set[str]:
    """``COAX-62 to 67`` as all of them."""
    found = set()
    for family, first, last in ROW.findall(text):
        width = len(first)
        found |= {f"{family}-{number:0{width}d}" for number in range(int(first), int(last or first) + 1)}
    return found


def marked_tests(mark: str) -> list[tuple[str, str]]:
    """Name and text, with the remarks above it, of each test with a mark."""
    found = []
    for path in sorted(TESTS.rglob("test_*.py")):
        source = path.read_text(encoding="utf-8")
        if f"mark.{mark}" not in source:
            continue
        lines = source.split("\n")
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.FunctionDef) and node.decorator_list:
                first = node.decorator_list[0].lineno - 1
                decorators = "\n".join(lines[first : node.lineno - 1])
                if f"mark.{mark}\n" not in decorators + "\n":
                    continue
                above = first
                while above and lines[above - 1].startswith("#"):
                    above -= 1
                found.append((node.name, "\n".join(lines[above : node.end_lineno])))
    return found


def test_what_is_called_published_cites_a_row_that_was_read():
    seen = seen_rows()
    unread = [
        name
        for name, text in marked_tests("published")
        if not (name in DATA or cited(text + WHOLE.get(name, "")) & seen)
    ]
    assert unread == []


def test_what_was_read_is_called_published():
    seen = seen_rows()
    assert [name for name, text in marked_tests("derived") if cited(text) & seen] == []
