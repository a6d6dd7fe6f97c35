"""Runs every command line in one process with the sweepkit that PYTHONPATH names; keeps what it says and writes.

Imports nothing of sweepkit but its command line, so that it runs any commit's.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import re
import shlex
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

LINES = Path(__file__).with_name("command_lines.txt")
TEXT = {".html", ".md", ".csv", ".json", ".svg", ".toml", ".s1p", ".ts", ".txt"}
DEFAULT_COLUMNS = "72"


def command_lines(only: str) -> list[str]:
    """The lines of the list that hold some words, and those that fill the logbook; without remarks."""
    lines = LINES.read_text(encoding="utf-8").splitlines()
    told = [line for line in lines if line.strip() and not line.startswith("#")]
    return [line for line in told if only in line or line.startswith("log add")]


def main(kept: Path, only: str) -> None:
    """Run all in the current folder, and write ``{line: output}`` to a file.

    Parameters
    ----------
    kept : Path
        JSON file that is written.
    only : str
        Run the lines that hold these words.
    """
    import sweepkit

    wanted = Path(os.environ["PYTHONPATH"]).resolve()
    if not Path(sweepkit.__file__).resolve().is_relative_to(wanted):
        raise SystemExit(f"sweepkit comes from {sweepkit.__file__}, not from {wanted}")
    outputs: dict[str, str] = {}
    for number, line in enumerate(command_lines(only), start=1):
        outputs[line] = _masked(_run(line, Path("out") / f"{number}"), sweepkit.__version__)
    kept.write_text(json.dumps(outputs, indent=0), encoding="utf-8")


def _run(line: str, folder: Path) -> str:
    """Exit code, both streams and every file that was written, as one text."""
    from sweepkit.cli.main import main as sweepkit_main

    folder.mkdir(parents=True)
    columns, _, rest = line.partition(" ") if line.startswith("COLUMNS=") else (DEFAULT_COLUMNS, "", line)
    os.environ["COLUMNS"] = columns.removeprefix("COLUMNS=")
    sys.argv = ["sweepkit", *shlex.split(rest.replace("{out}", folder.as_posix()))]
    streams = [io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2)]
    code: object = 0
    with contextlib.redirect_stdout(streams[0]), contextlib.redirect_stderr(streams[1]):
        try:
            sweepkit_main()
        except SystemExit as end:
            code = end.code
    said = []
    for stream in streams:
        stream.flush()
        said.append(stream.buffer.getvalue().decode("utf-8"))  # type: ignore[attr-defined]
    parts = [f"exit {code}", "--- stdout", said[0], "--- stderr", said[1]]
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        parts += [f"--- {path.relative_to(folder).as_posix()}", _content(path)]
    return "\n".join(parts).replace(f"{folder.as_posix()}/", "{out}/")


def _content(path: Path) -> str:
    data = path.read_bytes()
    if path.suffix.lower() in TEXT:
        return data.decode("utf-8")
    return f"{len(data)} bytes, sha256 {hashlib.sha256(data).hexdigest()}"


def _masked(text: str, version: str) -> str:
    """Without what differs from run to run: the clock, the version, the folder, and names drawn at random."""
    now = datetime.now(UTC)
    days = "|".join({(now + timedelta(days=days)).strftime("%Y-%m-%d") for days in (-1, 0, 1)})
    text = re.sub(
        rf"(?:{days})(?:[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?)?(?:Z|[+-]\d\d:\d\d| UTC)?", "<now>", text
    )
    text = re.sub(r"\b[0-9a-f]{32}\b", "<uid>", text)
    text = text.replace(str(Path.cwd()), "<here>")
    return text.replace(f"sweepkit {version}", "sweepkit <version>").replace(f'"{version}"', '"<version>"')


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
