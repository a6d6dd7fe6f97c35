"""docs/kit.md: its example is read, every key and default stands in it, its Python says what it prints."""

from __future__ import annotations

import re
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

import pytest

from sweepkit.facts import KINDS
from sweepkit.kit import Analyzer, Radio, Tuner, list_assumptions, read_kit
from sweepkit.kit.reading import KEYS

PAGE = (Path(__file__).parents[1] / "docs" / "kit.md").read_text(encoding="utf-8")
EXAMPLE = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL).group(1)


@pytest.fixture
def example(tmp_path):
    path = tmp_path / "kit.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    return read_kit(path)


def test_the_example_is_read_and_leaves_nothing_to_assume(example):
    assert list(example.lines) == ["spool", "mystery"]
    assert example.tuner.r_ohm == (16, 150)
    assert example.antennas["whip"].coil_h == pytest.approx(11.3e-6)
    assert list_assumptions(example) == ()


@pytest.mark.parametrize("table", [table for table in KEYS if table])
def test_every_key_has_a_row_and_stands_in_the_example(table):
    rows = " ".join(re.findall(r"^\| (`[^|]*) \|", PAGE, re.MULTILINE))
    assert [key for key in KEYS[table] if f"`{key}`" not in rows] == []
    assert [key for key in KEYS[table] if not re.search(rf"\b{key} =", EXAMPLE)] == []


def row(key: str) -> list[str]:
    """Unit, default and reason of a key, from the table that explains it."""
    return [
        cell.strip() for cell in re.search(rf"^\| `{key}`[^|]*\|(.*)\|$", PAGE, re.MULTILINE)[1].split("|")
    ]


@pytest.mark.parametrize(
    ("key", "default"),
    [
        ("power_w", Radio().power_w),
        ("direct_swr", Radio().direct_swr),
        ("max_swr", Tuner().max_swr),
        ("loss_db", Tuner().loss_db),
    ],
)
def test_defaults_on_the_page_are_those_of_the_code(key, default):
    assert float(row(key)[1]) == default


def test_an_untold_directivity_is_drawn_from_what_the_page_says():
    low_db, high_db = map(float, re.search(r"from (\d+) to (\d+)", row("directivity_db")[1]).groups())
    largest, smallest = 10 ** (-low_db / 20), 10 ** (-high_db / 20)
    assert Analyzer().directivity == pytest.approx((smallest, largest))


def test_the_default_power_table_on_the_page_is_that_of_the_code():
    assert row("power_at_swr")[1] == f"`{[list(pair) for pair in Radio().power_at_swr]}`"


def test_kinds_on_the_page_are_those_of_the_code():
    assert row("kind")[2] == ", ".join(f"`{kind}`" for kind in KINDS)


def test_the_python_on_the_page_prints_what_it_says():
    code = re.search(r"```python\n(.*?)```", PAGE, re.DOTALL).group(1)
    printed = StringIO()
    with redirect_stdout(printed):
        exec(code, {})
    assert printed.getvalue().split() == re.findall(r"# ([\d.]+)$", code, re.MULTILINE)
