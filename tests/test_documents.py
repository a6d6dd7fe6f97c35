"""The documents say what the program does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_readme_shows_what_its_command_prints(run):
    shown = README.split("```text\n")[1].split("```")[0]
    done = run("review", "sample_sweeps/ridge_dipole_40m.s1p", "--measured-at", "feedpoint", cwd=ROOT)
    assert shown == done.stdout


PAGES = [
    "README.md",
    "DEVELOPERS.md",
    *(f"docs/{page.name}" for page in sorted((ROOT / "docs").glob("*.md"))),
]


@pytest.mark.parametrize("page", PAGES)
def test_links_inside_the_documents_lead_somewhere(page):
    path = ROOT / page
    for target in re.findall(r"\]\((?!http)([^)#]+)", path.read_text(encoding="utf-8")):
        assert (path.parent / target).exists(), f"{page} links to {target}"


def test_the_ci_finds_both_commands_in_the_readme():
    for name in ("review", "tests"):
        block = README.split(f"<!-- ci: {name} -->\n")[1]
        assert block.startswith("```sh\npython3 -m venv .venv && .venv/bin/pip install")


def test_every_finding_code_in_the_code_is_on_the_page_of_names():
    names = (ROOT / "docs" / "names.md").read_text(encoding="utf-8")
    codes = set()
    for path in (ROOT / "sweepkit").rglob("*.py"):
        codes |= set(re.findall(r'Finding\(\s*(?:code=)?"([a-z-]+)"', path.read_text(encoding="utf-8")))
    assert codes
    assert not {code for code in codes if f"`{code}`" not in names}
