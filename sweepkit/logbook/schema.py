"""The tables of a logbook, how older ones are brought up to date, and how a file that is not ours is told."""

from __future__ import annotations

import sqlite3

from sweepkit.errors import UnreadableFile

APPLICATION_ID = (
    0x53574B54  # "SWKT" in ASCII; ours, in the header of the file (sqlite.org/fileformat2.html, 1.3)
)

_KEPT = (
    "CREATE TRIGGER {0}_is_kept BEFORE DELETE ON {0} BEGIN SELECT RAISE(ABORT, '{0} is never removed'); END"
)
_FIXED = (
    "CREATE TRIGGER {0}_is_fixed BEFORE UPDATE ON {0} BEGIN SELECT RAISE(ABORT, '{0} never changes'); END"
)

# Each entry brings a file from the version before to the next; a released entry is never changed.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE raw (sha256 TEXT PRIMARY KEY NOT NULL, size INTEGER NOT NULL, packed BLOB NOT NULL)",
        "CREATE TABLE setup (id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, antenna TEXT, site TEXT,"
        " facts TEXT NOT NULL, taken_over TEXT NOT NULL, kit_sha256 TEXT REFERENCES raw (sha256),"
        " added TEXT NOT NULL)",
        "CREATE TABLE sweep (id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE,"
        " setup_id INTEGER NOT NULL REFERENCES setup (id), sha256 TEXT NOT NULL REFERENCES raw (sha256),"
        " name TEXT NOT NULL, facts TEXT NOT NULL, taken_over TEXT NOT NULL, hints TEXT NOT NULL,"
        " added TEXT NOT NULL)",
        "CREATE TABLE computed (sweep_id INTEGER NOT NULL REFERENCES sweep (id), what TEXT NOT NULL,"
        " version TEXT NOT NULL, at TEXT NOT NULL, answer TEXT NOT NULL,"
        " PRIMARY KEY (sweep_id, what, version))",
        "CREATE TABLE history (id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, at TEXT NOT NULL,"
        " setup_id INTEGER REFERENCES setup (id), sweep_id INTEGER REFERENCES sweep (id),"
        " name TEXT NOT NULL, old TEXT NOT NULL, new TEXT NOT NULL)",
        "CREATE INDEX setup_by_antenna ON setup (antenna)",
        "CREATE INDEX sweep_by_setup ON sweep (setup_id)",
        "CREATE INDEX sweep_by_sha256 ON sweep (sha256)",
        "CREATE INDEX history_by_setup ON history (setup_id)",
        "CREATE INDEX history_by_sweep ON history (sweep_id)",
        *(_KEPT.format(table) for table in ("raw", "setup", "sweep", "history")),
        *(_FIXED.format(table) for table in ("raw", "history")),
    ),
)


def find_version(connection: sqlite3.Connection) -> int:
    """Schema of an open file.

    Parameters
    ----------
    connection : sqlite3.Connection
        Just opened; nothing is written.

    Returns
    -------
    int
        0 for an empty file, else 1 or more.

    Raises
    ------
    UnreadableFile
        Another program's file, or a newer sweepkit's.
    """
    application = connection.execute("PRAGMA application_id").fetchone()[0]
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    if (application, version) == (0, 0) and not _objects(connection):
        return 0
    if application != APPLICATION_ID or version < 1:
        raise UnreadableFile(
            "this SQLite file was not made by sweepkit; a logbook was expected; name another file with --log"
        )
    if version > len(MIGRATIONS):
        raise UnreadableFile(
            f"this logbook was made by a newer sweepkit (schema {version}, this one knows up to "
            f"{len(MIGRATIONS)}); nothing was changed; update sweepkit"
        )
    return version


def bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Make or migrate the tables in one transaction; does nothing when they are current.

    Parameters
    ----------
    connection : sqlite3.Connection
        Open for writing, outside a transaction.
    """
    connection.execute("BEGIN EXCLUSIVE")
    try:
        for statements in MIGRATIONS[find_version(connection) :]:
            for statement in statements:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def refuse_foreign_tables(connection: sqlite3.Connection) -> None:
    """Refuse a file whose tables or triggers are not the ones sweepkit made: it could do anything on a write.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of the current version.

    Raises
    ------
    UnreadableFile
        A table is missing or changed, or there is a trigger or view more.
    """
    ours = _objects_of_a_new_file()
    theirs = _objects(connection)
    changed = [name for name, sql in ours.items() if theirs.get(name) != sql]
    strangers = [name for name in theirs if name not in ours and name[0] in ("trigger", "view")]
    for kind, name in changed + strangers:
        raise UnreadableFile(
            f"the {kind} {name[:60]!r} of this logbook is not the one sweepkit makes; the file was "
            "damaged or altered; nothing was changed; go back to a copy or an export"
        )


def _objects(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    """Tables, indices, triggers and views with their SQL."""
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {(str(kind), str(name)): str(sql) for kind, name, sql in rows}


def _objects_of_a_new_file() -> dict[tuple[str, str], str]:
    """What they are in a logbook made now."""
    fresh = sqlite3.connect(":memory:")
    try:
        for statements in MIGRATIONS:
            for statement in statements:
                fresh.execute(statement)
        return _objects(fresh)
    finally:
        fresh.close()
