"""Figures computed from a logged sweep, kept with the version that computed them; another computes again."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from sweepkit import __version__
from sweepkit.errors import UnreadableFile
from sweepkit.logbook.adding import packed_json, utc_now
from sweepkit.logbook.finding import find_sweep
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


def store_figures(log: Logbook, number: int, what: str, answer: dict[str, Any]) -> None:
    """Keep what this version of sweepkit computed from a sweep.

    Parameters
    ----------
    log : Logbook
        Open for writing.
    number : int
        The sweep.
    what : str
        Which answer, ``review`` say, with what it depends on.
    answer : dict
        Strict JSON.
    """
    with log.writing() as connection:
        connection.execute(
            "INSERT OR REPLACE INTO computed (sweep_id, what, version, at, answer) VALUES (?, ?, ?, ?, ?)",
            (number, what, __version__, utc_now(), packed_json(answer)),
        )


def stored_figures(log: Logbook, number: int, what: str) -> dict[str, Any] | None:
    """What this version of sweepkit computed earlier, or None.

    Parameters
    ----------
    log : Logbook
        Open.
    number : int
        The sweep.
    what : str
        Which answer.

    Raises
    ------
    UnreadableFile
        The logbook is damaged.
    """
    with log.reading() as connection:
        row = connection.execute(
            "SELECT answer FROM computed WHERE sweep_id = ? AND what = ? AND version = ?",
            (number, what, __version__),
        ).fetchone()
    if row is None:
        return None
    try:
        answer = json.loads(row[0])
    except (TypeError, ValueError, RecursionError) as error:
        raise UnreadableFile(f"the figures of sweep {number} are damaged; run log check") from error
    return answer if isinstance(answer, dict) else None


def figures_of(
    log: Logbook, number: int, what: str, compute: Callable[[LoggedSweep, bytes], dict[str, Any]]
) -> dict[str, Any]:
    """The answer kept for this version, or computed now and kept.

    Parameters
    ----------
    log : Logbook
        Open.
    number : int
        The sweep.
    what : str
        Which answer, with everything it depends on besides the raw file and the version.
    compute : callable
        Makes the answer from the sweep's record and its raw file.
    """
    kept = stored_figures(log, number, what)
    if kept is not None:
        return kept
    sweep = find_sweep(log, number)
    answer = compute(sweep, raw_bytes(log, sweep))
    store_figures(log, number, what, answer)
    return answer
