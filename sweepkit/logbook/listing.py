"""What a listing shows of many sweeps, and nothing else: SQLite picks it, no record is taken apart."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from typing import Any, NamedTuple

from sweepkit import __version__
from sweepkit.antennas.usual_dip import find_usual_dip
from sweepkit.errors import UnreadableFile
from sweepkit.facts import CHANGED
from sweepkit.logbook.computed import DEPENDS_ON
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import digest_sql
from sweepkit.logbook.finding import LEFT_OUT, condition_of, leave_out_damaged
from sweepkit.logbook.records import moment_of
from sweepkit.logbook.reviewed import DIP
from sweepkit.logbook.store import Logbook

_FACT = "json_extract(sweep.facts, '$.{}')"
_COLUMNS = (
    "sweep.id, sweep.setup_id, json_extract(sweep.facts, '$.when'), setup.antenna, setup.site,"
    " json_extract(sweep.facts, '$.measured_at'), json_extract(sweep.facts, '$.length_m'),"
    " json_extract(computed.answer, '$.dip_hz.value'), sweep.name,"
    " json_extract(sweep.facts, '$.set_aside') IS NOT NULL, sweep.added,"
    f" coalesce({', '.join(_FACT.format(name) for name in CHANGED)}) IS NOT NULL,"
    " json_extract(computed.answer, '$.dips')"
)
_TEXTS = ("when", "antenna", "site", "measured_at")


class Listed(NamedTuple):
    """A line of a listing; what is unknown is ``None``, and so is a dip that was not kept. [m, Hz]"""

    id: int
    setup: int
    when: str | None
    antenna: str | None
    site: str | None
    measured_at: str | None
    length_m: float | None
    dip_hz: float | None
    name: str
    is_set_aside: int


_Dips = list[tuple[float, float | None]]


class _Row(NamedTuple):
    """A line, when it was swept, whether a change of the antenna was told with it, and all its dips."""

    moment: Any
    line: Listed
    is_changed: bool
    dips: _Dips


def list_lines(
    log: Logbook, *, antenna: str | None = None, site: str | None = None, setup: int | None = None
) -> list[Listed]:
    """Sweeps in the order they were swept, as far as a listing shows them; ``setup`` is 4 for ``S4``.

    Of several dips of a sweep it is the usual one of its antenna.
    """
    wanted = {"setup.antenna": antenna, "setup.site": site, "setup.id": setup}
    return log.read(lambda connection: _lines(connection, wanted))


def usual_dip_hz(log: Logbook, antenna: str) -> float | None:
    """The dip that most sweeps of an antenna show, by the figures that are kept; ``None`` without any. [Hz]"""
    return log.read(lambda connection: _usual_hz(_rows(connection, {"setup.antenna": antenna})))


def _lines(connection: LogConnection, wanted: dict[str, Any]) -> list[Listed]:
    """As ``list_lines``, inside a transaction; what is damaged is left out by name."""
    rows = _rows(connection, wanted)
    several = sorted({row.line.antenna for row in rows if row.line.antenna and len(row.dips) > 1})
    is_part = wanted["setup.site"] is not None or wanted["setup.id"] is not None
    of_antennas = _rows(connection, {"setup.antenna": several}) if several and is_part else rows
    by_name: dict[str | None, list[_Row]] = {name: [] for name in several}
    for row in of_antennas:
        by_name.get(row.line.antenna, []).append(row)
    usual_hz = {name: _usual_hz(own) for name, own in by_name.items()}
    return [_with_usual(row, usual_hz.get(row.line.antenna)) for row in rows]


def _with_usual(row: _Row, usual_hz: float | None) -> Listed:
    if usual_hz is None or not row.dips:
        return row.line
    near_hz = min((f_hz for f_hz, _ in row.dips), key=lambda f_hz: abs(math.log(f_hz / usual_hz)))
    return row.line._replace(dip_hz=near_hz)


def _usual_hz(rows: Iterable[_Row]) -> float | None:
    """Of one antenna, in the last state of each setup, as it is compared."""
    states: dict[int, tuple[float | None, _Dips]] = {}
    for row in rows:
        setup, length_m = row.line.setup, row.line.length_m
        if row.line.is_set_aside or not row.dips:
            continue
        if row.is_changed or setup not in states or states[setup][0] != length_m:
            states[setup] = length_m, []
        states[setup][1].extend(row.dips)
    every = [dip for _, dips in states.values() for dip in dips]
    number = find_usual_dip(every)
    return None if number is None else every[number][0]


def _rows(connection: LogConnection, wanted: dict[str, Any]) -> list[_Row]:
    condition, values = condition_of(wanted)
    without = leave_out_damaged(connection)
    rows = connection.execute(
        f"SELECT {_COLUMNS} FROM sweep"
        f" LEFT JOIN setup ON setup.id = sweep.setup_id AND setup.id NOT IN ({_listed(without['setup'])})"
        " LEFT JOIN computed ON computed.sweep_id = sweep.id AND computed.version = ?"
        f" AND computed.digest = {digest_sql('computed')} AND json_valid(computed.answer)"
        f" AND computed.what = ? || ' ' || {DEPENDS_ON} {condition or 'WHERE true'}"
        f" AND sweep.id NOT IN ({_listed(without['sweep'])})",
        [__version__, DIP, *values],
    )
    found = []
    for row in rows:
        try:
            found.append(_row(row))
        except UnreadableFile as error:
            connection.leave_out(f"sweep {row[0]}", f"{error.text}; {LEFT_OUT}")
    return sorted(found, key=lambda one: (one.moment, one.line.id))


def _listed(numbers: set[int]) -> str:
    return ", ".join(map(str, sorted(numbers)))


def _row(row: tuple[Any, ...]) -> _Row:
    """A row as it was found; never trusted."""
    *shown, added, is_changed, dips = row
    line = Listed._make(shown)
    texts = isinstance(line.name, str) and isinstance(added, str)
    texts = texts and all(isinstance(getattr(line, name), str | None) for name in _TEXTS)
    if not texts or not isinstance(line.length_m, float | int | None):
        raise UnreadableFile("it has a fact of the wrong kind")
    if not isinstance(line.dip_hz, float | int | None):
        line = line._replace(dip_hz=None)
    return _Row(moment_of(line.when or added), line, bool(is_changed), _dips(dips))


def _dips(text: Any) -> _Dips:
    """Kept dips; none where they are not what was written."""
    try:
        found = json.loads(text or "[]")
        return [(float(f_hz), None if swr is None else float(swr)) for f_hz, swr in found if f_hz > 0]
    except (TypeError, ValueError, RecursionError):
        return []
