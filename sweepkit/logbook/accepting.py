"""Take a damaged setup or sweep as it reads for right: its owner looked at it, sweepkit cannot know."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from typing import Any

from sweepkit.errors import BadInput, UnreadableFile
from sweepkit.facts import Level
from sweepkit.logbook.adding import packed_json, utc_now
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import COVERED
from sweepkit.logbook.mending import rewrite_record
from sweepkit.logbook.raw import kept_name
from sweepkit.logbook.records import UID, facts_complaint, moment_of
from sweepkit.logbook.store import Logbook
from sweepkit.logbook.values import hints_complaint


def accept_record(log: Logbook, level: Level, number: int) -> list[str]:
    """Sign a setup or sweep anew as it reads; returns the names of the parts that cannot be and became unknown."""
    with log.writing() as connection:
        names = COVERED[level]
        row = connection.execute(f"SELECT {', '.join(names)} FROM {level} WHERE id = ?", (number,)).fetchone()
        if row is None:
            raise BadInput(f"there is no {level} {number} in this logbook; log check names what is damaged")
        old = dict(zip(names, row, strict=True))
        new = _setup_columns(old) if level == "setup" else _sweep_columns(old)
        _demand_what_it_points_to(connection, level, new)
        rewrite_record(connection, level, number, new)
    return _lost(old, new)


def _shared(level: Level, old: Mapping[str, Any]) -> dict[str, Any]:
    """What setups and sweeps have in common, as far as it can be."""
    facts = {
        name: value
        for name, value in _read(old["facts"], dict).items()
        if not facts_complaint(level, {name: value}) and (name != "when" or _is_time(value))
    }
    taken_over = [name for name in _read(old["taken_over"], list) if name in facts]
    return {
        "uid": old["uid"] if UID.fullmatch(str(old["uid"])) else uuid.uuid4().hex,
        "facts": packed_json(facts),
        "taken_over": packed_json(taken_over),
        "added": old["added"] if _is_time(old["added"]) else utc_now(),
    }


def _setup_columns(old: Mapping[str, Any]) -> dict[str, Any]:
    """The columns of a setup."""
    named = {
        name: None if facts_complaint("setup", {name: old[name]}) else old[name]
        for name in ("antenna", "site")
        if old[name] is not None
    }
    return {**_shared("setup", old), **named, "kit_sha256": old["kit_sha256"]}


def _sweep_columns(old: Mapping[str, Any]) -> dict[str, Any]:
    """The columns of a sweep."""
    hints = _read(old["hints"], dict)
    return {
        **_shared("sweep", old),
        "setup_id": old["setup_id"],
        "sha256": old["sha256"],
        "name": kept_name(str(old["name"])),
        "hints": packed_json({} if hints_complaint(hints) else hints),
    }


def _demand_what_it_points_to(connection: LogConnection, level: Level, new: dict[str, Any]) -> None:
    """Refuse a sweep whose raw file or setup is not there; a kit that is not there becomes unknown."""

    def is_there(table: str, column: str, value: Any) -> bool:
        found = connection.execute(f"SELECT 1 FROM {table} WHERE {column} = ?", (value,)).fetchone()
        return found is not None

    if level == "setup":
        new["kit_sha256"] = new["kit_sha256"] if is_there("raw", "sha256", new["kit_sha256"]) else None
    elif not is_there("raw", "sha256", new["sha256"]) or not is_there("setup", "id", new["setup_id"]):
        raise BadInput(
            "the record does not tell which file or setup it belongs to; log export puts its raw file in "
            "damaged/, import that export into a new logbook, and add the file there"
        )


def _lost(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    """Names of what became unknown or was made anew."""
    facts_before, facts_now = _read(old["facts"], dict), _read(new["facts"], dict)
    lost = [str(name) for name in facts_before if name not in facts_now]
    return lost + [name for name in new if name not in ("facts", "taken_over") and old[name] != new[name]]


def _read(text: Any, kind: type) -> Any:
    """JSON of the kind expected, or an empty one."""
    try:
        value = json.loads(text)
    except (TypeError, ValueError, RecursionError):
        return kind()
    return value if isinstance(value, kind) else kind()


def _is_time(text: Any) -> bool:
    """Whether this is a time."""
    try:
        moment_of(text)
    except UnreadableFile:
        return False
    return True
