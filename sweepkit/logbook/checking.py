"""Check that the logbook is whole: the file itself, every raw file against its hash, every record."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from sweepkit.errors import SweepkitError
from sweepkit.logbook.fields import BY_NAME, Level
from sweepkit.logbook.finding import setups_where, sweeps_where
from sweepkit.logbook.raw import sha256_of, unpack
from sweepkit.logbook.records import UID, LoggedSweep, Setup, moment_of
from sweepkit.logbook.store import Logbook
from sweepkit.logbook.values import complaint_about

MOST_PROBLEMS = 100  # told one by one; common practice, no source


@dataclass(frozen=True)
class Check:
    """What was looked at, and what is wrong.

    Parameters
    ----------
    sweeps, setups, raw_files : int
        How many there are.
    raw_bytes : int
        Size of the raw files that are whole, not compressed. [bytes]
    problems : tuple of str
        Empty where all is well.
    """

    sweeps: int
    setups: int
    raw_files: int
    raw_bytes: int
    problems: tuple[str, ...]


def check_logbook(log: Logbook) -> Check:
    """Read everything once and prove what can be proven.

    Parameters
    ----------
    log : Logbook
        Open; nothing is written.
    """
    with log.reading() as connection:
        problems = [*_file_problems(connection)]
        raw_files, raw_bytes, bad_raw = _raw_files(connection)
        problems += bad_raw
        try:
            setups, sweeps = setups_where(connection, {}), sweeps_where(connection, {})
            records: list[Setup | LoggedSweep] = [*setups, *sweeps]
            problems += [problem for record in records for problem in _record_problems(record)]
        except SweepkitError as error:
            setups, sweeps = [], []
            problems.append(error.text)
        problems += _json_problems(connection)
    return Check(len(sweeps), len(setups), raw_files, raw_bytes, tuple(problems[:MOST_PROBLEMS]))


def _file_problems(connection: sqlite3.Connection) -> Iterator[str]:
    """What SQLite itself finds."""
    for (text,) in connection.execute(f"PRAGMA integrity_check({MOST_PROBLEMS})"):
        if text != "ok":
            yield f"the file is damaged: {text}"
    for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check"):
        yield f"row {row} of {table} points to a {parent} that is not there"


def _raw_files(connection: sqlite3.Connection) -> tuple[int, int, list[str]]:
    """Count, size and problems of the raw files."""
    count, size, problems = 0, 0, []
    for sha256, stated, packed in connection.execute("SELECT sha256, size, packed FROM raw"):
        count += 1
        data = unpack(stated, packed)
        if data is None or sha256_of(data) != sha256:
            problems.append(f"raw file {str(sha256)[:12]} is not what its hash says")
        else:
            size += len(data)
    return count, size, problems


def _record_problems(record: Setup | LoggedSweep) -> Iterator[str]:
    """Facts, times and names that cannot be."""
    level: Level = "sweep" if isinstance(record, LoggedSweep) else "setup"
    for name, value in record.facts.items():
        known = BY_NAME.get(name)
        if known is not None and (known.level != level or complaint_about(known, value)):
            yield f"{level} {record.id}: {known.key}: {complaint_about(known, value) or 'belongs elsewhere'}"
    if not UID.fullmatch(record.uid):
        yield f"{level} {record.id}: {record.uid[:40]!r} is not a name that sweepkit gives"
    try:
        moment_of(record.added)
    except SweepkitError as error:
        yield f"{level} {record.id}: {error.text}"


def _json_problems(connection: sqlite3.Connection) -> Iterator[str]:
    """Figures and edits that are not readable."""
    for query, what in (
        ("SELECT sweep_id, answer, '{}' FROM computed", "figures of sweep"),
        ("SELECT id, old, new FROM history", "entry of the history"),
    ):
        for number, *texts in connection.execute(query):
            try:
                for text in texts:
                    json.loads(text)
            except (TypeError, ValueError, RecursionError):
                yield f"{what} {number}: not readable"
