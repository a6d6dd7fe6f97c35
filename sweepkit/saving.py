"""Write a file whole or not at all, and never over something that is there."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from sweepkit.errors import BadInput


def save_bytes(path: Path, data: bytes, *, force: bool = False, inputs: tuple[str | Path, ...] = ()) -> None:
    """Write a file in one step.

    The bytes go to a new file beside the target, which takes its name only once all of them are on disk.

    Parameters
    ----------
    path : Path
        Target.
    data : bytes
        Content.
    force : bool
        Replace an existing file.
    inputs : tuple of path
        Files that were read; they are never replaced, not even with ``force``.

    Raises
    ------
    BadInput
        The target exists, is an input, or cannot be written.
    """
    check_target(path, force=force, inputs=inputs)
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.absolute().parent)
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
    """Refuse a target before the work is done.

    Parameters
    ----------
    path, force, inputs
        As for :func:`save_bytes`.
    """
    if any(_is_same(path, Path(other)) for other in inputs):
        raise BadInput("is one of the inputs and stays as it is; name another file", path=str(path))
    if path.is_dir():
        raise BadInput("is a folder; name a file", path=str(path))
    if path.exists() and not force:
        raise BadInput("exists already; name another file or add --force", path=str(path))


def _is_same(path: Path, other: Path) -> bool:
    try:
        return path.samefile(other)
    except OSError:
        return False


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
