"""Correct what was said about a sweep or its setup; what stood there before is kept in the history."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.facts import BY_NAME
from sweepkit.logbook.adding import packed_json, refuse_impossible, utc_now
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import digest_of, digest_sql, sign
from sweepkit.logbook.finding import setup_numbered, sweep_numbered
from sweepkit.logbook.records import LoggedSweep, Setup
from sweepkit.logbook.store import Logbook
from sweepkit.logbook.values import complaint_about
from sweepkit.plain_types import HIDDEN, Plain

SETUP_OF_SWEEP = "setup"  # name under which the history keeps that a sweep was moved to another setup


@dataclass(frozen=True)
class Edit(Plain):
    """One entry of the history: ``of`` is ``S4`` for a setup, ``12`` for a sweep; ``None``, old or new, is unknown.

    ``uid`` is its name in every logbook, ``at`` when it was made. [ISO 8601, UTC]
    """

    uid: str = field(metadata=HIDDEN)
    at: str
    of: str
    name: str
    old: Any
    new: Any


def edit_sweep(
    log: Logbook, number: int, facts: Mapping[str, Any], *, to_setup: int | None = None
) -> list[Edit]:
    """Change facts of a sweep or of the setup it belongs to, by name of ``facts.py``, or move it to another setup.

    Facts of the setup change for all its sweeps, after a move those of the new one; ``None`` makes a fact unknown.
    Stating again what was stated is no edit, stating what was only taken over is one. With a ``BadInput`` nothing was
    changed.
    """
    of_setup, of_sweep = _by_level(facts)
    with log.writing() as connection:
        sweep = sweep_numbered(connection, number)
        if to_setup is not None:
            moved = _move(connection, sweep, setup_numbered(connection, to_setup))
            sweep = sweep_numbered(connection, number)
            return moved + _edit(connection, sweep, of_sweep) + _edit(connection, sweep.setup, of_setup)
        return _edit(connection, sweep, of_sweep) + _edit(connection, sweep.setup, of_setup)


def edit_setup(log: Logbook, number: int, facts: Mapping[str, Any]) -> list[Edit]:
    """Change facts of a setup, as ``edit_sweep`` does; a fact of a single sweep is a ``BadInput``."""
    of_setup, of_sweep = _by_level(facts)
    if of_sweep:
        raise BadInput(f"{', '.join(of_sweep)} belongs to one sweep; edit that sweep by its number")
    with log.writing() as connection:
        return _edit(connection, setup_numbered(connection, number), of_setup)


def read_history(log: Logbook, *, sweep: LoggedSweep | None = None, setup: Setup | None = None) -> list[Edit]:
    """Edits in the order they were made: of one sweep, of one setup, of both, or all."""

    def read(connection: LogConnection) -> list[Edit]:
        ids = {uid: f"S{number}" for uid, number in connection.execute("SELECT uid, id FROM setup")}
        return [
            replace(edit, old=ids.get(edit.old, edit.old), new=ids.get(edit.new, edit.new))
            if edit.name == SETUP_OF_SWEEP
            else edit
            for edit in history_of(connection, sweep=sweep, setup=setup)
        ]

    return log.read(read)


def history_of(
    connection: LogConnection, *, sweep: LoggedSweep | None = None, setup: Setup | None = None
) -> list[Edit]:
    """As ``read_history``, inside a transaction, with setups named by their uid."""
    wanted = [("sweep_id", sweep.id)] if sweep else []
    wanted += [("setup_id", setup.number)] if setup else []
    condition = "WHERE " + " OR ".join(f"{column} = ?" for column, _ in wanted) if wanted else ""
    rows = connection.execute(
        f"SELECT id, digest = {digest_sql('history')}, uid, at, setup_id, sweep_id, name, old, new"
        f" FROM history {condition} ORDER BY at, uid",
        [value for _, value in wanted],
    )
    edits = []
    for number, is_as_written, *columns in rows:
        try:
            edits.append(_edit_from(*columns))
            if is_as_written:
                continue
            del edits[-1]
        except (TypeError, ValueError, RecursionError):
            pass
        if not is_as_written:
            connection.doubt(f"edit {number} is not as it was written")
        connection.leave_out(f"edit {number}", "this entry of the history is damaged; it is left out")
    return edits


def _edit_from(uid: str, at: str, setup_id: Any, sweep_id: Any, name: str, old: Any, new: Any) -> Edit:
    """An entry of the history from its columns; ``ValueError`` or ``TypeError`` where it cannot be one."""
    of = f"S{setup_id}" if sweep_id is None else str(sweep_id)
    edit = Edit(uid, at, of, name, json.loads(old), json.loads(new))
    known = BY_NAME.get(name)
    if known and any(value is not None and complaint_about(known, value) for value in (edit.old, edit.new)):
        raise ValueError(name)
    return edit


def write_facts(
    connection: LogConnection, record: Setup | LoggedSweep, facts: dict[str, Any], *, taken_over: list[str]
) -> None:
    """Replace the facts of a record, inside a transaction."""
    kept = {name: value for name, value in facts.items() if value is not None}
    if isinstance(record, LoggedSweep):
        connection.execute(
            "UPDATE sweep SET facts = ?, taken_over = ?, revision = revision + 1 WHERE id = ?",
            (packed_json(kept), packed_json(taken_over), record.id),
        )
        sign(connection, "sweep", record.id)
        return
    antenna, site = kept.pop("antenna", None), kept.pop("site", None)
    connection.execute(
        "UPDATE setup SET antenna = ?, site = ?, facts = ?, taken_over = ?, revision = revision + 1"
        " WHERE id = ?",
        (antenna, site, packed_json(kept), packed_json(taken_over), record.number),
    )
    sign(connection, "setup", record.number)


def _by_level(facts: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Facts of the setup and facts of the sweep, checked."""
    strangers = [name for name in facts if name not in BY_NAME]
    if strangers:
        raise BadInput(f"{strangers[0]!r} is no field of the logbook")
    of_setup = {name: value for name, value in facts.items() if BY_NAME[name].level == "setup"}
    of_sweep = {name: value for name, value in facts.items() if BY_NAME[name].level == "sweep"}
    refuse_impossible(of_setup, level="setup")
    refuse_impossible(of_sweep, level="sweep")
    return of_setup, of_sweep


