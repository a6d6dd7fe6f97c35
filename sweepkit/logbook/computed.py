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

# Made by SQLite alone, so that a listing need not; another rendering of it makes figures new, never wrong.
DEPENDS_ON = (
    "json_array(sweep.sha256, json(sweep.hints), json_extract(sweep.facts, '$.measured_at'),"
    " json_extract(setup.facts, '$.line'), setup.kit_sha256, json_extract(setup.facts, '$.piece'))"
)

Answer = dict[str, Any]


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


def keys_of(connection: sqlite3.Connection, numbers: list[int]) -> dict[int, str]:
    """What the figures of sweeps depend on besides the version, as text, inside a transaction.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of the logbook.
    numbers : list of int
        The sweeps.
    """
    marks = ", ".join("?" * len(numbers))
    rows = connection.execute(
        f"SELECT sweep.id, {DEPENDS_ON} FROM sweep JOIN setup ON setup.id = sweep.setup_id"
        f" WHERE sweep.id IN ({marks})",
        numbers,
    )
    return {int(number): str(key) for number, key in rows}


def keep_figures(log: Logbook, figures: Mapping[int, Mapping[str, Answer]]) -> None:
    """Keep what this version of sweepkit computed, in place of what was kept of the same kind.

    Parameters
    ----------
    log : Logbook
        Open for writing.
    figures : mapping
        By number of the sweep: strict JSON by key. The first word of a key is the kind of figures, the rest
        says what they depend on; the figures of a sweep under another key of that kind go.

    Raises
    ------
    BadInput, UnreadableFile
        The file cannot be written, and why; nothing was kept.
    """
    rows = [
        (number, key, __version__, utc_now(), packed_json(answer))
        for number, answers in figures.items()
        for key, answer in answers.items()
    ]
    with log.writing() as connection:
        connection.executemany(
            "DELETE FROM computed WHERE sweep_id = ? AND (what = ? OR what GLOB ? || ' *')",
            [(number, key.split(" ")[0], key.split(" ")[0]) for number, key, *_ in rows],
        )
        connection.executemany(
            "INSERT INTO computed (sweep_id, what, version, at, answer) VALUES (?, ?, ?, ?, ?)", rows
        )


def kept_figures(connection: sqlite3.Connection, keys: Mapping[int, str]) -> dict[int, Answer]:
    """What this version of sweepkit computed earlier, inside a transaction.

    Parameters
    ----------
    connection : sqlite3.Connection
        Of the logbook.
    keys : mapping of int to str
        Which figures, by number of the sweep.

    Returns
    -------
    dict
        Their JSON by number of the sweep; a sweep without them is not there.

    Raises
    ------
    UnreadableFile
        The logbook is damaged.
    """
    found = {}
    for number, key in keys.items():
        row = connection.execute(
            "SELECT answer FROM computed WHERE sweep_id = ? AND what = ? AND version = ?",
            (number, key, __version__),
        ).fetchone()
        if row is not None:
            found[number] = _opened(number, row[0])
    return found


def _opened(number: int, text: Any) -> Answer:
    """Kept figures as JSON; never trusted."""
    try:
        answer = json.loads(text)
    except (TypeError, ValueError, RecursionError):
        answer = None
    if not isinstance(answer, dict):
        raise UnreadableFile(f"the figures of sweep {number} are damaged; run log check")
    return answer
