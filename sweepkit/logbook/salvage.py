"""A copy of a damaged logbook, made of the rows its pages still hold; each proves itself by digest or hash."""

from __future__ import annotations

import json
import mmap
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from sweepkit.logbook.connections import LogConnection, connect
from sweepkit.logbook.digests import COVERED, Table, digest_of, digest_sql
from sweepkit.logbook.pages import Row, find_rows
from sweepkit.logbook.raw import LARGEST_RAW_BYTES, sha256_of, unpack
from sweepkit.logbook.records import SHA256, UID, is_like
from sweepkit.logbook.schema import bring_up_to_date

Values = tuple[Any, ...]

# Columns as they lie in a row, by their count: of this schema, and of the first, which had no digests.
_SHAPES: dict[int, Table] = {10: "setup", 11: "sweep", 6: "computed", 9: "history"}
_RAW_WIDTH = 3
_WIDTHS = frozenset({_RAW_WIDTH, *_SHAPES, 5, 8, 9})  # the last three as the first schema had them
_BUSY_WAIT_S = 30.0


def salvage(path: Path) -> LogConnection | None:
    """A logbook of the current schema with every row that is whole, and those that are not but can be named.

    ``None`` where the file holds no row of a logbook at all. The file is only read.
    """
    if path.stat().st_size == 0:
        return None
    copy = connect("", wait_s=_BUSY_WAIT_S, largest_bytes=2 * LARGEST_RAW_BYTES)
    try:
        bring_up_to_date(copy)
        for (trigger,) in copy.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            copy.execute(f"DROP TRIGGER {trigger}")
        copy.execute("BEGIN")
        with path.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as data:
            found = _Found(copy)
            for row in find_rows(data, widths=_WIDTHS):
                found.take(row)
        if found.write():
            copy.execute("COMMIT")
            return copy
    except BaseException:
        copy.close()
        raise
    copy.close()
    return None


class _Found:
    """Rows by what they are; of several copies of one record the last that is whole counts."""

    def __init__(self, copy: LogConnection) -> None:
        self.copy = copy
        self.whole: dict[Table, dict[Any, Values]] = {table: {} for table in COVERED}
        self.unsigned: dict[Table, dict[Any, Values]] = {table: {} for table in COVERED}
        self.bad: list[tuple[Table, Values]] = []
        self.has_raw = False

    def take(self, row: Row) -> None:
        """Sort in a row."""
        width = len(row.values)
        if width == _RAW_WIDTH:
            self._take_raw(*row.values)
            return
        table = _SHAPES.get(width)
        if table is not None:
            values = row.values if table == "computed" else (row.number, *row.values[1:])
            if digest_of(*_covered(table, values)) == values[-1]:
                _keep_last(self.whole[table], table, values)
                return
        first = _of_the_first_schema(row)
        if first is not None:
            _keep_last(self.unsigned[first[0]], *first)
        elif table is not None and row.is_listed:
            self.bad.append((table, values))

    def _take_raw(self, sha256: Any, size: Any, packed: Any) -> None:
        """Keep a raw file; of two that claim one hash the one that is right."""
        if not is_like(SHA256, sha256):
            return
        self.has_raw = self.has_raw or _is_whole(sha256, size, packed)
        there = self.copy.execute("SELECT size, packed FROM raw WHERE sha256 = ?", (sha256,)).fetchone()
        if there in (None, (size, packed)) or _is_whole(sha256, *there):
            self.copy.execute("INSERT OR IGNORE INTO raw VALUES (?, ?, ?)", (sha256, size, packed))
        elif _is_whole(sha256, size, packed):
            self.copy.execute("REPLACE INTO raw VALUES (?, ?, ?)", (sha256, size, packed))

    def write(self) -> bool:
        """Write all to the copy; whether there was anything."""
        is_first = not any(self.whole.values())  # then nothing was signed yet; else those rows are leftovers
        records = self.unsigned if is_first else self.whole
        for table, rows in records.items():
            self._insert(table, rows.values())
            if is_first:
                self.copy.execute(f"UPDATE {table} SET digest = {digest_sql(table)}")
        for table, values in self.bad:
            free = values
            if table in ("setup", "sweep") and values[0] in records[table]:
                free = (self._free_number(table), *values[1:])
            self._insert(table, [free])
        return self.has_raw or any(records.values())

    def _insert(self, table: Table, rows: Iterable[Values]) -> None:
        """Insert rows as they are; one that the table cannot hold is beyond naming."""
        for values in rows:
            as_stored = [v.encode("utf-8", "surrogateescape") if isinstance(v, str) else v for v in values]
            marks = ", ".join("CAST(? AS TEXT)" if isinstance(value, bytes) else "?" for value in as_stored)
            self.copy.execute(
                f"INSERT OR IGNORE INTO {table} ({_columns(table, len(values))}) VALUES ({marks})", as_stored
            )

    def _free_number(self, table: Table) -> int:
        """A number that no record has."""
        number: int = self.copy.execute(f"SELECT coalesce(max(id), 0) + 1 FROM {table}").fetchone()[0]
        return number


def _covered(table: Table, values: Values) -> Values:
    """The columns of a row that its digest covers; the number of an edit is of no matter."""
    return values[1:-1] if table == "history" else values[:-1]


def _columns(table: Table, width: int) -> str:
    """Names of the columns of a row, in order; the first schema had neither revision nor digest."""
    names = [*(("id",) if table == "history" else ()), *COVERED[table], "digest"]
    if width < len(names):
        names = [name for name in names if name not in ("revision", "digest")]
    return ", ".join(names)


def _keep_last(rows: dict[Any, Values], table: Table, values: Values) -> None:
    """Keep the copy of a record that was written last."""
    key = {"computed": values[:3], "history": values[1]}.get(table, values[0])
    if key not in rows or _age(table, rows[key]) < _age(table, values):
        rows[key] = values


def _age(table: Table, values: Values) -> tuple[int, str]:
    """Grows with each writing of a record: its revision, or for figures the time."""
    revision = values[-2] if table in ("setup", "sweep") and isinstance(values[-2], int) else 0
    return revision, str(values[3]) if table == "computed" else ""


def _of_the_first_schema(row: Row) -> tuple[Table, Values] | None:
    """A row as logbooks had it before there were digests, where it looks like one in every part."""
    values, width = row.values, len(row.values)
    if width == 5 and all(isinstance(value, str) for value in values[1:]) and isinstance(values[0], int):
        return ("computed", values) if _is_json(values[4]) else None
    if width not in (8, 9) or values[0] is not None or not is_like(UID, values[1]):
        return None
    values = (row.number, *values[1:])
    if width == 9:
        is_sweep = is_like(SHA256, values[3]) and all(map(_is_json, values[5:8]))
        return ("sweep", values) if is_sweep else None
    if _is_json(values[4]) and _is_json(values[5]):
        return "setup", values
    return ("history", values) if _is_json(values[6]) and _is_json(values[7]) else None


def _is_json(text: Any) -> bool:
    try:
        json.loads(text)
    except (TypeError, ValueError, RecursionError):
        return False
    return isinstance(text, str)


def _is_whole(sha256: str, size: Any, packed: Any) -> bool:
    """Whether these are the bytes that belong to the hash."""
    data = unpack(size, packed)
    return data is not None and sha256_of(data) == sha256
