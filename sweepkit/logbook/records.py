"""What comes out of the logbook: setups and sweeps, frozen, and never trusted before they are checked."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

from sweepkit.errors import UnreadableFile

SETUP_COLUMNS = (
    "setup.id, setup.uid, setup.antenna, setup.site, setup.facts, setup.taken_over,"
    " setup.kit_sha256, setup.added"
)
SWEEP_COLUMNS = (
    "sweep.id, sweep.uid, sweep.sha256, sweep.name, sweep.facts, sweep.taken_over, sweep.hints, sweep.added"
)

_NOTHING: dict[type, str] = {dict: "{}", list: "[]"}
UID = re.compile(r"[0-9a-f]{32}")  # uuid4, hexadecimal


@dataclass(frozen=True)
class Setup:
    """One erection of one antenna at one site.

    Parameters
    ----------
    number : int
        Its number in this logbook.
    uid : str
        Its name in every logbook.
    facts : mapping
        What is known, by name of ``fields.py``; unknown is not there.
    taken_over : tuple of str
        Names of facts taken over from the setup before, not stated for this one.
    kit_sha256 : str or None
        Hash of the kit file that goes with it.
    added : str
        When it was added. [ISO 8601, UTC]
    """

    number: int
    uid: str
    facts: Mapping[str, Any]
    taken_over: tuple[str, ...]
    kit_sha256: str | None
    added: str

    @property
    def id(self) -> str:
        """Its number as people write it, ``S4``."""
        return f"S{self.number}"


@dataclass(frozen=True)
class LoggedSweep:
    """One raw file in the logbook with what is known of it.

    Parameters
    ----------
    id : int
        Its number in this logbook.
    uid : str
        Its name in every logbook.
    setup : Setup
        The setup it belongs to.
    sha256 : str
        Hash of the raw file.
    name : str
        Name the file had, without its folder.
    facts, taken_over, added
        As in a setup.
    hints : mapping
        What the reader has to be told.
    """

    id: int
    uid: str
    setup: Setup
    sha256: str
    name: str
    facts: Mapping[str, Any]
    taken_over: tuple[str, ...]
    hints: Mapping[str, Any]
    added: str

    @property
    def order(self) -> tuple[datetime, int]:
        """Sorts by the time it was swept, or where that is unknown by the time it was added."""
        return moment_of(self.facts.get("when") or self.added), self.id


def moment_of(text: str) -> datetime:
    """A kept time as a moment; a bare date counts from its start in UTC.

    Parameters
    ----------
    text : str
        ISO 8601.
    """
    try:
        moment = datetime.fromisoformat(text)
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise UnreadableFile(f"{text[:60]!r} is no time; the logbook is damaged; run log check") from error


def moment_of_row(facts: Any, added: Any) -> datetime:
    """The moment by which a sweep is ordered, from its columns; never trusted."""
    _refuse_other_types((added, str))
    return moment_of(_json(facts, dict).get("when") or added)


def setup_from_row(row: tuple[Any, ...]) -> Setup:
    """A setup from ``SETUP_COLUMNS``.

    Parameters
    ----------
    row : tuple
        Never trusted.

    Raises
    ------
    UnreadableFile
        A column is not what it must be.
    """
    number, uid, antenna, site, facts, taken_over, kit_sha256, added = row
    known = {"antenna": antenna, "site": site, **_json(facts, dict)}
    known = {name: value for name, value in known.items() if value is not None}
    _refuse_other_types((number, int), (uid, str), (added, str), (kit_sha256, str | None))
    return Setup(number, uid, MappingProxyType(known), tuple(_json(taken_over, list)), kit_sha256, added)


def sweep_from_row(row: tuple[Any, ...], setup: Setup) -> LoggedSweep:
    """A sweep from ``SWEEP_COLUMNS``.

    Parameters
    ----------
    row : tuple
        Never trusted.
    setup : Setup
        The one it belongs to.

    Raises
    ------
    UnreadableFile
        A column is not what it must be.
    """
    number, uid, sha256, name, facts, taken_over, hints, added = row
    _refuse_other_types((number, int), (uid, str), (sha256, str), (name, str), (added, str))
    known, told = MappingProxyType(_json(facts, dict)), MappingProxyType(_json(hints, dict))
    return LoggedSweep(number, uid, setup, sha256, name, known, tuple(_json(taken_over, list)), told, added)


def _json(text: Any, kind: type) -> Any:
    """Parsed JSON of the kind expected."""
    if text == _NOTHING[kind]:  # nearly every list of what was taken over, nearly all hints
        return kind()
    try:
        value = json.loads(text)
    except (TypeError, ValueError, RecursionError):
        value = None
    if not isinstance(value, kind):
        raise UnreadableFile("an entry of the logbook is not readable; it is damaged; run log check")
    return value


def _refuse_other_types(*pairs: tuple[Any, Any]) -> None:
    """Refuse columns of another type than they were written with."""
    for value, kind in pairs:
        if not isinstance(value, kind):
            raise UnreadableFile("an entry of the logbook has the wrong type; it is damaged; run log check")
