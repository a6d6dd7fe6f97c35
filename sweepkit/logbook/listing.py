"""What a listing shows of many sweeps, and nothing else: SQLite picks it, no record is taken apart."""

from __future__ import annotations

from typing import Any, NamedTuple

from sweepkit import __version__
from sweepkit.errors import UnreadableFile
from sweepkit.logbook.computed import DEPENDS_ON
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.digests import digest_sql
from sweepkit.logbook.finding import LEFT_OUT, condition_of, leave_out_damaged
from sweepkit.logbook.records import moment_of
from sweepkit.logbook.reviewed import DIP
from sweepkit.logbook.store import Logbook

_COLUMNS = (
    "sweep.id, sweep.setup_id, json_extract(sweep.facts, '$.when'), setup.antenna, setup.site,"
    " json_extract(sweep.facts, '$.measured_at'), json_extract(sweep.facts, '$.length_m'),"
    " json_extract(computed.answer, '$.dip_hz.value'), sweep.name,"
    " json_extract(sweep.facts, '$.set_aside') IS NOT NULL, sweep.added"
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


def list_lines(
    log: Logbook, *, antenna: str | None = None, site: str | None = None, setup: int | None = None
) -> list[Listed]:
    """Sweeps in the order they were swept, as far as a listing shows them; ``setup`` is 4 for ``S4``."""
    wanted = {"setup.antenna": antenna, "setup.site": site, "setup.id": setup}
    return log.read(lambda connection: _lines(connection, wanted))


def _lines(connection: LogConnection, wanted: dict[str, Any]) -> list[Listed]:
    """As ``list_lines``, inside a transaction; what is damaged is left out by name."""
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
    lines = []
    for row in rows:
        try:
            lines.append(_line(row))
        except UnreadableFile as error:
            connection.leave_out(f"sweep {row[0]}", f"{error.text}; {LEFT_OUT}")
    return [line for _, _, line in sorted(lines)]


def _listed(numbers: set[int]) -> str:
    """Numbers for SQL."""
    return ", ".join(map(str, sorted(numbers)))


def _line(row: tuple[Any, ...]) -> tuple[Any, int, Listed]:
    """A line with what it is sorted by; never trusted."""
    line, added = Listed._make(row[:-1]), row[-1]
    texts = isinstance(line.name, str) and isinstance(added, str)
    texts = texts and all(isinstance(getattr(line, name), str | None) for name in _TEXTS)
    if not texts or not isinstance(line.length_m, float | int | None):
        raise UnreadableFile("it has a fact of the wrong kind")
    if not isinstance(line.dip_hz, float | int | None):
        line = line._replace(dip_hz=None)
    return moment_of(line.when or added), line.id, line
