"""What is damaged or lost here brought back from an export that still holds it, or taken as it reads for right."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from typing import Any, Literal

from sweepkit.errors import BadInput, UnreadableFile
from sweepkit.facts import Level
from sweepkit.logbook.adding import packed_json, utc_now
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import COVERED, digest_of, digest_sql, sign
from sweepkit.logbook.editing import write_facts
from sweepkit.logbook.finding import setups_where, sweeps_where
from sweepkit.logbook.raw import kept_name
from sweepkit.logbook.records import UID, LoggedSweep, Setup, facts_complaint, moment_of
from sweepkit.logbook.schema import history_unlocked
from sweepkit.logbook.store import Logbook
from sweepkit.logbook.values import hints_complaint

Document = dict[str, Any]  # a record as documents.py writes it
Kept = Literal["setup", "sweep"]
AT_A_TIME = 500  # below the number of values a statement of SQLite takes in any build (999)


def damaged_records(connection: LogConnection, table: Kept) -> dict[str, int]:
    """Numbers of the records that are not as they were written, by uid."""
    rows = connection.execute(f"SELECT uid, id FROM {table} WHERE digest IS NOT {digest_sql(table)}")
    return dict(rows.fetchall())


def rewrite_record(connection: LogConnection, table: Kept, number: int, columns: Mapping[str, Any]) -> None:
    """Give a record other columns and sign it anew, inside a transaction."""
    names = ", ".join(f"{name} = ?" for name in columns)
    connection.execute(
        f"UPDATE {table} SET {names}, revision = revision + 1 WHERE id = ?", [*columns.values(), number]
    )
    sign(connection, table, number)


def remove_damaged_figures(connection: LogConnection) -> None:
    """Figures that are not as they were written: the export has them, or they are computed again."""
    connection.execute(f"DELETE FROM computed WHERE digest IS NOT {digest_sql('computed')}")


def mend_edits(connection: LogConnection, edits: Iterable[tuple[Any, ...]]) -> set[str]:
    """Put entries of the history that are damaged here back, given as their columns; uids of those put back."""
    by_uid = {columns[0]: columns for columns in edits}
    rows = connection.execute(
        f"SELECT id, uid FROM history WHERE digest IS NOT {digest_sql('history')}"
    ).fetchall()
    damaged = [(by_uid[uid], number) for number, uid in rows if uid in by_uid]
    if damaged:
        with history_unlocked(connection):
            connection.executemany(
                "UPDATE history SET uid = ?, at = ?, setup_id = ?, sweep_id = ?, name = ?, old = ?, new = ?,"
                " digest = ? WHERE id = ?",
                [(*columns, digest_of(*columns), number) for columns, number in damaged],
            )
    return {columns[0] for columns, _ in damaged}


def fill_in(connection: LogConnection, setups: Iterable[Document], sweeps: Iterable[Document]) -> list[str]:
    """Take facts that are missing here from an export, and say of which records.

    A fact changes by an edit alone, so one that is missing without an edit was lost to damage.
    """
    edited = set(connection.execute("SELECT setup_id, sweep_id, name FROM history").fetchall())
    filled = []
    for record, export in chain(_here(connection, "setup", setups), _here(connection, "sweep", sweeps)):
        numbers = (record.number, None) if isinstance(record, Setup) else (None, record.id)
        lost = {
            name for name in export["facts"] if name not in record.facts and (*numbers, name) not in edited
        }
        if _fill(connection, record, export, lost):
            filled.append(f"{'setup' if isinstance(record, Setup) else 'sweep'} {record.id}")
    return filled


def _here(
    connection: LogConnection, table: Kept, exported: Iterable[Document]
) -> Iterator[tuple[Setup | LoggedSweep, Document]]:
    """Whole records that an export tells of too, and what it tells."""
    told = {record["uid"]: record for record in exported}
    find = setups_where if table == "setup" else sweeps_where
    for numbers in _numbers_of(connection, table, told):
        for record in find(connection, {f"{table}.id": numbers}):
            yield record, told[record.uid]


def _numbers_of(connection: LogConnection, table: Kept, told: Mapping[str, Document]) -> Iterator[list[int]]:
    """Numbers of the records that an export tells of, some at a time."""
    rows = connection.execute(f"SELECT id, uid FROM {table} ORDER BY id").fetchall()
    numbers = [number for number, uid in rows if uid in told]
    for start in range(0, len(numbers), AT_A_TIME):
        yield numbers[start : start + AT_A_TIME]


def _fill(connection: LogConnection, record: Setup | LoggedSweep, export: Document, lost: set[str]) -> bool:
    """Take these facts, and the kit of a setup that has none; whether there was anything."""
    has_lost_kit = (
        isinstance(record, Setup) and record.kit_sha256 is None and export["kit_sha256"] is not None
    )
    if has_lost_kit:
        connection.execute(
            "UPDATE setup SET kit_sha256 = ? WHERE uid = ?", (export["kit_sha256"], export["uid"])
        )
    if not lost and not has_lost_kit:
        return False
    facts = {**record.facts, **{name: export["facts"][name] for name in lost}}
    taken_over = sorted({*record.taken_over, *(lost & set(export["taken_over"]))})
    write_facts(connection, record, facts, taken_over=taken_over)
    return True


def accept_record(log: Logbook, level: Level, number: int) -> list[str]:
    """Sign a setup or sweep anew as it reads; returns the names of the parts that cannot be and became unknown."""
    with log.writing() as connection:
        names = COVERED[level]
        row = connection.execute(f"SELECT {', '.join(names)} FROM {level} WHERE id = ?", (number,)).fetchone()
        if row is None:
            raise BadInput(f"there is no {level} {number} in this logbook; log check names what is damaged")
        old = dict(zip(names, row, strict=True))
        new = _setup_columns(old) if level == "setup" else _sweep_columns(old)
        _demand_what_it_points_to(connection, level, new)
        rewrite_record(connection, level, number, new)
    return _lost(old, new)


def _shared(level: Level, old: Mapping[str, Any]) -> dict[str, Any]:
    """What setups and sweeps have in common, as far as it can be."""
    facts = {
        name: value
        for name, value in _read(old["facts"], dict).items()
        if not facts_complaint(level, {name: value}) and (name != "when" or _is_time(value))
    }
    taken_over = [name for name in _read(old["taken_over"], list) if name in facts]
    return {
        "uid": old["uid"] if UID.fullmatch(str(old["uid"])) else uuid.uuid4().hex,
        "facts": packed_json(facts),
        "taken_over": packed_json(taken_over),
        "added": old["added"] if _is_time(old["added"]) else utc_now(),
    }


def _setup_columns(old: Mapping[str, Any]) -> dict[str, Any]:
    named = {
        name: None if facts_complaint("setup", {name: old[name]}) else old[name]
        for name in ("antenna", "site")
        if old[name] is not None
    }
    return {**_shared("setup", old), **named, "kit_sha256": old["kit_sha256"]}


def _sweep_columns(old: Mapping[str, Any]) -> dict[str, Any]:
    hints = _read(old["hints"], dict)
    return {
        **_shared("sweep", old),
        "setup_id": old["setup_id"],
        "sha256": old["sha256"],
        "name": kept_name(str(old["name"])),
        "hints": packed_json({} if hints_complaint(hints) else hints),
    }


def _demand_what_it_points_to(connection: LogConnection, level: Level, new: dict[str, Any]) -> None:
    """Refuse a sweep whose raw file or setup is not there; a kit that is not there becomes unknown."""

    def is_there(table: str, column: str, value: Any) -> bool:
        found = connection.execute(f"SELECT 1 FROM {table} WHERE {column} = ?", (value,)).fetchone()
        return found is not None

    if level == "setup":
        new["kit_sha256"] = new["kit_sha256"] if is_there("raw", "sha256", new["kit_sha256"]) else None
    elif not is_there("raw", "sha256", new["sha256"]) or not is_there("setup", "id", new["setup_id"]):
        raise BadInput(
            "the record does not tell which file or setup it belongs to; log export puts its raw file in "
            "damaged/, import that export into a new logbook, and add the file there"
        )


def _lost(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    """Names of what became unknown or was made anew."""
    facts_before, facts_now = _read(old["facts"], dict), _read(new["facts"], dict)
    lost = [str(name) for name in facts_before if name not in facts_now]
    return lost + [name for name in new if name not in ("facts", "taken_over") and old[name] != new[name]]


def _read(text: Any, kind: type) -> Any:
    """JSON of the kind expected, or an empty one."""
    try:
        value = json.loads(text)
    except (TypeError, ValueError, RecursionError):
        return kind()
    return value if isinstance(value, kind) else kind()


def _is_time(text: Any) -> bool:
    try:
        moment_of(text)
    except UnreadableFile:
        return False
    return True
