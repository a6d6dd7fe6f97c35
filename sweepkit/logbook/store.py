"""Open the one file, read and write it in whole transactions, and say in plain words what went wrong.

Where the file is damaged, reading goes on with a copy made of the rows its pages still hold (``salvage.py``);
what had to be left out is told, once.
"""

from __future__ import annotations

import sqlite3
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import TypeVar

from sweepkit.errors import BadInput, SweepkitError, UnreadableFile
from sweepkit.logbook.connections import LogConnection, TornFile, connect
from sweepkit.logbook.salvage import salvage
from sweepkit.logbook.schema import (
    MIGRATIONS,
    DamagedLogbook,
    bring_up_to_date,
    find_version,
    refuse_foreign_tables,
)

T = TypeVar("T")
Tell = Callable[[str], None]

SYNCHRONOUS = "EXTRA"  # FULL, and the folder synced once the journal is gone (sqlite.org/pragma.html)
BUSY_WAIT_S = 30.0  # how long one program waits for another to finish; common practice, no source
LARGEST_CELL_BYTES = 128 << 20  # a larger cell is refused before memory is taken; twice the largest raw file
THE_FILE = "the file"
WAY_BACK = (
    "log check lists it, and log export then log import into a new logbook gives back all that is whole"
)


class Logbook:
    """An open logbook. Use it in a ``with`` statement.

    Parameters
    ----------
    path : Path
        The file.
    connection : LogConnection or None
        To that file, checked; ``None`` where it is too damaged for SQLite.
    view : LogConnection or None
        A copy that is read in its place.
    is_torn : bool
        Whether the copy was made because the file is damaged.
    tell : callable
        Told of each record that is left out, once.

    Attributes
    ----------
    left_out : dict of str to str
        What was left out until now, and why.
    """

    def __init__(
        self,
        path: Path,
        connection: LogConnection | None,
        *,
        tell: Tell,
        view: LogConnection | None = None,
        is_torn: bool = False,
    ) -> None:
        self.path = path
        self.left_out: dict[str, str] = {}
        self.is_torn = self._is_sound = False
        self._connection, self._tell = connection, tell
        self._view: LogConnection | None = None
        if connection is not None:
            connection.leaves_out = self.leave_out
        if view is not None:
            self._read_from(view, is_torn=is_torn)

    def __enter__(self) -> Logbook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; what was added stays."""
        for connection in (self._connection, self._view):
            if connection is not None:
                connection.close()

    def leave_out(self, what: str, problem: str) -> None:
        """Note that a record is not part of any answer, and why; told the first time."""
        if what not in self.left_out:
            self.left_out[what] = problem
            self._tell(f"{what}: {problem}")

    @contextmanager
    def writing(self) -> Iterator[LogConnection]:
        """One transaction that is on disk, whole, when the block has ended; after an error nothing of it is."""
        with plain_errors(self.path):
            if self._connection is None or not self._may_be_written():
                raise UnreadableFile(
                    "the file is damaged, so nothing was written to it; the way back: "
                    f"log export rescued --log {self.path.name}, log import rescued --log new.sqlite, "
                    "then go on with --log new.sqlite"
                )
            self._connection.is_last_resort = True
            with _transaction(self._connection, "BEGIN IMMEDIATE") as connection:
                yield connection

    @contextmanager
    def reading(self) -> Iterator[LogConnection]:
        """One consistent view of the file, whatever others write meanwhile."""
        with plain_errors(self.path), _transaction(self._source(), "BEGIN") as connection:
            connection.is_last_resort = True
            yield connection

    def read(self, work: Callable[[LogConnection], T]) -> T:
        """What a function makes of one consistent view; where that proves damaged, of all that is whole."""
        with plain_errors(self.path):
            try:
                with _transaction(self._source(), "BEGIN") as connection:
                    connection.is_last_resort = self.is_torn
                    return work(connection)
            except sqlite3.DatabaseError as error:
                if self.is_torn or not _is_damage(error) or not self.turn_to_pages():
                    raise
            with _transaction(self._source(), "BEGIN") as connection:
                return work(connection)

    def faults(self, most: int = 1) -> list[str]:
        """What SQLite itself finds wrong with the file, the first so many."""
        if self._connection is None:
            return ["the file is damaged: SQLite cannot read it"]
        try:
            found = self._connection.execute(f"PRAGMA integrity_check({most})").fetchall()
        except sqlite3.DatabaseError as error:
            return [f"the file is damaged: {error}"]
        return [f"the file is damaged: {text}" for (text,) in found if text != "ok"]

    def _may_be_written(self) -> bool:
        """Whether the file is sound, looked at once before the first write: one more row in a page whose list
        of rows was hit would lie over others.
        """
        assert self._connection is not None  # of this one it is asked
        if self.is_torn:
            return not self.faults()
        if not self._is_sound:
            self._is_sound = is_sound(self._connection)
        return self._is_sound

    def turn_to_pages(self) -> bool:
        """Read from now on what the pages of the file still hold, past its tree."""
        view = salvage(self.path)
        if view is not None:
            self._read_from(view, is_torn=True)
        return view is not None

    def _read_from(self, view: LogConnection, *, is_torn: bool) -> None:
        if self._view is not None:
            self._view.close()
        view.leaves_out, view.is_last_resort = self.leave_out, True
        self._view, self.is_torn = view, is_torn
        if is_torn and self.faults():
            self.leave_out(THE_FILE, f"it is damaged; this comes from what is whole in it; {WAY_BACK}")

    def _source(self) -> LogConnection:
        """Where reading happens."""
        source = self._view or self._connection
        assert source is not None  # one of them is always there
        return source


def is_sound(connection: sqlite3.Connection) -> bool:
    """Whether every page is what SQLite would write; quicker than ``faults``, which also compares indices."""
    try:
        return bool(connection.execute("PRAGMA quick_check(1)").fetchone() == ("ok",))
    except sqlite3.DatabaseError as error:
        if _is_damage(error):
            return False
        raise


@contextmanager
def _transaction(connection: LogConnection, begin: str) -> Iterator[LogConnection]:
    connection.execute(begin)
    try:
        yield connection
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _warn(text: str) -> None:
    """The default way to tell what is left out."""
    warnings.warn(text, stacklevel=4)


def open_logbook(path: str | Path, *, create: bool = False, tell: Tell | None = None) -> Logbook:
    """Open a logbook; an older one is brought up to date, of a damaged one is read what is whole.

    Parameters
    ----------
    path : str or Path
        The file.
    create : bool
        Make it where there is none.
    tell : callable, optional
        Called with a line of text for each record that is left out because it is damaged; a warning without.

    Returns
    -------
    Logbook

    Raises
    ------
    BadInput
        There is none, or it cannot be made.
    UnreadableFile
        Not a logbook, a newer one, or one of which nothing is whole.
    """
    file = Path(path)
    if not create and not file.exists():
        raise BadInput(
            "there is no logbook here; add a sweep to make one, or name it with --log", path=str(path)
        )
    tell = tell or _warn
    with plain_errors(file):
        try:
            _refuse_other_kinds(file)
            return _opened(file, create=create, tell=tell)
        except (sqlite3.DatabaseError, DamagedLogbook) as error:
            view = salvage(file) if isinstance(error, DamagedLogbook) or _is_damage(error) else None
            if view is None:
                raise
            return Logbook(file, None, view=view, is_torn=True, tell=tell)


def _opened(file: Path, *, create: bool, tell: Tell) -> Logbook:
    """The logbook as SQLite opens it; one of an older schema that cannot be written is read as a copy."""
    uri = f"{file.absolute().as_uri()}?mode={'rwc' if create else 'rw'}"
    connection = connect(uri, wait_s=BUSY_WAIT_S, largest_bytes=LARGEST_CELL_BYTES, synchronous=SYNCHRONOUS)
    view = None
    try:
        version = find_version(connection)
        if 0 < version < len(MIGRATIONS) and not is_sound(connection):
            raise DamagedLogbook("the file is damaged")
        if version < len(MIGRATIONS):
            view = _brought_up_to_date(connection)
        refuse_foreign_tables(view or connection)
        if view is None and connection.execute("PRAGMA journal_mode").fetchone()[0] != "delete":
            connection.execute("PRAGMA journal_mode = DELETE")
    except BaseException:
        connection.close()
        if view is not None:
            view.close()
        raise
    return Logbook(file, connection, view=view, tell=tell)


def _brought_up_to_date(connection: LogConnection) -> LogConnection | None:
    """Migrate the file; where it is read-only a copy of it, which is given."""
    try:
        bring_up_to_date(connection)
        return None
    except sqlite3.OperationalError as error:
        if not str(error.sqlite_errorname).startswith("SQLITE_READONLY"):
            raise
    copy = connect("", wait_s=BUSY_WAIT_S, largest_bytes=LARGEST_CELL_BYTES)
    connection.backup(copy)
    bring_up_to_date(copy)
    return copy


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
    if start in (b"", _MAGIC):
        return
    if len(start) == len(_MAGIC) and sum(a != b for a, b in zip(start, _MAGIC, strict=True)) == 1:
        raise DamagedLogbook("the first bytes of this logbook are damaged")
    raise UnreadableFile(_DAMAGED["SQLITE_NOTADB"])


# First bytes of every SQLite file that is not empty (sqlite.org/fileformat2.html)
_MAGIC = b"SQLite format 3\0"


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite reports into words a person can act on, with the file's name in front."""
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
    "SQLITE_CORRUPT": f"the logbook is damaged; {_NOTHING_ADDED}; keep the file; {WAY_BACK}",
    "SQLITE_TOOBIG": "the logbook holds an entry of absurd size; it is damaged or altered; go back to a copy",
}


def _is_damage(error: sqlite3.Error) -> bool:
    """Whether the file is to blame; our own SQL is right, so an error in it comes from altered tables."""
    name = str(getattr(error, "sqlite_errorname", ""))
    return isinstance(error, TornFile) or "_".join(name.split("_")[:2]) in (
        "SQLITE_CORRUPT",
        "SQLITE_NOTADB",
        "SQLITE_FORMAT",
        "SQLITE_ERROR",
        "SQLITE_TOOBIG",
    )


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
