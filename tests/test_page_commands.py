"""The commands of every page run from a clone as they stand, and print what is shown: in order, a folder a page."""

from __future__ import annotations

import importlib.util
import os
import re

import pytest

from tests.conftest import ROOT

_spec = importlib.util.spec_from_file_location("run_examples", ROOT / "docs" / "run_examples.py")
examples = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(examples)

PAGES = {
    path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8")
    for path in (*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md"), *(ROOT / "sample_sweeps").glob("*.md"))
}
FENCE = re.compile(r"^ *```(\S*)\n(.*?)^ *```", re.DOTALL | re.MULTILINE)


@pytest.mark.skipif(os.name == "nt", reason="the blocks are written for a POSIX shell")
@pytest.mark.parametrize("page", [page for page, text in PAGES.items() if examples.shell_blocks(text)])
def test_the_commands_of_a_page_run_from_a_clone_and_print_what_it_shows(page, tmp_path):
    """Numbers that changed on purpose: ``python docs/run_examples.py PAGE`` writes them anew."""
    run = examples.shell_in(tmp_path)
    for commands, shown in examples.shell_blocks(PAGES[page]):
        printed, at = run(commands), 0
        parts = examples.parts_shown(shown)
        assert len(parts) > 1 or shown in ("", printed), commands
        for part in parts:
            assert part in printed[at:], commands
            at = printed.index(part, at) + len(part)


@pytest.mark.parametrize("page", PAGES)
def test_commands_stand_in_blocks_that_are_run(page):
    for language, body in FENCE.findall(PAGES[page]):
        commands = [line for line in body.splitlines() if re.match(r"(\$ )?sweepkit \w", line)]
        run_elsewhere = language == "console" and page == "docs/first-outing.md"  # tests/test_first_outing.py
        assert not commands or language == "sh" or run_elsewhere, commands
