"""What is damaged or lost here brought back from an export that still holds it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import chain
from typing import Any, Literal

from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import digest_of, digest_sql, sign
from sweepkit.logbook.editing import write_facts
from sweepkit.logbook.finding import setups_where, sweeps_where
from sweepkit.logbook.records import LoggedSweep, Setup
from sweepkit.logbook.schema import history_unlocked

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
