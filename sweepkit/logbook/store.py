"""Open the one file, read and write it in whole transactions, and say in plain words what went wrong."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from sweepkit.errors import BadInput, SweepkitError, UnreadableFile
from sweepkit.logbook.schema import MIGRATIONS, bring_up_to_date, find_version, refuse_foreign_tables

_MAGIC = (
    b"SQLite format 3\0"  # first bytes of every SQLite file that is not empty (sqlite.org/fileformat2.html)
)
SYNCHRONOUS = "EXTRA"  # FULL, and the folder synced once the journal is gone (sqlite.org/pragma.html)
BUSY_WAIT_S = 30.0  # how long one program waits for another to finish; common practice, no source
LARGEST_CELL_BYTES = 128 << 20  # a larger cell is refused before memory is taken; twice the largest raw file


class Logbook:
    """An open logbook. Use it in a ``with`` statement.

    Parameters
    ----------
    path : Path
        The file.
    connection : sqlite3.Connection
        To that file, checked.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; what was added stays."""
        self._connection.close()

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction that is on disk, whole, when the block has ended; after an error nothing of it is.

        Raises
        ------
        BadInput, UnreadableFile
            The file cannot be written, and why.
        """
        with self._transaction("BEGIN IMMEDIATE") as connection:
            yield connection

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """One consistent view of the file, whatever others write meanwhile.

        Raises
        ------
        BadInput, UnreadableFile
            The file cannot be read, and why.
        """
        with self._transaction("BEGIN") as connection:
            yield connection

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[sqlite3.Connection]:
        with plain_errors(self.path):
            self._connection.execute(begin)
            try:
                yield self._connection
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise


def open_logbook(path: str | Path, *, create: bool = False) -> Logbook:
    """Open a logbook; an older one is brought up to date.

    Parameters
    ----------
    path : str or Path
        The file.
    create : bool
        Make it where there is none.

    Returns
    -------
    Logbook

    Raises
    ------
    BadInput
        There is none, or it cannot be made.
    UnreadableFile
        Not a logbook, a newer one, or a damaged one.
    """
    file = Path(path)
    if not create and not file.exists():
        raise BadInput(
            "there is no logbook here; add a sweep to make one, or name it with --log", path=str(path)
        )
    with plain_errors(file):
        _refuse_other_kinds(file)
        connection = _connect(file, create=create)
        try:
            if find_version(connection) < len(MIGRATIONS):
                bring_up_to_date(connection)
            refuse_foreign_tables(connection)
            if connection.execute("PRAGMA journal_mode").fetchone()[0] != "delete":
                connection.execute("PRAGMA journal_mode = DELETE")
        except BaseException:
            connection.close()
            raise
    return Logbook(file, connection)


def _refuse_other_kinds(file: Path) -> None:
    """Refuse what is no SQLite file; beside a journal SQLite may still have to mend the beginning."""
    try:
        if not file.exists() or file.with_name(f"{file.name}-journal").exists():
            return
        with file.open("rb") as stream:
            start = stream.read(len(_MAGIC))
    except OSError as error:
        raise BadInput(
            f"the logbook cannot be opened ({error.strerror}); check the file and its folder"
        ) from error
    if start not in (b"", _MAGIC):
        raise UnreadableFile(_DAMAGED["SQLITE_NOTADB"])


def _connect(file: Path, *, create: bool) -> sqlite3.Connection:
    """A connection set so that a commit is on disk, folder entry and all, before it returns."""
    uri = f"{file.absolute().as_uri()}?mode={'rwc' if create else 'rw'}"
    connection = sqlite3.connect(uri, uri=True, timeout=BUSY_WAIT_S, isolation_level=None)
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LARGEST_CELL_BYTES)
    settings = (
        f"synchronous = {SYNCHRONOUS}",
        "foreign_keys = ON",
        "trusted_schema = OFF",
        "cell_size_check = ON",
    )
    for setting in settings:
        connection.execute(f"PRAGMA {setting}")
    return connection


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite reports into words a person can act on, with the file's name in front.

    Parameters
    ----------
    path : Path
        The logbook.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise _in_plain_words(error, path) from error
    except SweepkitError as error:
        error.path = error.path or str(path)
        raise


_NOTHING_ADDED = "nothing was changed"
_WORDS = {
    "SQLITE_BUSY": f"another program held the logbook for {BUSY_WAIT_S:g} s; {_NOTHING_ADDED}; try again",
    "SQLITE_LOCKED": f"another program holds the logbook; {_NOTHING_ADDED}; try again",
    "SQLITE_FULL": f"the disk is full; {_NOTHING_ADDED}; make room and try again",
    "SQLITE_IOERR": f"the disk did not take or give the data (full, or failing); {_NOTHING_ADDED}; "
    "make room, or copy the file to another disk, and try again",
    "SQLITE_READONLY": f"the logbook or its folder is read-only; {_NOTHING_ADDED}; "
    "copy it to where you may write, or change its permissions",
    "SQLITE_CANTOPEN": f"the logbook cannot be opened or its folder not be written; {_NOTHING_ADDED}; "
    "check that the folder exists and that you may write there",
    "SQLITE_PERM": f"you may not open this file; {_NOTHING_ADDED}; change its permissions",
}
_DAMAGED = {
    "SQLITE_NOTADB": "this file is not a logbook (no SQLite file at all); name another file with --log",
    "SQLITE_CORRUPT": "the logbook is damaged; keep the file, go back to a copy, and run log check on it",
    "SQLITE_TOOBIG": "the logbook holds an entry of absurd size; it is damaged or altered; go back to a copy",
}


def _in_plain_words(error: sqlite3.Error, path: Path) -> SweepkitError:
    """The error for the user; the primary code is the part of the name before a second underscore."""
    name = str(getattr(error, "sqlite_errorname", ""))
    primary = "_".join(name.split("_")[:2])
    if primary in _WORDS:
        return BadInput(_WORDS[primary], path=str(path))
    if primary in _DAMAGED:
        return UnreadableFile(_DAMAGED[primary], path=str(path))
    return UnreadableFile(
        f"the logbook could not be used ({error}); {_NOTHING_ADDED}; run log check", path=str(path)
    )
