"""Find sweeps and setups: all, by antenna, by site, or by their number."""

from __future__ import annotations

import sqlite3
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.logbook.records import (
    SETUP_COLUMNS,
    SWEEP_COLUMNS,
    LoggedSweep,
    Setup,
    moment_of_row,
    setup_from_row,
    sweep_from_row,
)
from sweepkit.logbook.store import Logbook

_SETUP_WIDTH = SETUP_COLUMNS.count(",") + 1


def list_sweeps(log: Logbook, *, antenna: str | None = None, site: str | None = None) -> list[LoggedSweep]:
    """Sweeps in the order they were swept.

    Parameters
    ----------
    log : Logbook
        Open.
    antenna, site : str, optional
        Only those of this antenna, of this site.
    """
    with log.reading() as connection:
        return sweeps_where(connection, {"setup.antenna": antenna, "setup.site": site})


def list_setups(log: Logbook, *, antenna: str | None = None, site: str | None = None) -> list[Setup]:
    """Setups in the order they were added, also those without sweeps.

    Parameters
    ----------
    log : Logbook
        Open.
    antenna, site : str, optional
        Only those of this antenna, at this site.
    """
    with log.reading() as connection:
        return setups_where(connection, {"setup.antenna": antenna, "setup.site": site})


def find_sweep(log: Logbook, number: int) -> LoggedSweep:
    """One sweep.

    Parameters
    ----------
    log : Logbook
        Open.
    number : int
        As ``log add`` printed it.

    Raises
    ------
    BadInput
        There is none.
    """
    with log.reading() as connection:
        return sweep_numbered(connection, number)


def find_setup(log: Logbook, number: int) -> tuple[Setup, list[LoggedSweep]]:
    """One setup and its sweeps, in the order they were swept.

    Parameters
    ----------
    log : Logbook
        Open.
    number : int
        4 for ``S4``.

    Raises
    ------
    BadInput
        There is none.
    """
    with log.reading() as connection:
        return setup_numbered(connection, number), sweeps_where(connection, {"setup.id": number})


def sweep_numbered(connection: sqlite3.Connection, number: int) -> LoggedSweep:
    """One sweep, inside a transaction; ``BadInput`` where there is none."""
    found = sweeps_where(connection, {"sweep.id": number})
    if not found:
        raise BadInput(f"there is no sweep {number} in this logbook; log list shows those there are")
    return found[0]


def setup_numbered(connection: sqlite3.Connection, number: int) -> Setup:
    """One setup, inside a transaction; ``BadInput`` where there is none."""
    found = setups_where(connection, {"setup.id": number})
    if not found:
        raise BadInput(f"there is no setup S{number} in this logbook; log list shows those there are")
    return found[0]


def sweeps_where(connection: sqlite3.Connection, wanted: dict[str, Any]) -> list[LoggedSweep]:
    """Sweeps whose columns have these values (None: any; a list: one of them), in the order swept."""
    condition, values = condition_of(wanted)
    rows = connection.execute(
        f"SELECT {SETUP_COLUMNS}, {SWEEP_COLUMNS}"
        f" FROM sweep JOIN setup ON setup.id = sweep.setup_id {condition}",
        values,
    )
    setups: dict[int, Setup] = {}
    sweeps = []
    for row in rows:
        if row[0] not in setups:
            setups[row[0]] = setup_from_row(row[:_SETUP_WIDTH])
        sweeps.append(sweep_from_row(row[_SETUP_WIDTH:], setups[row[0]]))
    return sorted(sweeps, key=lambda sweep: sweep.order)


def sweep_numbers_where(connection: sqlite3.Connection, wanted: dict[str, Any]) -> list[int]:
    """Numbers of the sweeps that ``sweeps_where`` finds, in the same order, without keeping the sweeps."""
    condition, values = condition_of(wanted)
    rows = connection.execute(
        f"SELECT sweep.id, sweep.facts, sweep.added FROM sweep JOIN setup ON setup.id = sweep.setup_id {condition}",
        values,
    )
    return [
        number for _, number in sorted((moment_of_row(facts, added), number) for number, facts, added in rows)
    ]


def setups_where(connection: sqlite3.Connection, wanted: dict[str, Any]) -> list[Setup]:
    """Setups whose columns have these values (None: any), by number."""
    condition, values = condition_of(wanted)
    rows = connection.execute(f"SELECT {SETUP_COLUMNS} FROM setup {condition} ORDER BY setup.id", values)
    return [setup_from_row(row) for row in rows]


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
