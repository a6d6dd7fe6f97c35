"""Figures computed from a logged sweep, kept with the version that computed them; another computes again."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from typing import Any

from sweepkit import __version__
from sweepkit.errors import UnreadableFile
from sweepkit.logbook.adding import packed_json, utc_now
from sweepkit.logbook.raw import get_raw
from sweepkit.logbook.records import LoggedSweep
from sweepkit.logbook.store import Logbook


def raw_bytes(log: Logbook, sweep: LoggedSweep) -> bytes:
    """The raw file of a sweep, byte for byte.

    Parameters
    ----------
    log : Logbook
        Open.
    sweep : LoggedSweep
        One of this logbook.

    Raises
    ------
    UnreadableFile
        The logbook is damaged.
    """
    with log.reading() as connection:
        return get_raw(connection, sweep.sha256)


def keep_figures(log: Logbook, answers: Mapping[int, tuple[str, dict[str, Any]]], *, instead_of: str) -> None:
    """Keep what this version of sweepkit computed from sweeps, in place of what it kept before.

    Parameters
    ----------
    log : Logbook
        Open for writing.
    answers : mapping of int to (str, dict)
        By sweep: which answer, with a hash of all it depends on, and the answer as strict JSON.
    instead_of : str
        How the names of the answers it takes the place of begin.
    """
    with log.writing() as connection:
        for number, (what, answer) in answers.items():
            connection.execute(
                "DELETE FROM computed WHERE sweep_id = ? AND version = ? AND substr(what, 1, ?) = ?",
                (number, __version__, len(instead_of), instead_of),
            )
            connection.execute(
                "INSERT INTO computed (sweep_id, what, version, at, answer) VALUES (?, ?, ?, ?, ?)",
                (number, what, __version__, utc_now(), packed_json(answer)),
            )


def kept_figures(connection: sqlite3.Connection, wanted: Mapping[int, str]) -> dict[int, dict[str, Any]]:
    """What this version of sweepkit computed earlier.

    Parameters
    ----------
    connection : sqlite3.Connection
        Inside a transaction.
    wanted : mapping of int to str
        By sweep, which answer.

    Returns
    -------
    dict of int to dict
        Those that were kept.

    Raises
    ------
    UnreadableFile
        The logbook is damaged.
    """
    rows = connection.execute(
        f"SELECT sweep_id, what, answer FROM computed WHERE version = ? AND sweep_id IN ({_marks(wanted)})",
        (__version__, *wanted),
    )
    return {number: _parsed(number, text) for number, what, text in rows if wanted[number] == what}


def _marks(numbers: Mapping[int, str]) -> str:
    return ", ".join("?" * len(numbers))


def _parsed(number: int, text: Any) -> dict[str, Any]:
    try:
        answer = json.loads(text)
        if not isinstance(answer, dict):
            raise TypeError(text)
    except (TypeError, ValueError, RecursionError) as error:
        raise UnreadableFile(f"the figures of sweep {number} are damaged; run log check") from error
    return answer
