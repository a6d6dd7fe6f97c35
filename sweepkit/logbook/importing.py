"""Read an export back: what is whole here is left, what is damaged put back, what is new added, both histories kept."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
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
from sweepkit.logbook.mending import (
    Kept,
    damaged_records,
    fill_in,
    mend_edits,
    remove_damaged_figures,
    rewrite_record,
)
from sweepkit.logbook.raw import put_raw
from sweepkit.logbook.records import record_name
from sweepkit.logbook.store import Logbook

Record = dict[str, Any]


@dataclass(frozen=True)
class Imported:
    """What an import did.

    ``sweeps`` gives the number here of each new sweep by its number there, ``same_file`` both numbers of new sweeps
    that hold the same raw file as another one here. ``mended`` names setups and sweeps that were damaged here, or
    lacked a fact that nobody took back: ``setup S2``.
    """

    sweeps: dict[int, int]
    setups: int
    edits: int
    there_already: int
    same_file: tuple[tuple[int, int], ...]
    mended: tuple[str, ...] = ()


def import_logbook(log: Logbook, export: Export | str | Path) -> Imported:
    """Add what an export holds and mend what is damaged here, in one transaction; again, it changes nothing. With a
    ``BadInput`` (no export, or not whole) nothing was added.
    """
    export = export if isinstance(export, Export) else read_export(Path(export))
    with log.writing() as connection:
        remove_damaged_figures(connection)
        setups = _take_setups(connection, export)
        sweeps = _take_sweeps(connection, export)
        edits = _merge_history(connection, export.history, again=[*setups.mended, *sweeps.mended])
        filled = fill_in(connection, export.setups, export.sweeps)
        mended = [record_name(*one) for one in (*setups.mended, *sweeps.mended)]
        return Imported(
            sweeps.new,
            len(setups.new),
            edits,
            len(export.sweeps) - len(sweeps.new),
            tuple(sweeps.same_file),
            tuple(dict.fromkeys([*mended, *filled])),
        )


@dataclass
class _Taken:
    """What became of the records of a kind: numbers here by number there, twins, and those put back."""

    new: dict[int, int] = field(default_factory=dict)
    same_file: list[tuple[int, int]] = field(default_factory=list)
    mended: list[tuple[Kept, int]] = field(default_factory=list)


def _take_setups(connection: LogConnection, export: Export) -> _Taken:
    """Setups that are new here or damaged here, and every kit."""
    taken, there = _Taken(), _uids(connection, "setup")
    damaged = damaged_records(connection, "setup")
    for setup in export.setups:
        uid = setup["uid"]
        if setup["kit_sha256"] is not None:
            put_raw(connection, export.kit_bytes(setup))
        if uid in damaged:
            rewrite_record(connection, "setup", damaged[uid], _setup_columns(setup))
            taken.mended.append(("setup", damaged[uid]))
        elif uid not in there:
            columns = _setup_columns(setup)
            taken.new[setup["number"]] = _insert(connection, "setup", setup["number"], columns)
    return taken


def _take_sweeps(connection: LogConnection, export: Export) -> _Taken:
    """Sweeps that are new here or damaged here, every raw file, and figures."""
    taken, there = _Taken(), _uids(connection, "sweep")
    damaged, setups = damaged_records(connection, "sweep"), _uids(connection, "setup")
    for sweep in export.sweeps:
        uid, columns = sweep["uid"], _sweep_columns(sweep, setups[sweep["setup"]])
        find_twin = "SELECT id FROM sweep WHERE sha256 = ? AND uid IS NOT ?"
        twin = connection.execute(find_twin, (sweep["sha256"], uid)).fetchone()
        put_raw(connection, export.raw_bytes(sweep))  # also where it was damaged
        if uid in damaged:
            rewrite_record(connection, "sweep", damaged[uid], columns)
            taken.mended.append(("sweep", damaged[uid]))
        elif uid not in there:
            number = _insert(connection, "sweep", sweep["number"], columns)
            taken.new[sweep["number"]] = number
            taken.same_file += [(number, twin[0])] if twin else []
        _insert_figures(connection, sweep)
    return taken


def _uids(connection: LogConnection, table: str) -> dict[str, int]:
    return dict(connection.execute(f"SELECT uid, id FROM {table}"))


def _free_number(connection: LogConnection, table: str, wanted: int) -> int | None:
    """The number it had, where it is free; else the next one."""
    taken = connection.execute(f"SELECT 1 FROM {table} WHERE id = ?", (wanted,)).fetchone()
    return None if taken else wanted


def _insert(connection: LogConnection, table: Kept, number: int, columns: Record) -> int:
    """A record as it was there, and its number here."""
    names, marks = ", ".join(columns), ", ?" * len(columns)
    cursor = connection.execute(
        f"INSERT INTO {table} (id, {names}) VALUES (?{marks})",
        [_free_number(connection, table, number), *columns.values()],
    )
    return signed(connection, table, cursor.lastrowid)


def _setup_columns(setup: Record) -> Record:
    """A setup as its table has it."""
    facts = dict(setup["facts"])
    named = {name: facts.pop(name, None) for name in ("antenna", "site")}
    return {**named, **_shared_columns(setup, facts), "kit_sha256": setup["kit_sha256"]}


def _sweep_columns(sweep: Record, setup_id: int) -> Record:
    """A sweep as its table has it."""
    own = {"setup_id": setup_id, "sha256": sweep["sha256"], "name": sweep["name"]}
    return {**_shared_columns(sweep, sweep["facts"]), **own, "hints": packed_json(sweep["hints"])}


def _shared_columns(record: Record, facts: Record) -> Record:
    """What setups and sweeps have in common."""
    texts = {"facts": packed_json(facts), "taken_over": packed_json(record["taken_over"])}
    return {"uid": record["uid"], **texts, "added": record["added"]}


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


def _merge_history(connection: LogConnection, history: list[Record], *, again: list[tuple[Kept, int]]) -> int:
    """Keep the edits of both; of a fact edited in both places the later edit holds, also for records put back."""
    known = {uid for (uid,) in connection.execute("SELECT uid FROM history")}
    setups, sweeps = _uids(connection, "setup"), _uids(connection, "sweep")
    edits = [_edit_columns(edit, setups, sweeps) for edit in history]
    mended = mend_edits(connection, edits)
    new = [columns for columns in edits if columns[0] not in known]
    for columns in new:
        insert_edit(connection, columns)
    touched = {columns[2:5] for columns in edits if columns[0] not in known or columns[0] in mended}
    for table, number in again:
        touched |= set(
            connection.execute(
                f"SELECT setup_id, sweep_id, name FROM history WHERE {table}_id = ?"
                f" AND digest = {digest_sql('history')}",
                (number,),
            ).fetchall()
        )
    for setup_id, sweep_id, name in sorted(touched, key=str):
        _apply_latest(connection, setup_id, sweep_id, name)
    return len(new)


def _edit_columns(edit: Record, setups: dict[str, int], sweeps: dict[str, int]) -> tuple[Any, ...]:
    """An entry of the history as its table has it."""
    numbers = (setups.get(edit["of"]), sweeps.get(edit["of"]))
    if numbers == (None, None):
        raise BadInput("the history of this export speaks of a sweep it does not hold; export it again")
    texts = (edit["name"], packed_json(edit["old"]), packed_json(edit["new"]))
    return (edit["uid"], edit["at"], *numbers, *texts)


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
