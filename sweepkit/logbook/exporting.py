"""Write the whole logbook to a folder that needs no sweepkit to be read: raw files, CSV and JSON."""

from __future__ import annotations

import csv
import json
import os
import shutil
import sqlite3
import tempfile
from pathlib import Path

from sweepkit import __version__
from sweepkit.errors import BadInput
from sweepkit.logbook.documents import SCHEMA, json_document, kit_file, raw_file, setup_rows, sweep_rows
from sweepkit.logbook.finding import setups_where, sweeps_where
from sweepkit.logbook.raw import get_raw
from sweepkit.logbook.store import Logbook

JSON_NAME = "logbook.json"
FOLDERS = ("raw", "kit")
FILES = (JSON_NAME, "sweeps.csv", "setups.csv", "README.txt")

_README = """A logbook of antenna sweeps, exported by sweepkit {version}.

raw/          the sweeps as they were added, byte for byte, each with its number in front
kit/          kit files that belong to setups
sweeps.csv    a row for each sweep: its file, its SHA-256, and what is known of it and its setup
setups.csv    a row for each setup
logbook.json  all of it with the history of edits and the computed figures (schema {schema})

Lengths are in metres, frequencies in hertz, times ISO 8601. An empty cell is unknown. In the CSV files
an apostrophe stands before a text that a spreadsheet would take for a formula; logbook.json has it as it is.
sweepkit log import FOLDER reads this folder back.
"""


def export_logbook(log: Logbook, folder: str | Path, *, force: bool = False) -> int:
    """Write everything; the folder is there whole or not at all.

    Parameters
    ----------
    log : Logbook
        Open.
    folder : str or Path
        To be made.
    force : bool
        Replace an earlier export.

    Returns
    -------
    int
        How many sweeps were written.

    Raises
    ------
    BadInput
        The folder is there, or cannot be written.
    """
    target = Path(folder)
    _refuse_to_overwrite(target, force=force)
    try:
        target.absolute().parent.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=f".{target.name}-", suffix=".part", dir=target.absolute().parent))
        try:
            with log.reading() as connection:
                count = _write_all(connection, part)
            part.chmod(0o777 & ~_umask())
            _put_in_place(part, target)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    except OSError as error:
        raise BadInput(
            f"the export could not be written ({error.strerror}); nothing was changed; "
            "make room or choose another folder",
            path=str(target),
        ) from error
    return count


def _refuse_to_overwrite(target: Path, *, force: bool) -> None:
    """Only an empty folder, or with force an earlier export and nothing else, may be replaced."""
    if not target.exists() and not target.is_symlink():
        return
    if not target.is_dir() or target.is_symlink():
        raise BadInput("this is there and is no folder; choose another name", path=str(target))
    there = sorted(entry.name for entry in target.iterdir())
    if not there:
        return
    if JSON_NAME not in there:
        raise BadInput("this folder is not empty and holds no export; choose another one", path=str(target))
    if not force:
        raise BadInput("this folder holds an export; add --force to replace it", path=str(target))
    strangers = [name for name in there if name not in FILES + FOLDERS]
    strangers += _not_exported(target)
    if strangers:
        raise BadInput(
            f"this folder also holds {strangers[0]!r}, which no export makes; move it away first",
            path=str(target),
        )


def _not_exported(target: Path) -> list[str]:
    """Files in the folders of an earlier export that it did not put there."""
    try:
        document = json.loads((target / JSON_NAME).read_text(encoding="utf-8"))
        ours = {sweep["file"] for sweep in document["sweeps"]} | {
            setup["kit"] for setup in document["setups"]
        }
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return [JSON_NAME]
    there = (entry for name in FOLDERS for entry in (target / name).rglob("*"))
    return [name for name in (entry.relative_to(target).as_posix() for entry in there) if name not in ours]


def _put_in_place(part: Path, target: Path) -> None:
    """Swap the new folder in; the old one is removed only when the new one stands."""
    if not target.exists():
        os.rename(part, target)
        return
    old = part.with_suffix(".old")
    os.rename(target, old)
    try:
        os.rename(part, target)
    except OSError:
        os.rename(old, target)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _write_all(connection: sqlite3.Connection, folder: Path) -> int:
    """Every file of the export."""
    setups = setups_where(connection, {})
    sweeps = sorted(sweeps_where(connection, {}), key=lambda sweep: sweep.id)
    for name in FOLDERS:
        (folder / name).mkdir()
    for sweep in sweeps:
        (folder / raw_file(sweep)).write_bytes(get_raw(connection, sweep.sha256))
    for sha256 in {setup.kit_sha256 for setup in setups if setup.kit_sha256}:
        (folder / kit_file(sha256)).write_bytes(get_raw(connection, sha256))
    with (folder / JSON_NAME).open("w", encoding="utf-8", newline="\n") as stream:
        stream.writelines(json_document(connection, setups, sweeps))
    for name, rows in (("setups.csv", setup_rows(setups)), ("sweeps.csv", sweep_rows(sweeps))):
        with (folder / name).open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(rows)
    (folder / "README.txt").write_text(_README.format(version=__version__, schema=SCHEMA), encoding="utf-8")
    return len(sweeps)


def _umask() -> int:
    """The mode bits new folders go without; it can only be read by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
