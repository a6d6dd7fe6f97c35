"""The documents say what the program does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sweepkit import __version__

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_readme_shows_what_its_command_prints(run):
    shown = README.split("```text\n")[1].split("```")[0]
    done = run("review", "sample_sweeps/ridge_dipole_40m.s1p", "--measured-at", "feedpoint", cwd=ROOT)
    assert shown == done.stdout


def test_the_card_of_the_readme_is_what_its_command_prints(run):
    shown = README.split("<pre>")[1].split("</pre>")[0]
    done = run(
        "review", "sample_sweeps/ridge_dipole_40m.s1p", "--measured-at", "feedpoint", "--card", cwd=ROOT
    )
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


def options_of(command):
    """Every option of every command."""
    if hasattr(command, "commands"):
        return {option for part in command.commands.values() for option in options_of(part)}
    return {option for param in command.params for option in param.opts if option.startswith("--")}


def test_every_option_stands_in_the_documents():
    import typer

    from sweepkit.cli.main import command_line

    pages = "".join(
        (ROOT / page).read_text(encoding="utf-8") for page in PAGES if page != "docs/changelog.md"
    )
    assert {
        option for option in options_of(typer.main.get_command(command_line())) if option not in pages
    } == set()


def overdue(source, version):
    """Deprecations in a source text that name no version at which they end, or one that has come."""
    found = []
    for words in re.findall(r"warn\((.*?DeprecationWarning)", source, re.DOTALL):
        ends = re.search(r"until (\d+)\.(\d+)\.(\d+)", words)
        if ends is None or tuple(map(int, ends.groups())) <= version:
            found.append(words)
    return found


def test_no_deprecation_outlives_the_version_it_names():
    version = tuple(map(int, re.findall(r"\d+", __version__)))
    for path in (ROOT / "sweepkit").rglob("*.py"):
        assert not overdue(path.read_text(encoding="utf-8"), version), path.name


@pytest.mark.parametrize(("words", "is_overdue"), [("until 0.4.0", False), ("until 0.3.0", True), ("", True)])
def test_a_deprecation_is_overdue_from_the_version_it_names(words, is_overdue):
    source = f'warnings.warn(\n    "length_m is length {words}",\n    DeprecationWarning,\n)'
    assert bool(overdue(source, (0, 3, 0))) == is_overdue


def test_the_changelog_has_the_present_version_with_its_date():
    changelog = (ROOT / "docs" / "changelog.md").read_text(encoding="utf-8")
    assert re.search(rf"^## {re.escape(__version__)} - \d{{4}}-\d\d-\d\d$", changelog, re.MULTILINE)
