"""Figures computed from a logged sweep, kept with the version that computed them; another computes again."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from sweepkit import __version__
from sweepkit.logbook.adding import packed_json, utc_now
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import digest_of, digest_sql
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
    """The raw file of a sweep, byte for byte."""
    return log.read(lambda connection: get_raw(connection, sweep.sha256))


def keys_of(connection: LogConnection, numbers: list[int]) -> dict[int, str]:
    """What the figures of sweeps depend on besides the version, as text, inside a transaction."""
    marks = ", ".join("?" * len(numbers))
    rows = connection.execute(
        f"SELECT sweep.id, {DEPENDS_ON} FROM sweep JOIN setup ON setup.id = sweep.setup_id"
        f" WHERE sweep.id IN ({marks})",
        numbers,
    )
    return {int(number): str(key) for number, key in rows}


def keep_figures(log: Logbook, figures: Mapping[int, Mapping[str, Answer]]) -> None:
    """Keep what this version of sweepkit computed, in place of what was kept of the same kind.

    Strict JSON by key, by number of the sweep. The first word of a key is the kind of figures, the rest says what
    they depend on; the figures of a sweep under another key of that kind go. A file that cannot be written is a
    ``BadInput``, and nothing was kept.
    """
    rows = [
        (number, key, __version__, utc_now(), packed_json(answer))
        for number, answers in figures.items()
        for key, answer in answers.items()
    ]
    with log.writing() as connection:
        connection.executemany(
            "DELETE FROM computed WHERE sweep_id = ?"
            f" AND (what = ? OR what GLOB ? || ' *' OR digest IS NOT {digest_sql('computed')})",
            [(number, key.split(" ")[0], key.split(" ")[0]) for number, key, *_ in rows],
        )
        insert_figures(connection, rows)


def insert_figures(connection: LogConnection, rows: Iterable[tuple[int, str, str, str, str]]) -> None:
    """Write rows of figures with their digests, inside a transaction; those that are there stay."""
    connection.executemany(
        "INSERT OR IGNORE INTO computed (sweep_id, what, version, at, answer, digest)"
        " VALUES (?, ?, ?, ?, ?, ?)",
        [(*row, digest_of(*row)) for row in rows],
    )


def kept_figures(connection: LogConnection, keys: Mapping[int, str]) -> dict[int, Answer]:
    """What this version of sweepkit computed earlier, by number of the sweep and proven, inside a transaction."""
    found = {}
    for number, key in keys.items():
        row = connection.execute(
            "SELECT answer FROM computed WHERE sweep_id = ? AND what = ? AND version = ?"
            f" AND digest = {digest_sql('computed')}",
            (number, key, __version__),
        ).fetchone()
        answer = opened_figures(row[0]) if row else None
        if answer is not None:
            found[number] = answer
    return found


def opened_figures(text: Any) -> Answer | None:
    """Kept figures as JSON, or None where they are none; never trusted."""
    try:
        answer = json.loads(text)
    except (TypeError, ValueError, RecursionError):
        return None
    return answer if isinstance(answer, dict) else None
