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
from sweepkit.facts import BY_NAME, Level
from sweepkit.logbook.digests import COVERED, digest_of
from sweepkit.logbook.values import complaint_about, hints_complaint

SETUP_COLUMNS = ", ".join(f"setup.{name}" for name in (*COVERED["setup"], "digest"))
SWEEP_COLUMNS = ", ".join(f"sweep.{name}" for name in (*COVERED["sweep"], "digest"))

_NOTHING: dict[type, str] = {dict: "{}", list: "[]"}
UID = re.compile(r"[0-9a-f]{32}")  # uuid4, hexadecimal
SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Setup:
    """One erection of one antenna at one site: its number in this logbook, ``uid`` its name in every logbook.

    ``facts`` is what is known, by name of ``facts.py`` (unknown is not there); ``taken_over`` names those taken over
    from the setup before, not stated for this one. ``added``: when. [ISO 8601, UTC]
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
    """One raw file in the logbook, named as it was without its folder; the rest as in a setup.

    ``hints`` are what the reader has to be told.
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


def record_name(table: str, number: int) -> str:
    """``setup S2`` or ``sweep 3``."""
    return f"setup S{number}" if table == "setup" else f"sweep {number}"


def is_like(pattern: re.Pattern[str], value: Any) -> bool:
    """Whether this is such a text."""
    return isinstance(value, str) and pattern.fullmatch(value) is not None


def moment_of(text: str) -> datetime:
    """A kept time as a moment; a bare date counts from its start in UTC."""
    try:
        moment = datetime.fromisoformat(text)
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)
    except (TypeError, ValueError, OverflowError) as error:
        raise UnreadableFile(f"{str(text)[:60]!r} is no time that can be") from error


class DamagedRecord(UnreadableFile):
    """A record that is not as it was written, or says what cannot be.

    ``is_torn``: whether the file, not sweepkit, made it so; its pages may hold it whole.
    """

    def __init__(self, text: str, *, is_torn: bool) -> None:
        super().__init__(text)
        self.is_torn = is_torn


NOT_AS_WRITTEN = "it is not as it was written (its digest differs)"


def setup_from_row(row: tuple[Any, ...]) -> Setup:
    """A setup from ``SETUP_COLUMNS``; ``DamagedRecord`` where it is not whole."""
    _refuse_unproven(row)
    number, uid, antenna, site, facts, taken_over, kit_sha256, added, _, _ = row
    known = {"antenna": antenna, "site": site, **_json(facts, dict)}
    known = {name: value for name, value in known.items() if value is not None}
    _refuse_impossible("setup", uid, added, known, _json(taken_over, list))
    return Setup(number, uid, MappingProxyType(known), tuple(_json(taken_over, list)), kit_sha256, added)


def sweep_from_row(row: tuple[Any, ...], setup: Setup) -> LoggedSweep:
    """A sweep of a setup from ``SWEEP_COLUMNS``; ``DamagedRecord`` where it is not whole."""
    _refuse_unproven(row)
    number, uid, _, sha256, name, facts, taken_over, hints, added, _, _ = row
    known, told = _json(facts, dict), _json(hints, dict)
    _refuse_impossible("sweep", uid, added, known, _json(taken_over, list))
    complaint = hints_complaint(told)
    if complaint:
        raise DamagedRecord(complaint, is_torn=False)
    return LoggedSweep(
        number,
        uid,
        setup,
        sha256,
        name,
        MappingProxyType(known),
        tuple(_json(taken_over, list)),
        MappingProxyType(told),
        added,
    )


def facts_complaint(level: Level, facts: Mapping[str, Any]) -> str | None:
    """Why these cannot be the facts of a setup or a sweep, or None; facts of a later version pass."""
    for name, value in facts.items():
        known = BY_NAME.get(name)
        if known is not None:
            complaint = "belongs elsewhere" if known.level != level else complaint_about(known, value)
            if complaint:
                return f"{known.key}: {complaint}"
    return None


def _refuse_unproven(row: tuple[Any, ...]) -> None:
    """Refuse columns that are not the ones the digest was made of."""
    if row[-1] != digest_of(*row[:-1]):
        raise DamagedRecord(NOT_AS_WRITTEN, is_torn=True)


def _refuse_impossible(
    level: Level, uid: Any, added: Any, facts: dict[str, Any], taken_over: list[Any]
) -> None:
    """Refuse what sweepkit would not write today, whoever wrote it."""
    complaint = facts_complaint(level, facts)
    if not isinstance(uid, str) or not UID.fullmatch(uid):
        complaint = f"{str(uid)[:40]!r} is not a name that sweepkit gives"
    if not all(isinstance(name, str) for name in taken_over):
        complaint = "what was taken over is not a list of words"
    if complaint:
        raise DamagedRecord(complaint, is_torn=False)
    for time in (added, facts.get("when", added)):
        try:
            moment_of(time)
        except UnreadableFile as error:
            raise DamagedRecord(error.text, is_torn=False) from error


def _json(text: Any, kind: type) -> Any:
    """Parsed JSON of the kind expected."""
    if text == _NOTHING[kind]:  # nearly every list of what was taken over, nearly all hints
        return kind()
    try:
        value = json.loads(text)
    except (TypeError, ValueError, RecursionError):
        value = None
    if not isinstance(value, kind):
        raise DamagedRecord("it is not readable", is_torn=False)
    return value
