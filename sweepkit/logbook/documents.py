"""What an export says: the JSON that holds everything, and the tables for a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from sweepkit import __version__
from sweepkit.facts import LOGGED, Level
from sweepkit.logbook.adding import packed_json
from sweepkit.logbook.computed import opened_figures
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import digest_of
from sweepkit.logbook.editing import SETUP_OF_SWEEP, Edit, history_of
from sweepkit.logbook.raw import harmless_name
from sweepkit.logbook.records import LoggedSweep, Setup

SCHEMA = "sweepkit/logbook/1"


def raw_file(sweep: LoggedSweep) -> str:
    """Where an export puts the raw file of a sweep, relative to its folder."""
    return f"raw/{sweep.id:05d}-{harmless_name(sweep.name)}"


def kit_file(sha256: str) -> str:
    """Where an export puts a kit file, relative to its folder."""
    return f"kit/{sha256[:16]}.toml"


def damaged_file(sha256: str, name: str) -> str:
    """Where an export puts a raw file whose record is damaged."""
    return f"damaged/{sha256[:12]}-{harmless_name(name)}"


def json_document(
    connection: LogConnection,
    setups: Sequence[Setup],
    sweeps: Sequence[LoggedSweep],
    damaged: Sequence[dict[str, Any]] = (),
    left_out: Mapping[str, str] = MappingProxyType({}),
) -> Iterator[str]:
    """The whole logbook as strict JSON, one record a line; the same logbook gives the same text.

    ``damaged`` are records as they read and raw files without a record; ``left_out`` is looked at last.
    """
    uids = {setup.id: setup.uid for setup in setups} | {str(sweep.id): sweep.uid for sweep in sweeps}
    history = [_edit_record(edit, uids) for edit in _told_edits(connection, uids)]
    figures = _figures(connection)
    yield f'{{"schema":"{SCHEMA}","made_by":"sweepkit {__version__}",\n'
    yield from _array("setups", (_setup_record(setup) for setup in setups))
    yield ",\n"
    yield from _array("sweeps", (_sweep_record(sweep, figures.get(sweep.id, [])) for sweep in sweeps))
    yield ",\n"
    yield from _array("history", history)
    if damaged or left_out:
        yield ",\n"
        yield from _array("damaged", damaged)
        yield ",\n"
        yield from _array("left_out", ({"what": what, "why": why} for what, why in left_out.items()))
    yield "}\n"


def setup_rows(setups: Iterable[Setup]) -> Iterator[list[Any]]:
    """A heading and a row for each setup."""
    names = _names("setup")
    yield ["setup", *names, "taken_over"]
    for setup in setups:
        yield [setup.id, *_cells(setup.facts.get(name) for name in names), " ".join(setup.taken_over)]


def sweep_rows(sweeps: Iterable[LoggedSweep]) -> Iterator[list[Any]]:
    """A heading and a row for each sweep, with what is known of its setup."""
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


def _told_edits(connection: LogConnection, uids: Mapping[str, str]) -> list[Edit]:
    """The history of what is exported; edits of what is left out are left out too, by name."""
    told = []
    for edit in history_of(connection):
        moves = (edit.old, edit.new) if edit.name == SETUP_OF_SWEEP else ()
        if edit.of not in uids or any(uid not in uids.values() for uid in moves):
            name = f"setup {edit.of}" if edit.of.startswith("S") else f"sweep {edit.of}"
            connection.leave_out(f"edits of {name}", "the record they speak of is left out")
        else:
            told.append(edit)
    return told


def _edit_record(edit: Edit, uids: Mapping[str, str]) -> dict[str, Any]:
    """An edit as the JSON has it."""
    return {
        "uid": edit.uid, "at": edit.at, "of": uids[edit.of], "name": edit.name, "old": edit.old, "new": edit.new,
    }  # fmt: skip


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


def _figures(connection: LogConnection) -> dict[int, list[dict[str, Any]]]:
    """Computed answers by sweep."""
    found: dict[int, list[dict[str, Any]]] = {}
    rows = connection.execute(
        "SELECT sweep_id, what, version, at, answer, digest FROM computed ORDER BY 1, 2, 3"
    )
    for *columns, digest in rows:
        sweep_id, what, version, at, text = columns
        answer = opened_figures(text) if digest == digest_of(*columns) else None
        if answer is None:
            connection.leave_out(f"figures of sweep {sweep_id}", "they are damaged; they are computed again")
        else:
            entry = {"what": what, "version": version, "at": at, "answer": answer}
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
    return [fact.name for fact in LOGGED if fact.level == level]


def _cells(values: Iterable[Any]) -> list[Any]:
    """Values for a spreadsheet: lists joined, unknown empty, and no text that it would run as a formula."""
    return [_cell(value) for value in values]


def _cell(value: Any) -> Any:
    if isinstance(value, list):
        value = " + ".join(value)
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t"):
        return "'" + value
    return "" if value is None else value
