"""A digest over every record, so that a digit that flipped on the card is seen, whatever it was part of.

It guards against accidents: whoever may write the file can write a new digest too.
"""

from __future__ import annotations

import hashlib
import sqlite3
from typing import Any, Literal

Table = Literal["setup", "sweep", "computed", "history"]

# The columns a digest covers, in this order. "revision" counts how often a record was written.
COVERED: dict[Table, tuple[str, ...]] = {
    "setup": ("id", "uid", "antenna", "site", "facts", "taken_over", "kit_sha256", "added", "revision"),
    "sweep": ("id", "uid", "setup_id", "sha256", "name", "facts", "taken_over", "hints", "added", "revision"),
    "computed": ("sweep_id", "what", "version", "at", "answer"),
    "history": ("uid", "at", "setup_id", "sweep_id", "name", "old", "new"),
}
_COUNTS = ("id", "setup_id", "sweep_id", "revision")  # whole numbers; the rest is text
_DIGEST_BYTES = 16  # an accident passes once in 2**128


def digest_of(*values: Any) -> str:
    """Digest of the columns of a record, each with its kind and size, so that no two records read alike."""
    parts = []
    for value in values:
        if isinstance(value, str):
            value = value.encode("utf-8", "surrogateescape")
        parts.append(b"s%d:%b" % (len(value), value) if isinstance(value, bytes) else b"%a;" % (value,))
    return hashlib.blake2b(b"".join(parts), digest_size=_DIGEST_BYTES).hexdigest()


def digest_sql(table: Table) -> str:
    """The digest of a row as SQL; text goes as bytes, since flipped bits may make it no text."""
    columns = (
        f"{table}.{name}" if name in _COUNTS else f"CAST({table}.{name} AS BLOB)" for name in COVERED[table]
    )
    return f"digest_of({', '.join(columns)})"


def teach(connection: sqlite3.Connection) -> None:
    """Make ``digest_of`` known to SQL."""
    connection.create_function("digest_of", -1, digest_of, deterministic=True)


def sign(connection: sqlite3.Connection, table: Table, number: int) -> None:
    """Give a setup or sweep that was just written its digest, inside the same transaction."""
    connection.execute(f"UPDATE {table} SET digest = {digest_sql(table)} WHERE id = ?", (number,))
