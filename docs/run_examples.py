"""Run the commands of a page and write what they print into it.

    python docs/run_examples.py docs/first-outing.md

Blocks marked ``console`` hold commands after ``$``, each above what it prints. What a block marked ``sh`` prints stands
in a block marked ``text`` right below it, where it is shown; a line in brackets, ``[...]``, stands for lines left out:
what is shown around it gets the numbers that are printed now, where the words are still the same. All of a page run in
order, in an empty folder beside the samples.
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
CONSOLE = re.compile(r"```console\n(.*?)```", re.DOTALL)
SHELL = re.compile(r"^```sh\n(.*?)^```(?:\n\n```text\n(.*?)^```)?", re.DOTALL | re.MULTILINE)
LEFT_OUT = re.compile(r"^ *\[[^\]\n]*\]\n", re.MULTILINE)
NUMBER = r"[+-]?\d[\d.]*"
# What needs the repository with its tests, or makes the virtual environment, is for contributors and the CI.
CONTRIBUTORS = ("python -m tests", "-m venv")


def shell_blocks(text: str) -> list[tuple[str, str]]:
    """Commands of a page for an installed sweepkit, and what they are shown to print, empty where that is not shown."""
    return [
        (commands, shown)
        for commands, shown in SHELL.findall(text)
        if not any(words in commands for words in CONTRIBUTORS)
    ]


def parts_shown(shown: str) -> list[str]:
    """What must stand in the output, in this order."""
    return LEFT_OUT.split(shown)


def filled(text: str, run: Callable[[list[str]], str]) -> str:
    """The page with what the commands of its ``console`` blocks print.

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

    return CONSOLE.sub(block, text)


def filled_below(text: str, run_shell: Callable[[str], str]) -> str:
    """The page with what its ``sh`` blocks print in the ``text`` blocks below them."""
    for commands, shown in shell_blocks(text):
        printed = run_shell(commands)
        if shown:
            now = printed if len(parts_shown(shown)) == 1 else numbers_anew(shown, printed)
            old, new = (f"```sh\n{commands}```\n\n```text\n{output}```" for output in (shown, now))
            text = text.replace(old, new)
    return text


def numbers_anew(shown: str, printed: str) -> str:
    """The parts shown, each with the numbers and line breaks that are printed now; as it stands where words differ."""
    now = LEFT_OUT.findall(shown)
    for place, part in enumerate(parts_shown(shown)):
        words = (NUMBER.join(map(re.escape, re.split(NUMBER, word))) for word in part.split())
        found = part.strip() and re.search("^ *" + r"\s+".join(words) + "$", printed, re.MULTILINE)
        now.insert(2 * place, part.replace(part.strip(), found[0].strip()) if found else part)
    return "".join(now)


def shell_in(folder: Path) -> Callable[[str], str]:
    """A POSIX shell in a folder with the samples, that knows ``sweepkit``."""
    shutil.copytree(ROOT / "sample_sweeps", folder / "sample_sweeps")
    environment = {key: value for key, value in os.environ.items() if key != "SWEEPKIT_LOG"}
    environment |= {"COLUMNS": "72", "PYTHON": sys.executable, "PYTHONPATH": str(ROOT), "HOME": str(folder)}

    def run(commands: str) -> str:
        script = f'sweepkit() {{ "$PYTHON" -m sweepkit "$@"; }}\n{commands}'
        done = subprocess.run(
            ["sh", "-eu", "-c", script],
            cwd=folder,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode or "Traceback" in done.stderr:
            raise RuntimeError(f"{commands}\n{done.stderr}")
        return done.stdout

    return run


def main(path: Path) -> None:
    """Fill a page in place."""
    with tempfile.TemporaryDirectory() as folder:
        run = shell_in(Path(folder))
        text = filled(path.read_text(encoding="utf-8"), lambda words: run(shlex.join(words)))
        path.write_text(filled_below(text, run), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
