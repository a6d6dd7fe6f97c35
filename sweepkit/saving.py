"""Write a file whole or not at all, and never over something that is there."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path
from typing import Any

from sweepkit.errors import BadInput

# First bytes of a database, its write-ahead log (both byte orders) and its rollback journal
# (SQLite, "Database File Format", sections 1.3.1, 4.1 and 3).
_SQLITE = (
    b"SQLite format 3\0",
    b"\x37\x7f\x06\x82",
    b"\x37\x7f\x06\x83",
    b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7",
)
_opened: set[str] | None = None  # paths this run has read; None: nobody watches
_is_looking = False  # a target is looked at before it is replaced, which is no reading


def watch_opened() -> None:
    """Keep every file that this process opens for reading from being written over; for a command line."""
    global _opened  # an audit hook belongs to the process and cannot be taken away
    if _opened is None:
        sys.addaudithook(_note_opened)
    _opened = set()


def _note_opened(event: str, args: tuple[Any, ...]) -> None:
    if event == "open" and not _is_looking:
        path, _, flags = args
        if isinstance(path, str | bytes) and not (
            isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR)
        ):
            _opened.add(os.path.abspath(os.fsdecode(path)))  # type: ignore[union-attr]
    elif event == "sqlite3.connect" and isinstance(args[0], str | bytes):
        _opened.add(os.path.abspath(os.fsdecode(args[0])))  # type: ignore[union-attr]


def save_bytes(path: Path, data: bytes, *, force: bool = False, inputs: tuple[str | Path, ...] = ()) -> None:
    """Write a file in one step.

    The bytes go to a new file beside the target, which takes its name only once all of them are on disk.

    ``inputs``: files that were read; they are never replaced, not even with ``force``.
    Raises ``BadInput``: the target exists, is an input, or cannot be written.
    """
    check_target(path, force=force, inputs=inputs)
    try:
        import tempfile  # nothing is saved in most runs

        handle, name = tempfile.mkstemp(prefix=".sweepkit-", dir=path.absolute().parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(name, 0o666 & ~_umask())
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        raise BadInput(
            f"cannot be written ({error.strerror}); choose another place", path=str(path)
        ) from error


def check_target(path: Path, *, force: bool, inputs: tuple[str | Path, ...] = ()) -> None:
    """Refuse a target before the work is done."""
    try:
        found = path.stat()
    except FileNotFoundError:
        found = None
    except OSError as error:
        raise BadInput(
            f"cannot be written ({error.strerror}); choose another place", path=str(path)
        ) from error
    if found is None:
        if not path.parent.is_dir():
            raise BadInput("its folder is not there; make it, or choose another place", path=str(path))
        if path.is_symlink() and not force:
            raise BadInput("is a link to nothing; name another file or add --force", path=str(path))
        return
    if stat.S_ISDIR(found.st_mode):
        raise BadInput("is a folder; name a file", path=str(path))
    if not stat.S_ISREG(found.st_mode):
        raise BadInput("is no ordinary file and stays as it is; name another file", path=str(path))
    if any(_is_same(found, other) for other in (*inputs, *(_opened or ()))):
        raise BadInput("was read in this run and stays as it is; name another file", path=str(path))
    if _is_sqlite(path):
        raise BadInput(
            "is a database, perhaps a logbook, and stays as it is; name another file", path=str(path)
        )
    if not force:
        raise BadInput("exists already; name another file or add --force", path=str(path))


def _is_same(found: os.stat_result, other: str | Path) -> bool:
    try:
        return os.path.samestat(found, os.stat(other))
    except (OSError, ValueError):
        return False


def _is_sqlite(path: Path) -> bool:
    global _is_looking  # told to the audit hook, which is one for the process
    _is_looking = True
    try:
        with path.open("rb") as file:
            return file.read(16).startswith(_SQLITE)
    except OSError:
        return True  # what cannot be read is not replaced
    finally:
        _is_looking = False


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
