"""The page on feed lines says what the program does."""

from pathlib import Path

import pytest

from sweepkit.lines import read_catalogue

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "feedline.md").read_text(encoding="utf-8")


def test_the_worked_example_prints_what_the_page_shows(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    code = PAGE.split("```python\n")[1].split("```")[0]
    shown = PAGE.split("```text\n")[1].split("```")[0]
    exec(compile(code, "docs/feedline.md", "exec"), {})
    assert capsys.readouterr().out == shown


@pytest.mark.parametrize("line_type", read_catalogue().values(), ids=lambda line_type: line_type.type)
def test_the_catalogue_on_the_page_is_the_catalogue(line_type):
    row = (
        f"| {line_type.type} | {line_type.z0_ohm:g} | {line_type.velocity_factor:g} "
        f"| {line_type.k1_db_per_100m:.3f} | {line_type.k2_db_per_100m:.4f} | {line_type.loss_spread:.0%} "
        f"| {line_type.fit_low_hz / 1e6:g} to {line_type.fit_high_hz / 1e6:g} MHz |"
    )
    assert row in PAGE
