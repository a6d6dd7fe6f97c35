"""The tables of a logbook, how older ones are brought up to date, and how a file that is not ours is told."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from sweepkit.errors import UnreadableFile
from sweepkit.logbook.digests import digest_sql, teach

# "SWKT" in ASCII; ours, in the header of the file (sqlite.org/fileformat2.html, 1.3)
APPLICATION_ID = 0x53574B54

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
    (  # 2: a digest over every record; what stood there is signed as it was found
        *(f"DROP TRIGGER {table}_is_fixed" for table in ("raw", "history")),
        *(
            f"ALTER TABLE {table} ADD COLUMN revision INTEGER NOT NULL DEFAULT 1"
            for table in ("setup", "sweep")
        ),
        *(
            statement
            for table in ("setup", "sweep", "computed", "history")
            for statement in (
                f"ALTER TABLE {table} ADD COLUMN digest TEXT",
                f"UPDATE {table} SET digest = {digest_sql(table)}",
            )
        ),
        _FIXED.format("history"),
        # a raw file that was damaged may be put back: its hash tells whether it is the same
        "CREATE TRIGGER raw_is_fixed BEFORE UPDATE ON raw WHEN old.sha256 IS NOT new.sha256"
        " BEGIN SELECT RAISE(ABORT, 'raw never changes'); END",
    ),
)


class DamagedLogbook(UnreadableFile):
    """A logbook of ours whose header or tables were hit; its pages may still give their rows."""


def find_version(connection: sqlite3.Connection) -> int:
    """Schema of an open file: 0 for an empty file, else 1 or more; nothing is written.

    ``DamagedLogbook``: all but one bit of what tells a logbook is right; ``UnreadableFile``: it is another program's,
    or a newer sweepkit's.
    """
    with _one_moment(connection):  # another process may be making it
        application: int = connection.execute("PRAGMA application_id").fetchone()[0]
        version: int = connection.execute("PRAGMA user_version").fetchone()[0]
        is_empty = not _objects(connection)
    if (application, version) == (0, 0) and is_empty:
        return 0
    wrong_bits = (application ^ APPLICATION_ID).bit_count() + (
        0 if 1 <= version <= len(MIGRATIONS) else (version ^ len(MIGRATIONS)).bit_count()
    )
    if wrong_bits == 1 and not _changed(connection):
        raise DamagedLogbook("the header of this logbook is damaged")
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


@contextmanager
def _one_moment(connection: sqlite3.Connection) -> Iterator[None]:
    """What is read inside belongs together."""
    if connection.in_transaction:
        yield
        return
    connection.execute("BEGIN")
    try:
        yield
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Make or migrate the tables in one transaction; does nothing when they are current."""
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


@contextmanager
def history_unlocked(connection: sqlite3.Connection) -> Iterator[None]:
    """Let damaged entries of the history be put back, inside a transaction; else none ever changes."""
    connection.execute("DROP TRIGGER history_is_fixed")
    yield
    connection.execute(_FIXED.format("history"))


def refuse_foreign_tables(connection: sqlite3.Connection) -> None:
    """Refuse a file whose tables or triggers are not the ones sweepkit made: it could do anything on a write.

    ``DamagedLogbook`` where they are what a flipped bit makes of ours.
    """
    changed = _changed(connection)
    if not changed:
        return
    if _is_by_accident(connection, changed):
        raise DamagedLogbook("the tables of this logbook are damaged")
    kind, name = changed[0]
    raise UnreadableFile(
        f"the {kind} {name[:60]!r} of this logbook is not the one sweepkit makes; the file was "
        "damaged or altered; nothing was changed; go back to a copy or an export"
    )


def _changed(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    """Kind and name of what differs from a logbook made now, of our own first; tables more do no harm."""
    ours, theirs = _objects_of_a_new_file(), _objects(connection)
    changed = [name for name, sql in ours.items() if theirs.get(name) != sql]
    return changed + [name for name in theirs if name not in ours and name[0] in ("trigger", "view")]


def _is_by_accident(connection: sqlite3.Connection, changed: list[tuple[str, str]]) -> bool:
    """Whether one letter differs, or the file itself is not sound."""
    ours, theirs = _objects_of_a_new_file(), _objects(connection)
    for name in changed:
        one, other = ours.get(name, ""), theirs.get(name, "")
        if len(one) == len(other) and sum(a != b for a, b in zip(one, other, strict=True)) == 1:
            return True
    return bool(connection.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",))


def _objects(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    """Tables, indices, triggers and views with their SQL."""
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {(str(kind), str(name)): str(sql) for kind, name, sql in rows}


def _objects_of_a_new_file() -> dict[tuple[str, str], str]:
    """What they are in a logbook made now."""
    return _objects_after(MIGRATIONS)


@cache
def _objects_after(migrations: tuple[tuple[str, ...], ...]) -> dict[tuple[str, str], str]:
    fresh = sqlite3.connect(":memory:")
    teach(fresh)
    try:
        for statements in migrations:
            for statement in statements:
                fresh.execute(statement)
        return _objects(fresh)
    finally:
        fresh.close()
