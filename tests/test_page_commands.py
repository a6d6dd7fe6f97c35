"""The commands of a page run from a clone as they stand: in order, one folder for the page, nothing but the samples."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
BLOCK = re.compile(r"^```sh\n(.*?)^```", re.DOTALL | re.MULTILINE)
# The story of docs/first-outing.md and the pages with ``console`` blocks have tests of their own.
PAGES = ("feedline.md", "kit.md", "logbook.md", "plots.md", "trimming.md")


def blocks_of(page: str) -> list[str]:
    """Blocks of commands; those that need what only the repository has are left out."""
    blocks = BLOCK.findall((ROOT / "docs" / page).read_text(encoding="utf-8"))
    return [block for block in blocks if "sweepkit" in block and "python -m tests" not in block]


@pytest.mark.skipif(os.name == "nt", reason="the blocks are written for a POSIX shell")
@pytest.mark.parametrize("page", PAGES)
def test_the_commands_of_a_page_run_from_a_clone(page, tmp_path):
    shutil.copytree(ROOT / "sample_sweeps", tmp_path / "sample_sweeps")
    environment = {key: value for key, value in os.environ.items() if key != "SWEEPKIT_LOG"}
    environment |= {"PYTHON": sys.executable, "PYTHONPATH": str(ROOT), "HOME": str(tmp_path)}
    sweepkit = 'sweepkit() { "$PYTHON" -m sweepkit "$@"; }\n'
    blocks = blocks_of(page)
    assert blocks, page
    for block in blocks:
        command = ["sh", "-eu", "-c", sweepkit + block]
        done = subprocess.run(
            command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, f"{block}\n{done.stderr}"
        assert "Traceback" not in done.stderr
