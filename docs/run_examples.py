"""Run the commands of a page that shows what they print, and write what they print into it.

    python docs/run_examples.py docs/first-outing.md

Blocks marked ``console`` hold commands after ``$``; all of a page run in order, in an empty folder beside the samples.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)


def filled(text: str, run: Callable[[list[str]], str]) -> str:
    """The page with what its commands print.

    Parameters
    ----------
    text : str
        The page.
    run : callable
        What the words of a command line print.
    """

    def block(found: re.Match[str]) -> str:
        commands = [line for line in found.group(1).splitlines() if line.startswith("$ ")]
        parts = [f"{line}\n{run(shlex.split(line[2:]))}" for line in commands]
        return f"```console\n{''.join(parts)}```"

    return BLOCK.sub(block, text)


def main(path: Path) -> None:
    """Fill a page in place."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(ROOT / "sample_sweeps", Path(folder) / "sample_sweeps")
        environment = {**os.environ, "COLUMNS": "72", "PYTHONPATH": str(ROOT)}
        environment.pop("SWEEPKIT_LOG", None)

        def run(words: list[str]) -> str:
            command = [sys.executable, "-m", *words]
            return subprocess.run(
                command, cwd=folder, env=environment, stdout=subprocess.PIPE, text=True, check=True
            ).stdout

        path.write_text(filled(path.read_text(encoding="utf-8"), run), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
