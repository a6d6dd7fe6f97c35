"""Connections to a logbook: never trusting what the file says, and able to name what has to be left out."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from sweepkit.logbook.digests import teach


class TornFile(sqlite3.DatabaseError):
    """Something is not as it was written; the pages of the file may know better than its tree."""

    sqlite_errorname = "SQLITE_CORRUPT"


class LogConnection(sqlite3.Connection):
    """A connection that is told which records are damaged; as last resort there is nothing better to read from."""

    leaves_out: Callable[[str, str], None] = staticmethod(lambda what, problem: None)
    is_last_resort = False

    def leave_out(self, what: str, problem: str) -> None:
        """Name a record that cannot be part of an answer."""
        self.leaves_out(what, problem)

    def doubt(self, what: str) -> None:
        """Say that something is not as it was written, where there may be a better source."""
        if not self.is_last_resort:
            raise TornFile(what)


def connect(uri: str, *, wait_s: float, largest_bytes: int, synchronous: str | None = None) -> LogConnection:
    """A connection to a file, or with "" to a new one that is gone when it is closed.

    Settings are such that a commit is on disk, folder entry and all, before it returns.
    """
    connection = sqlite3.connect(uri, uri=True, timeout=wait_s, isolation_level=None, factory=LogConnection)
    try:
        connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, largest_bytes)
        connection.text_factory = _as_text
        teach(connection)
        settings = ["trusted_schema = OFF", "cell_size_check = ON"]
        settings += (
            [f"synchronous = {synchronous}", "foreign_keys = ON"] if synchronous else ["synchronous = OFF"]
        )
        for setting in settings:
            connection.execute(f"PRAGMA {setting}")
    except BaseException:
        connection.close()
        raise
    return connection


def _as_text(data: bytes) -> str:
    """Text whatever the bytes are; what is no text is refused where it is looked at."""
    return data.decode("utf-8", "surrogateescape")
