"""Add sweeps: all of them with their setup in one transaction; a file that is there already is noticed."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.facts import BY_NAME, Level
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import Table, sign
from sweepkit.logbook.finding import setup_numbered, sweeps_where
from sweepkit.logbook.raw import kept_name, put_raw, sha256_of
from sweepkit.logbook.records import LoggedSweep
from sweepkit.logbook.store import Logbook
from sweepkit.logbook.values import complaint_about

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class NewSweep:
    """A file to add: its name without the folder and all its bytes.

    ``facts`` are stated about this sweep, ``taken_over`` come from the sweep before, by name of ``facts.py``;
    ``hints`` are what the reader had to be told.
    """

    name: str
    data: bytes
    facts: Facts = field(default_factory=dict)
    taken_over: Facts = field(default_factory=dict)
    hints: Facts = field(default_factory=dict)


@dataclass(frozen=True)
class NewSetup:
    """A setup to add; the fields are those of ``NewSweep``, ``kit`` is the kit file that goes with it."""

    facts: Facts = field(default_factory=dict)
    taken_over: Facts = field(default_factory=dict)
    kit: bytes | None = None


@dataclass(frozen=True)
class Added:
    """What became of one file: the number of the sweep that holds it and its setup, ``S4``.

    ``new`` is false where these bytes were there already; ``differs`` then names stated facts that differ from those
    of the sweep that was there, which were not changed.
    """

    id: int
    setup: str
    new: bool
    differs: tuple[str, ...] = ()


def add_sweeps(log: Logbook, sweeps: Sequence[NewSweep], *, setup: NewSetup | int) -> list[Added]:
    """Add files, in the order they were swept, to a new setup or to one that is there; on disk, all of them, when
    this returns, or none where a ``BadInput`` says why.
    """
    for sweep in sweeps:
        refuse_impossible({**sweep.taken_over, **sweep.facts}, level="sweep")
    if isinstance(setup, NewSetup):
        refuse_impossible({**setup.taken_over, **setup.facts}, level="setup")
    stated = setup.facts if isinstance(setup, NewSetup) else {}
    with log.writing() as connection:
        number = setup_numbered(connection, setup).number if isinstance(setup, int) else None
        added = []
        for sweep in sweeps:
            there = sweeps_where(connection, {"sweep.sha256": sha256_of(sweep.data)})
            if there:
                put_raw(connection, sweep.data)
                added.append(
                    Added(there[0].id, there[0].setup.id, False, _differing(there[0], sweep, stated))
                )
                continue
            if number is None and isinstance(setup, NewSetup):
                number = insert_setup(connection, setup)
            added.append(Added(insert_sweep(connection, sweep, int(number or 0)), f"S{number}", True))
    return added


def refuse_impossible(facts: Facts, *, level: Level) -> None:
    """Refuse facts that cannot be, or that belong elsewhere; ``None`` is unknown and passes."""
    for name, value in facts.items():
        known = BY_NAME.get(name)
        if known is None or known.level != level:
            raise BadInput(f"{name!r} is no field of a {level}")
        complaint = None if value is None else complaint_about(known, value)
        if complaint:
            raise BadInput(f"{known.key}: {complaint}")


def insert_setup(connection: LogConnection, setup: NewSetup) -> int:
    """Write the row of a setup, inside a transaction, and give its number."""
    facts = _known({**setup.taken_over, **setup.facts})
    columns = (facts.pop("antenna", None), facts.pop("site", None))
    kit_sha256 = put_raw(connection, setup.kit) if setup.kit else None
    cursor = connection.execute(
        "INSERT INTO setup (uid, antenna, site, facts, taken_over, kit_sha256, added)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (uuid.uuid4().hex, *columns, packed_json(facts), _only_taken_over(setup), kit_sha256, utc_now()),
    )
    return signed(connection, "setup", cursor.lastrowid)


def insert_sweep(connection: LogConnection, sweep: NewSweep, setup_number: int) -> int:
    """Write the rows of a sweep, inside a transaction, and give its number."""
    facts = _known({**sweep.taken_over, **sweep.facts})
    texts = (packed_json(facts), _only_taken_over(sweep), packed_json(dict(sweep.hints)), utc_now())
    cursor = connection.execute(
        "INSERT INTO sweep (uid, setup_id, sha256, name, facts, taken_over, hints, added)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (uuid.uuid4().hex, setup_number, put_raw(connection, sweep.data), kept_name(sweep.name), *texts),
    )
    return signed(connection, "sweep", cursor.lastrowid)


def signed(connection: LogConnection, table: Table, number: int | None) -> int:
    """Give a new record its digest, and give its number."""
    assert number is not None  # a row was just inserted
    sign(connection, table, number)
    return number


def utc_now() -> str:
    """This moment as the logbook keeps it. [ISO 8601, UTC]"""
    return datetime.now(UTC).isoformat(timespec="microseconds")


def packed_json(value: Any) -> str:
    """Strict JSON, the same text for the same value."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))


def _known(facts: Facts) -> dict[str, Any]:
    """Facts without the unknown ones."""
    return {name: value for name, value in facts.items() if value is not None}


def _only_taken_over(new: NewSweep | NewSetup) -> str:
    """Names of the facts nobody stated."""
    return packed_json(sorted(name for name in _known(new.taken_over) if name not in new.facts))


def _differing(there: LoggedSweep, sweep: NewSweep, setup_facts: Facts) -> tuple[str, ...]:
    """Names of stated facts that the sweep which is there does not have so."""
    pairs = [(sweep.facts, there.facts), (setup_facts, there.setup.facts)]
    return tuple(name for new, old in pairs for name, value in new.items() if old.get(name) != value)