def move_sweep(connection: LogConnection, number: int, setup_number: int) -> None:
    """Let a sweep belong to another setup, inside a transaction."""
    connection.execute(
        "UPDATE sweep SET setup_id = ?, revision = revision + 1 WHERE id = ?", (setup_number, number)
    )
    sign(connection, "sweep", number)


def _move(connection: LogConnection, sweep: LoggedSweep, setup: Setup) -> list[Edit]:
    """Say that a sweep belongs to another setup."""
    if sweep.setup.number == setup.number:
        return []
    move_sweep(connection, sweep.id, setup.number)
    edit = _remember(connection, sweep, SETUP_OF_SWEEP, sweep.setup.uid, setup.uid)
    return [replace(edit, old=sweep.setup.id, new=setup.id)]


def _edit(connection: LogConnection, record: Setup | LoggedSweep, facts: dict[str, Any]) -> list[Edit]:
    """Write what differs, or was only taken over until now, and remember what stood there."""
    differs = {name for name, value in facts.items() if record.facts.get(name) != value}
    new = {name: facts[name] for name in facts if name in differs or name in record.taken_over}
    if new:
        still_taken_over = [name for name in record.taken_over if name not in new]
        write_facts(connection, record, {**record.facts, **new}, taken_over=still_taken_over)
    return [_remember(connection, record, name, record.facts.get(name), value) for name, value in new.items()]


def _remember(connection: LogConnection, record: Setup | LoggedSweep, name: str, old: Any, new: Any) -> Edit:
    """Append one entry to the history."""
    edit = Edit(uuid.uuid4().hex, utc_now(), str(record.id), name, old, new)
    numbers = (None, record.id) if isinstance(record, LoggedSweep) else (record.number, None)
    insert_edit(connection, (edit.uid, edit.at, *numbers, name, packed_json(old), packed_json(new)))
    return edit


def insert_edit(connection: LogConnection, columns: tuple[Any, ...]) -> None:
    """Write one entry of the history with its digest, inside a transaction."""
    connection.execute(
        "INSERT INTO history (uid, at, setup_id, sweep_id, name, old, new, digest)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (*columns, digest_of(*columns)),
    )
