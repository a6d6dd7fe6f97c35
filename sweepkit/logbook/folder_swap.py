"""Put a whole new folder in the place of an old one; what a crash leaves behind is put right by the next run.

At every moment the old folder or the new one is whole on disk: under its name, or for the instant between two
renames under that name with ``.`` in front and ``.old`` behind, from where ``put_right`` brings it back.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

IsOurs = Callable[[Path], bool]


@contextmanager
def new_folder(target: Path) -> Iterator[Path]:
    """A folder beside the target to be filled; it takes the name of the target once the block has ended well."""
    place = target.absolute()
    place.parent.mkdir(parents=True, exist_ok=True)
    part = Path(tempfile.mkdtemp(prefix=f".{place.name}-", suffix=".part", dir=place.parent))
    try:
        yield part
        part.chmod(0o777 & ~_umask())
        _sync_folders(part)
        _put_in_place(part, place)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def put_right(target: Path, *, is_ours: IsOurs) -> None:
    """Bring back the folder that a crash left under its other name, and remove what else it left that ``is_ours``."""
    place = target.absolute()
    old = _old(place)
    if old.is_dir() and is_ours(old):
        if not place.exists():
            os.rename(old, place)
            _sync(place.parent)
        elif is_ours(place):
            shutil.rmtree(old, ignore_errors=True)
    for part in _parts(place):
        if is_ours(part):
            _remove(part)


def write_synced(path: Path, data: bytes) -> None:
    """Write a file that is on disk when this returns."""
    with path.open("wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def _put_in_place(part: Path, place: Path) -> None:
    """Swap the new folder in; the old one is removed only when the new one stands on the disk."""
    old = _old(place)
    had_one = place.exists() and any(place.iterdir())
    if had_one:
        os.rename(place, old)
    elif place.exists():
        place.rmdir()  # an empty one; not every system renames over it
    try:
        os.rename(part, place)
    except OSError:
        if had_one:
            os.rename(old, place)
        raise
    _sync(place.parent)
    if had_one:
        shutil.rmtree(old, ignore_errors=True)


def _old(place: Path) -> Path:
    """Where the old folder is for an instant."""
    return place.with_name(f".{place.name}.old")


def _parts(place: Path) -> list[Path]:
    """Folders that were begun for this target."""
    if not place.parent.is_dir():
        return []
    start = f".{place.name}-"
    names = [name for name in os.listdir(place.parent) if name.startswith(start) and name.endswith(".part")]
    return [place.with_name(name) for name in names]


def _remove(part: Path) -> None:
    """Remove what was begun; renamed first, so that one still at work on it fails instead of half succeeding."""
    gone = part.with_suffix(".gone")
    try:
        os.rename(part, gone)
    except OSError:
        return
    shutil.rmtree(gone, ignore_errors=True)


def _sync_folders(top: Path) -> None:
    """The entries of a folder and of those in it are on disk when this returns."""
    for folder, _, _ in os.walk(top):
        _sync(Path(folder))


def _sync(folder: Path) -> None:
    """The entries of one folder; Windows opens no folders, and keeps their entries itself."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _umask() -> int:
    """The mode bits new folders go without; it can only be read by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
