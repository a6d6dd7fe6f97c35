"""Find sweeps and setups: all, by antenna, by site, or by their number."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import Table, digest_sql
from sweepkit.logbook.records import (
    NOT_AS_WRITTEN,
    SETUP_COLUMNS,
    SWEEP_COLUMNS,
    UID,
    DamagedRecord,
    LoggedSweep,
    Setup,
    record_name,
    setup_from_row,
    sweep_from_row,
)
from sweepkit.logbook.store import Logbook

_SETUP_WIDTH = SETUP_COLUMNS.count(",") + 1
LEFT_OUT = "the sweep is left out"
_STANDS_IN = "what it tells of its sweeps is left out"


def list_sweeps(log: Logbook, *, antenna: str | None = None, site: str | None = None) -> list[LoggedSweep]:
    """Sweeps in the order they were swept."""
    return log.read(
        lambda connection: sweeps_where(
            connection, {"setup.antenna": antenna, "setup.site": site}, proves_all=True
        )
    )


def find_sweep(log: Logbook, number: int) -> LoggedSweep:
    """One sweep by its number, as ``log add`` printed it."""
    return log.read(lambda connection: sweep_numbered(connection, number))


def find_setup(log: Logbook, number: int) -> tuple[Setup, list[LoggedSweep]]:
    """One setup (4 for ``S4``) and its sweeps, in the order they were swept."""
    return log.read(
        lambda connection: (
            setup_numbered(connection, number),
            sweeps_where(connection, {"setup.id": number}, proves_all=True),
        )
    )


def sweep_numbered(connection: LogConnection, number: int) -> LoggedSweep:
    """One sweep, inside a transaction; ``BadInput`` where there is none, or a damaged one."""
    found = sweeps_where(connection, {"sweep.id": number})
    if not found:
        _refuse_missing(connection, "sweep", number, f"there is no sweep {number} in this logbook")
    return found[0]


def setup_numbered(connection: LogConnection, number: int) -> Setup:
    """One setup, inside a transaction; ``BadInput`` where there is none, or a damaged one."""
    found = setups_where(connection, {"setup.id": number})
    if not found:
        _refuse_missing(connection, "setup", number, f"there is no setup S{number} in this logbook")
    return found[0]


def sweeps_where(
    connection: LogConnection, wanted: dict[str, Any], *, proves_all: bool = False
) -> list[LoggedSweep]:
    """Whole sweeps whose columns have these values (None: any; a list: one of them), in the order swept.

    Those that are damaged are left out by name; with ``proves_all`` also those that a damaged column may hide.
    """
    if proves_all:
        leave_out_damaged(connection)
    condition, values = condition_of(wanted)
    rows = connection.execute(
        f"SELECT {SETUP_COLUMNS}, {SWEEP_COLUMNS}"
        f" FROM sweep LEFT JOIN setup ON setup.id = sweep.setup_id {condition} ORDER BY sweep.id",
        values,
    )
    setups: dict[int, Setup] = {}
    sweeps = []
    for row in rows:
        of_setup, of_sweep = row[:_SETUP_WIDTH], row[_SETUP_WIDTH:]
        try:
            sweep = sweep_from_row(of_sweep, NOBODYS)
        except DamagedRecord as error:
            _leave_out(connection, "sweep", of_sweep[0], error)
            continue
        number = of_sweep[2]
        if number not in setups:
            setups[number] = _setup(connection, of_setup, number, sweep)
        sweeps.append(replace(sweep, setup=setups[number]))
    return sorted(sweeps, key=lambda sweep: sweep.order)


def sweep_numbers_where(connection: LogConnection, wanted: dict[str, Any]) -> list[int]:
    """Numbers of the sweeps that ``sweeps_where`` finds, in the same order, a few sweeps in memory at a time."""
    condition, values = condition_of(wanted)
    rows = connection.execute(
        f"SELECT {SWEEP_COLUMNS} FROM sweep LEFT JOIN setup ON setup.id = sweep.setup_id {condition}", values
    )
    orders = []
    for row in rows:
        try:
            orders.append(sweep_from_row(row, NOBODYS).order)
        except DamagedRecord as error:
            _leave_out(connection, "sweep", row[0], error)
    return [number for _, number in sorted(orders)]


def setups_where(connection: LogConnection, wanted: dict[str, Any]) -> list[Setup]:
    """Whole setups whose columns have these values (None: any), by number."""
    condition, values = condition_of(wanted)
    rows = connection.execute(f"SELECT {SETUP_COLUMNS} FROM setup {condition} ORDER BY setup.id", values)
    setups = []
    for row in rows:
        try:
            setups.append(setup_from_row(row))
        except DamagedRecord as error:
            _leave_out(connection, "setup", row[0], error)
    return setups


def leave_out_damaged(connection: LogConnection) -> dict[Table, set[int]]:
    """Numbers of the setups and sweeps that are not as they were written, by name left out.

    A search for an antenna would pass over a setup whose antenna was hit, and nobody would know.
    """
    found: dict[Table, set[int]] = {"setup": set(), "sweep": set()}
    for table in found:
        all_rows, listed = connection.execute(
            f"SELECT (SELECT count(*) FROM {table} NOT INDEXED), (SELECT count(uid) FROM {table})"
        ).fetchone()
        if all_rows != listed:
            connection.doubt(f"{table}: {all_rows} rows, {listed} in its index")
        for number, is_as_written in connection.execute(
            f"SELECT id, digest = {digest_sql(table)} FROM {table}"
            f" WHERE digest IS NOT {digest_sql(table)} OR NOT json_valid(facts)"
            + (" OR NOT json_valid(hints)" if table == "sweep" else "")
        ).fetchall():
            found[table].add(number)
            text = "it is not readable" if is_as_written else NOT_AS_WRITTEN
            _leave_out(connection, table, number, DamagedRecord(text, is_torn=not is_as_written))
    return found


NOBODYS = Setup(0, "", MappingProxyType({}), (), None, "")  # where a sweep is looked at without its setup


def _setup(connection: LogConnection, row: tuple[Any, ...], number: int, sweep: LoggedSweep) -> Setup:
    """The setup of a sweep; where it is damaged or lost, one of which nothing is known but its number."""
    uid = row[1]
    try:
        if row[0] is not None:
            return setup_from_row(row)
        connection.doubt(f"setup {number} is missing")
        connection.leave_out(f"setup S{number}", f"it is missing; {_STANDS_IN}")
    except DamagedRecord as error:
        _leave_out(connection, "setup", number, error)
    if not isinstance(uid, str) or not UID.fullmatch(uid):
        uid = hashlib.sha256(f"setup of {sweep.uid}".encode()).hexdigest()[:32]
    return replace(NOBODYS, number=number, uid=uid, added=sweep.added)


def _leave_out(connection: LogConnection, table: Table, number: int, error: DamagedRecord) -> None:
    """Name a damaged record, once there is no better copy of it in the file."""
    if error.is_torn:
        connection.doubt(error.text)
    rest = _STANDS_IN if table == "setup" else LEFT_OUT
    connection.leave_out(record_name(table, number), f"{error.text}; {rest}")


def _refuse_missing(connection: LogConnection, table: Table, number: int, text: str) -> None:
    """Say that there is no such record, or that it is damaged."""
    if connection.execute(f"SELECT 1 FROM {table} WHERE id = ?", (number,)).fetchone():
        name = record_name(table, number)
        raise BadInput(
            f"{name} is damaged; log check tells what is wrong; log edit {name.split()[1]} --accept "
            "takes it as it reads"
        )
    leave_out_damaged(connection)
    raise BadInput(f"{text}; log list shows those there are")


def condition_of(wanted: dict[str, Any]) -> tuple[str, list[Any]]:
    """WHERE clause and its values."""
    tests, values = [], []
    for column, value in wanted.items():
        if isinstance(value, list):
            tests.append(f"{column} IN ({', '.join('?' * len(value))})")
            values += value
        elif value is not None:
            tests.append(f"{column} = ?")
            values.append(value)
    return ("WHERE " + " AND ".join(tests) if tests else ""), values
