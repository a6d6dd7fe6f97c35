"""Files and folders named on the command line, read one by one; a bad one does not stop the others."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweepkit.cli.exits import say_error
from sweepkit.cli.progress import Progress, make_way
from sweepkit.errors import BadInput, NotASweep, SweepkitError
from sweepkit.sweep import Sweep

ERROR_SCHEMA = "sweepkit/error/1"


@dataclass(frozen=True)
class Loaded:
    """A file and its sweep, or its error."""

    path: str
    sweep: Sweep | None
    error: SweepkitError | None


def load_sweeps(paths: list[Path], **hints: Any) -> Iterator[Loaded]:
    """Read every file; errors are said on stderr and handed on.

    Parameters
    ----------
    paths : list of Path
        Files and folders. In a folder, files that are no sweeps are noted on stderr and left out.
    **hints
        Hints of :func:`sweepkit.readers.read_sweep`.
    """
    from sweepkit.readers import read_sweep

    files = list(_expanded(paths))
    with Progress(len(files)) as progress:
        for path, in_folder in files:
            progress.step(path.name)
            try:
                yield Loaded(str(path), read_sweep(path, **hints), None)
            except NotASweep as error:
                if in_folder:
                    make_way()
                    print(f"sweepkit: note: {path} is no sweep; left out", file=sys.stderr)
                else:
                    say_error(error)
                    yield Loaded(str(path), None, error)
            except SweepkitError as error:
                say_error(error)
                yield Loaded(str(path), None, error)


def is_one_file(paths: list[Path]) -> bool:
    """Whether the answer is one object rather than an array.

    Parameters
    ----------
    paths : list of Path
        As named on the command line.
    """
    return len(paths) == 1 and not paths[0].is_dir()


def error_json(loaded: Loaded) -> dict[str, Any]:
    """What stands in the place of a file that could not be read.

    Parameters
    ----------
    loaded : Loaded
        A file with an error.
    """
    error = loaded.error
    line, text = (error.line, error.text) if error else (None, "")
    return {"schema": ERROR_SCHEMA, "path": loaded.path, "line": line, "text": text}


def _expanded(paths: list[Path]) -> Iterator[tuple[Path, bool]]:
    """Files in the order named, folders replaced by their files in the order of names."""
    for path in paths:
        if not path.is_dir():
            yield path, False
            continue
        inside = sorted(entry for entry in path.iterdir() if entry.is_file() and entry.name[0] != ".")
        if not inside:
            raise BadInput("the folder holds no files; name a folder with sweeps", path=str(path))
        yield from ((entry, True) for entry in inside)
