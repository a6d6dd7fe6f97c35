"""Files and folders named on the command line, ``-`` for stdin, read one by one; a bad one does not stop the others."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple

from sweepkit.cli.exits import Exit, as_error, failure_json, say_failure, say_left_out
from sweepkit.cli.progress import Progress, make_way
from sweepkit.errors import BadInput, NotASweep, SweepkitError
from sweepkit.facts import SETUP_FILE
from sweepkit.sweep import Sweep
from sweepkit.visible import visible

SHOWN_NAMES = 3  # of the files left out of a folder, by kind; the rest is counted
# Code and prose in a folder are no sweeps, even where a table stands in them; our own choice.
NO_SWEEPS = frozenset(
    (".py", ".pyc", ".ipynb", ".sh", ".bat", ".ps1", ".js", ".c", ".h", ".cpp", ".rs", ".toml", ".yaml", ".yml",
     ".json", ".md", ".rst", ".html", ".htm", ".css", ".svg", ".tex", ".lock")
)  # fmt: skip
STDIN = "-"
FEWEST_AHEAD, AHEAD = 4, 64  # files that are read side by side; our own choice


@dataclass(frozen=True)
class Loaded:
    """A file and its sweep, or its error with the exit code it asks for."""

    path: str
    sweep: Sweep | None
    error: SweepkitError | None
    code: Exit = Exit.DONE
    piped: bytes | None = None  # what came on stdin


def load_sweeps(paths: list[Path], **hints: Any) -> Iterator[Loaded]:
    """Read every file; errors are said on stderr and handed on; what is no sweep in a folder is noted and left out."""

    files = list(_expanded(paths))
    left_out: dict[str, list[str]] = {}
    with Progress(len(files)) as progress:
        for path, in_folder, plain in _with_plain_ones(files, hints):
            progress.step(path.name)
            kind = path.suffix.lower()
            if in_folder and kind in NO_SWEEPS:
                left_out.setdefault(kind, []).append(path.name)
                continue
            try:
                if plain is not None:
                    yield Loaded(str(path), plain, None)
                elif os.path.isdir(path):
                    raise BadInput("the folder holds no files; name a folder with sweeps")
                elif str(path) == STDIN:
                    sweep, data = read_piped(**hints)
                    yield Loaded(STDIN, sweep, None, piped=data)
                else:
                    yield Loaded(str(path), read_named(path, **hints), None)
            except Exception as error:
                if in_folder and isinstance(error, NotASweep):
                    left_out.setdefault(kind, []).append(path.name)
                else:
                    yield failed(str(path), error)
    _say_left_out(left_out)
    if sum(map(len, left_out.values())) == len(files) > 0:
        where = str(paths[0]) if len(paths) == 1 else None
        say_left_out(BadInput("there is no sweep among these files; name a folder with sweeps", path=where))


def _with_plain_ones(files: list[_Named], hints: dict[str, Any]) -> Iterator[tuple[Path, bool, Sweep | None]]:
    """Files with the sweeps of those that are read ahead, side by side; what was told by hand goes one by one."""
    if len(files) < FEWEST_AHEAD or hints.keys() - {"if_needed"}:
        yield from ((file.path, file.in_folder, None) for file in files)
        return
    from sweepkit.readers.side_by_side import read_side_by_side

    tried = AHEAD
    for start in range(0, len(files), AHEAD):
        some = [(file.path, file.in_folder) for file in files[start : start + AHEAD]]
        names = [str(path) for path, _ in some if path.suffix.lower() not in NO_SWEEPS and str(path) != STDIN]
        plain = dict(zip(names, read_side_by_side(names[:tried]), strict=False))
        tried = AHEAD if any(plain.values()) else FEWEST_AHEAD  # of other kinds of files a few, now and then
        yield from ((path, in_folder, plain.pop(str(path), None)) for path, in_folder in some)


def failed(path: str, error: Exception) -> Loaded:
    """Say what is wrong with a file, whatever it is, and what stands in its place."""
    if isinstance(error, SweepkitError):
        error.path = error.path or path
    code = say_failure(error, path=path)
    if code is Exit.INTERRUPTED:
        raise KeyboardInterrupt  # it came as some other error; the rest of the files is not wanted any more
    known = as_error(error, path=path)
    return Loaded(path, None, known or BadInput("a fault of sweepkit's", path=path), code)


def _say_left_out(left_out: dict[str, list[str]]) -> None:
    """A note for each kind of file, however many there are."""
    make_way()
    for kind, names in left_out.items():
        shown = ", ".join(map(visible, names[:SHOWN_NAMES]))
        more = f" and {len(names) - SHOWN_NAMES} more" if len(names) > SHOWN_NAMES else ""
        many = f"{len(names)} {visible(kind) or 'other'} files are no sweeps; left out: {shown}{more}"
        text = f"{shown} is no sweep; left out" if len(names) == 1 else many
        print(f"sweepkit: note: {text}", file=sys.stderr)


def is_one_file(paths: list[Path]) -> bool:
    """Whether the answer is one object rather than an array."""
    return len(paths) == 1 and not os.path.isdir(paths[0])


def error_json(loaded: Loaded) -> dict[str, Any]:
    """What stands in the place of a file that could not be read."""
    error = loaded.error
    return failure_json(
        BadInput(error.text if error else "", path=loaded.path, line=error.line if error else None)
    )


class _Named(NamedTuple):
    """A file as it was named, or its name in a folder: of a hundred thousand no path is made before its turn."""

    named: Path
    name: str | None

    @property
    def in_folder(self) -> bool:
        """Whether its folder was named."""
        return self.name is not None

    @property
    def path(self) -> Path:
        """Where it is."""
        return self.named if self.name is None else self.named / self.name


def _expanded(paths: list[Path]) -> Iterator[_Named]:
    """Files in the order named, folders replaced by their files in the order of names."""
    for path in paths:
        if not os.path.isdir(path):  # a name too long for the system is a file that is not there
            yield _Named(path, None)
            continue
        with os.scandir(path) as entries:
            inside = [entry.name for entry in entries if entry.name[0] != "." and entry.is_file()]
        if not inside:
            yield _Named(path, None)
        yield from (_Named(path, name) for name in sorted(inside, key=os.path.normcase) if name != SETUP_FILE)


def read_named(path: Path, **hints: Any) -> Sweep:
    """The sweep of a file, or of stdin where ``-`` is named."""
    from sweepkit.readers import read_sweep

    return read_sweep(path, **hints) if str(path) != STDIN else read_piped(**hints)[0]


def read_piped(**hints: Any) -> tuple[Sweep, bytes]:
    """The sweep on stdin, and its bytes as they came."""
    from sweepkit.readers import read_sweep

    data = _all_that_comes()
    copy = _spooled(data)
    try:
        sweep = read_sweep(copy, **hints)
        return replace(sweep, source=replace(sweep.source, path=STDIN)), data
    except SweepkitError as error:
        error.path = STDIN
        raise
    finally:
        os.unlink(copy)


def _all_that_comes() -> bytes:
    if sys.stdin.isatty():
        raise BadInput("nothing is piped in; a sweep was expected on stdin; name a file", path=STDIN)
    data = sys.stdin.buffer.read()
    if not data.strip():
        raise BadInput(
            "stdin is empty, or was read already; a sweep was expected; name a file, or pipe one in",
            path=STDIN,
        )
    return data


def _spooled(data: bytes) -> str:
    """A copy, since a file is looked at more than once."""
    import tempfile

    handle, name = tempfile.mkstemp(prefix="sweepkit-")
    with os.fdopen(handle, "wb") as copy:
        copy.write(data)
    return name
