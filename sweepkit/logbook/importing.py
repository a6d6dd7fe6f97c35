"""Read an export back: what is there already is left, what is new is added, both histories are kept."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.logbook.adding import packed_json, signed
from sweepkit.logbook.computed import insert_figures
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import digest_sql
from sweepkit.logbook.editing import SETUP_OF_SWEEP, insert_edit, move_sweep, write_facts
from sweepkit.logbook.export_file import Export, read_export
from sweepkit.logbook.finding import setup_numbered, sweep_numbered
from sweepkit.logbook.raw import put_raw
from sweepkit.logbook.store import Logbook

Record = dict[str, Any]


@dataclass(frozen=True)
class Imported:
    """What an import did.

    Parameters
    ----------
    sweeps : dict
        Number here of each sweep that is new, by its number there.
    setups : int
        How many setups are new.
    edits : int
        How many entries of the history are new.
    there_already : int
        How many sweeps were there already.
    same_file : tuple of (int, int)
        New sweeps that hold the same raw file as another one here: both numbers.
    """

    sweeps: dict[int, int]
    setups: int
    edits: int
    there_already: int
    same_file: tuple[tuple[int, int], ...]


def import_logbook(log: Logbook, export: Export | str | Path) -> Imported:
    """Add what an export holds, in one transaction; doing it again changes nothing.

    Parameters
    ----------
    log : Logbook
        Open for writing.
    export : str, Path or Export
        Folder made by ``export_logbook``, here or elsewhere.

    Returns
    -------
    Imported

    Raises
    ------
    BadInput
        The folder is no export, or not whole. Nothing was added.
    """
    export = export if isinstance(export, Export) else read_export(Path(export))
    with log.writing() as connection:
        setups_before = _uids(connection, "setup")
        sweeps_before = _uids(connection, "sweep")
        for setup in export.setups:
            if setup["uid"] not in setups_before:
                _insert_setup(connection, export, setup)
        setup_ids = _uids(connection, "setup")
        new, same_file = {}, []
        for sweep in export.sweeps:
            if sweep["uid"] not in sweeps_before:
                twin = connection.execute(
                    "SELECT id FROM sweep WHERE sha256 = ?", (sweep["sha256"],)
                ).fetchone()
                new[sweep["number"]] = _insert_sweep(connection, export, sweep, setup_ids[sweep["setup"]])
                same_file += [(new[sweep["number"]], twin[0])] if twin else []
            else:
                put_raw(connection, export.raw_bytes(sweep))  # puts back what was damaged here
            _insert_figures(connection, sweep)
        edits = _merge_history(connection, export.history)
        return Imported(
            new, len(setup_ids) - len(setups_before), edits, len(export.sweeps) - len(new), tuple(same_file)
        )


def _uids(connection: LogConnection, table: str) -> dict[str, int]:
    """Numbers by uid."""
    return dict(connection.execute(f"SELECT uid, id FROM {table}"))


def _free_number(connection: LogConnection, table: str, wanted: int) -> int | None:
    """The number it had, where it is free; else the next one."""
    taken = connection.execute(f"SELECT 1 FROM {table} WHERE id = ?", (wanted,)).fetchone()
    return None if taken else wanted


def _insert_setup(connection: LogConnection, export: Export, setup: Record) -> None:
    """A setup as it was there."""
    facts = dict(setup["facts"])
    columns = (facts.pop("antenna", None), facts.pop("site", None), packed_json(facts))
    if setup["kit_sha256"] is not None:
        put_raw(connection, export.kit_bytes(setup))
    cursor = connection.execute(
        "INSERT INTO setup (id, uid, antenna, site, facts, taken_over, kit_sha256, added)"
        " VALUES (?,?,?,?,?,?,?,?)",
        (
            _free_number(connection, "setup", setup["number"]),
            setup["uid"],
            *columns,
            packed_json(setup["taken_over"]),
            setup["kit_sha256"],
            setup["added"],
        ),
    )
    signed(connection, "setup", cursor.lastrowid)


def _insert_sweep(connection: LogConnection, export: Export, sweep: Record, setup_id: int) -> int:
    """A sweep as it was there, and its number here."""
    sha256 = put_raw(connection, export.raw_bytes(sweep))
    texts = [packed_json(sweep[name]) for name in ("facts", "taken_over", "hints")]
    cursor = connection.execute(
        "INSERT INTO sweep (id, uid, setup_id, sha256, name, facts, taken_over, hints, added)"
        " VALUES (?,?,?,?,?,?,?,?,?)",
        (
            _free_number(connection, "sweep", sweep["number"]),
            sweep["uid"],
            setup_id,
            sha256,
            sweep["name"],
            *texts,
            sweep["added"],
        ),
    )
    return signed(connection, "sweep", cursor.lastrowid)


def _insert_figures(connection: LogConnection, sweep: Record) -> None:
    """Computed answers that are not here yet."""
    (number,) = connection.execute("SELECT id FROM sweep WHERE uid = ?", (sweep["uid"],)).fetchone()
    insert_figures(
        connection,
        [
            (number, figure["what"], figure["version"], figure["at"], packed_json(figure["answer"]))
            for figure in sweep["figures"]
        ],
    )


def _merge_history(connection: LogConnection, history: list[Record]) -> int:
    """Keep the edits of both; of a fact edited in both places the later edit holds."""
    known = {uid for (uid,) in connection.execute("SELECT uid FROM history")}
    setups, sweeps = _uids(connection, "setup"), _uids(connection, "sweep")
    new = [edit for edit in history if edit["uid"] not in known]
    touched = set()
    for edit in new:
        numbers = (setups.get(edit["of"]), sweeps.get(edit["of"]))
        if numbers == (None, None):
            raise BadInput("the history of this export speaks of a sweep it does not hold; export it again")
        texts = (edit["name"], packed_json(edit["old"]), packed_json(edit["new"]))
        insert_edit(connection, (edit["uid"], edit["at"], *numbers, *texts))
        touched.add((*numbers, edit["name"]))
    for setup_id, sweep_id, name in sorted(touched, key=str):
        _apply_latest(connection, setup_id, sweep_id, name)
    return len(new)


def _apply_latest(connection: LogConnection, setup_id: int | None, sweep_id: int | None, name: str) -> None:
    """Set a fact to what the latest entry of its history says."""
    (new,) = connection.execute(
        "SELECT new FROM history WHERE setup_id IS ? AND sweep_id IS ? AND name = ?"
        f" AND digest = {digest_sql('history')}"
        " ORDER BY at DESC, uid DESC LIMIT 1",
        (setup_id, sweep_id, name),
    ).fetchone()
    value = json.loads(new)
    if name == SETUP_OF_SWEEP:
        target = connection.execute("SELECT id FROM setup WHERE uid = ?", (value,)).fetchone()
        if target is None:
            raise BadInput("the history of this export speaks of a setup it does not hold; export it again")
        move_sweep(connection, int(sweep_id or 0), target[0])
        return
    record = (
        setup_numbered(connection, setup_id) if setup_id else sweep_numbered(connection, int(sweep_id or 0))
    )
    still_taken_over = [other for other in record.taken_over if other != name]
    write_facts(connection, record, {**record.facts, name: value}, taken_over=still_taken_over)
