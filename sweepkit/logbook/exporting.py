"""Write the whole logbook to a folder that needs no sweepkit to be read: raw files, CSV and JSON."""

from __future__ import annotations

import csv
import json
import os
import shutil
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TextIO

from sweepkit import __version__
from sweepkit.errors import BadInput, UnreadableFile
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.documents import (
    SCHEMA,
    damaged_file,
    json_document,
    kit_file,
    raw_file,
    setup_rows,
    sweep_rows,
)
from sweepkit.logbook.finding import LEFT_OUT, setups_where, sweeps_where
from sweepkit.logbook.folder_swap import new_folder, put_right, write_synced
from sweepkit.logbook.raw import get_raw
from sweepkit.logbook.records import LoggedSweep, Setup
from sweepkit.logbook.store import Logbook

JSON_NAME = "logbook.json"
FOLDERS = ("raw", "kit", "damaged")
FILES = (JSON_NAME, "sweeps.csv", "setups.csv", "README.txt")

_README = """A logbook of antenna sweeps, exported by sweepkit {version}.

raw/          the sweeps as they were added, byte for byte, each with its number in front
kit/          kit files that belong to setups
sweeps.csv    a row for each sweep: its file, its SHA-256, and what is known of it and its setup
setups.csv    a row for each setup
damaged/      only where the logbook was damaged: whole raw files whose record is not; log add takes them anew
logbook.json  all of it with the history of edits and the computed figures (schema {schema})

Lengths are in metres, frequencies in hertz, times ISO 8601. An empty cell is unknown. In the CSV files
an apostrophe stands before a text that a spreadsheet would take for a formula; logbook.json has it as it is.
sweepkit log import FOLDER reads this folder back.
"""


def export_logbook(log: Logbook, folder: str | Path, *, force: bool = False) -> int:
    """Write everything into a new folder, or with ``force`` over an earlier export; it is there whole or not at all.
    Returns how many sweeps were written.
    """
    target = Path(folder)
    try:
        put_right(target, is_ours=is_begun_export)
        _refuse_to_overwrite(target, force=force)
        with new_folder(target) as part:
            return log.read(lambda connection: _write_all(connection, part, log.left_out))
    except OSError as error:
        raise BadInput(
            f"the export could not be written ({error.strerror}); nothing was changed; "
            "make room or choose another folder",
            path=str(target),
        ) from error


def is_begun_export(folder: Path) -> bool:
    """Whether a folder holds nothing but what an export makes, or begins to make."""
    return folder.is_dir() and not folder.is_symlink() and set(os.listdir(folder)) <= {*FILES, *FOLDERS}


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
        ours |= {record["file"] for record in document.get("damaged", ())}
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return [JSON_NAME]
    there = (entry for name in FOLDERS for entry in (target / name).rglob("*"))
    return [name for name in (entry.relative_to(target).as_posix() for entry in there) if name not in ours]


def _write_all(connection: LogConnection, folder: Path, left_out: Mapping[str, str]) -> int:
    """Every file of the export that is whole; the rest is left out by name, its raw files put aside."""
    _empty(folder)
    sweeps = []
    for sweep in sorted(sweeps_where(connection, {}, proves_all=True), key=lambda sweep: sweep.id):
        try:
            write_synced(folder / raw_file(sweep), get_raw(connection, sweep.sha256))
            sweeps.append(sweep)
        except UnreadableFile as error:
            connection.leave_out(f"sweep {sweep.id}", f"{error.text}; {LEFT_OUT}")
    whole = setups_where(connection, {})
    setups = _with_kits(connection, folder, whole, sweeps)
    damaged = _write_damaged(connection, folder, whole, sweeps)
    with (folder / JSON_NAME).open("w", encoding="utf-8", newline="\n") as stream:
        stream.writelines(json_document(connection, setups, sweeps, damaged, left_out))
        _to_disk(stream)
    for name, rows in (("setups.csv", setup_rows(setups)), ("sweeps.csv", sweep_rows(sweeps))):
        with (folder / name).open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(rows)
            _to_disk(stream)
    write_synced(folder / "README.txt", _README.format(version=__version__, schema=SCHEMA).encode())
    return len(sweeps)


def _empty(folder: Path) -> None:
    """An empty folder with the folders of an export, whatever an earlier try has left."""
    for entry in folder.iterdir():
        if entry.is_dir():
            shutil.rmtree(entry)
        else:
            entry.unlink()
    for name in ("raw", "kit"):
        (folder / name).mkdir()


def _to_disk(stream: TextIO) -> None:
    """What was written is on disk when this returns."""
    stream.flush()
    os.fsync(stream.fileno())


def _with_kits(
    connection: LogConnection, folder: Path, setups: list[Setup], sweeps: list[LoggedSweep]
) -> list[Setup]:
    """Setups to export: the whole ones, and for sweeps of a damaged one what stands in for it; kits written."""
    there = {sweep.setup.number: sweep.setup for sweep in sweeps} | {setup.number: setup for setup in setups}
    exported = []
    for _, setup in sorted(there.items()):
        if setup.kit_sha256 is not None:
            try:
                write_synced(folder / kit_file(setup.kit_sha256), get_raw(connection, setup.kit_sha256))
            except UnreadableFile as error:
                connection.leave_out(f"the kit of setup {setup.id}", error.text)
                setup = replace(setup, kit_sha256=None)
        exported.append(setup)
    return exported


def _write_damaged(
    connection: LogConnection, folder: Path, setups: list[Setup], sweeps: list[LoggedSweep]
) -> list[dict[str, Any]]:
    """Records that are left out as they read, and the raw files that no exported record speaks of."""
    numbers = {"setup": {setup.number for setup in setups}, "sweep": {sweep.id for sweep in sweeps}}
    used = {sweep.sha256 for sweep in sweeps} | {setup.kit_sha256 for setup in setups}
    damaged: list[dict[str, Any]] = []
    for table in ("setup", "sweep"):
        rows = connection.execute(f"SELECT * FROM {table} ORDER BY id")
        names = [column[0] for column in rows.description]
        damaged += [
            {"record": table, "reads": dict(zip(names, map(_plain, row), strict=True)), "file": None}
            for row in rows
            if row[0] not in numbers[table]
        ]
    names_of = {row["reads"]["sha256"]: row["reads"]["name"] for row in damaged if row["record"] == "sweep"}
    for (sha256,) in connection.execute("SELECT sha256 FROM raw").fetchall():
        if sha256 not in used:
            try:
                data = get_raw(connection, sha256)
            except UnreadableFile:
                continue
            file = damaged_file(sha256, names_of.get(sha256, "unknown"))
            (folder / "damaged").mkdir(exist_ok=True)
            write_synced(folder / file, data)
            damaged.append({"record": "raw", "reads": {"sha256": sha256}, "file": file})
    return damaged


def _plain(value: Any) -> Any:
    """A column as JSON can hold it."""
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    return value.encode("utf-8", "replace").decode() if isinstance(value, str) else value
