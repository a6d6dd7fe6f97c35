"""What an export says: the JSON that holds everything, and the tables for a spreadsheet."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sweepkit import __version__
from sweepkit.logbook.adding import packed_json
from sweepkit.logbook.editing import history_of
from sweepkit.logbook.fields import FIELDS, Level
from sweepkit.logbook.naming import harmless_name
from sweepkit.logbook.records import LoggedSweep, Setup

SCHEMA = "sweepkit/logbook/1"


def raw_file(sweep: LoggedSweep) -> str:
    """Where an export puts the raw file of a sweep, relative to its folder."""
    return f"raw/{sweep.id:05d}-{harmless_name(sweep.name)}"


def kit_file(sha256: str) -> str:
    """Where an export puts a kit file, relative to its folder."""
    return f"kit/{sha256[:16]}.toml"


def json_document(
    connection: sqlite3.Connection, setups: Sequence[Setup], sweeps: Sequence[LoggedSweep]
) -> Iterator[str]:
    """The whole logbook as strict JSON, one record a line.

    Parameters
    ----------
    connection : sqlite3.Connection
        Inside a transaction.
    setups, sweeps : sequence
        All of them.

    Returns
    -------
    iterator of str
        Pieces of text; the same logbook gives the same text.
    """
    uids = {setup.id: setup.uid for setup in setups} | {str(sweep.id): sweep.uid for sweep in sweeps}
    history = [
        {
            "uid": edit.uid,
            "at": edit.at,
            "of": uids[edit.of],
            "name": edit.name,
            "old": edit.old,
            "new": edit.new,
        }
        for edit in history_of(connection)
    ]
    figures = _figures(connection)
    yield f'{{"schema":"{SCHEMA}","made_by":"sweepkit {__version__}",\n'
    yield from _array("setups", (_setup_record(setup) for setup in setups))
    yield ",\n"
    yield from _array("sweeps", (_sweep_record(sweep, figures.get(sweep.id, [])) for sweep in sweeps))
    yield ",\n"
    yield from _array("history", history)
    yield "}\n"


def setup_rows(setups: Iterable[Setup]) -> Iterator[list[Any]]:
    """A heading and a row for each setup.

    Parameters
    ----------
    setups : iterable of Setup
        In order.
    """
    names = _names("setup")
    yield ["setup", *names, "taken_over"]
    for setup in setups:
        yield [setup.id, *_cells(setup.facts.get(name) for name in names), " ".join(setup.taken_over)]


def sweep_rows(sweeps: Iterable[LoggedSweep]) -> Iterator[list[Any]]:
    """A heading and a row for each sweep, with what is known of its setup.

    Parameters
    ----------
    sweeps : iterable of LoggedSweep
        In order.
    """
    own, shared = _names("sweep"), _names("setup")
    yield ["sweep", "setup", "file", "sha256", *own, *shared, "added", "taken_over"]
    for sweep in sweeps:
        facts = [sweep.facts.get(name) for name in own] + [sweep.setup.facts.get(name) for name in shared]
        taken_over = " ".join(sweep.taken_over + sweep.setup.taken_over)
        yield [
            sweep.id,
            sweep.setup.id,
            raw_file(sweep),
            sweep.sha256,
            *_cells(facts),
            sweep.added,
            taken_over,
        ]


def _setup_record(setup: Setup) -> dict[str, Any]:
    """A setup as the JSON has it."""
    return {
        "number": setup.number,
        "uid": setup.uid,
        "facts": dict(setup.facts),
        "taken_over": setup.taken_over,
        "kit": kit_file(setup.kit_sha256) if setup.kit_sha256 else None,
        "kit_sha256": setup.kit_sha256,
        "added": setup.added,
    }


def _sweep_record(sweep: LoggedSweep, figures: list[dict[str, Any]]) -> dict[str, Any]:
    """A sweep as the JSON has it."""
    return {
        "number": sweep.id,
        "uid": sweep.uid,
        "setup": sweep.setup.uid,
        "file": raw_file(sweep),
        "name": sweep.name,
        "sha256": sweep.sha256,
        "facts": dict(sweep.facts),
        "taken_over": sweep.taken_over,
        "hints": dict(sweep.hints),
        "added": sweep.added,
        "figures": figures,
    }


def _figures(connection: sqlite3.Connection) -> dict[int, list[dict[str, Any]]]:
    """Computed answers by sweep."""
    found: dict[int, list[dict[str, Any]]] = {}
    rows = connection.execute("SELECT sweep_id, what, version, at, answer FROM computed ORDER BY 1, 2, 3")
    for sweep_id, what, version, at, answer in rows:
        entry = {"what": what, "version": version, "at": at, "answer": json.loads(answer)}
        found.setdefault(sweep_id, []).append(entry)
    return found


def _array(name: str, records: Iterable[dict[str, Any]]) -> Iterator[str]:
    """A named JSON array, one record a line."""
    yield f'"{name}":['
    for number, record in enumerate(records):
        yield ("," if number else "") + "\n" + packed_json(record)
    yield "]"


def _names(level: Level) -> list[str]:
    """Names of the facts of this level."""
    return [field.name for field in FIELDS if field.level == level]


def _cells(values: Iterable[Any]) -> list[Any]:
    """Values for a spreadsheet: lists joined, unknown empty, and no text that it would run as a formula."""
    return [_cell(value) for value in values]


def _cell(value: Any) -> Any:
    """One value for a spreadsheet."""
    if isinstance(value, list):
        value = " + ".join(value)
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t"):
        return "'" + value
    return "" if value is None else value
