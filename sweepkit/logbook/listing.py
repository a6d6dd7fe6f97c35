"""What a listing shows of many sweeps, and nothing else: SQLite picks it, no record is taken apart."""

from __future__ import annotations

from typing import Any, NamedTuple

from sweepkit import __version__
from sweepkit.errors import UnreadableFile
from sweepkit.logbook.computed import DEPENDS_ON
from sweepkit.logbook.finding import condition_of
from sweepkit.logbook.records import moment_of
from sweepkit.logbook.reviewed import DIP
from sweepkit.logbook.store import Logbook

_COLUMNS = (
    "sweep.id, setup.id, json_extract(sweep.facts, '$.when'), setup.antenna, setup.site,"
    " json_extract(sweep.facts, '$.measured_at'), json_extract(sweep.facts, '$.length_m'),"
    " json_extract(computed.answer, '$.dip_hz.value'), sweep.name,"
    " json_extract(sweep.facts, '$.set_aside') IS NOT NULL, sweep.added"
)
_TEXTS, _NUMBERS = ("when", "antenna", "site", "measured_at"), ("length_m", "dip_hz")


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
    """Sweeps in the order they were swept, as far as a listing shows them.

    Parameters
    ----------
    log : Logbook
        Open.
    antenna, site : str, optional
        Only those of this antenna, of this site.
    setup : int, optional
        Only those of this setup, 4 for ``S4``.

    Raises
    ------
    UnreadableFile
        The logbook is damaged.
    """
    condition, values = condition_of({"setup.antenna": antenna, "setup.site": site, "setup.id": setup})
    with log.reading() as connection:
        rows = connection.execute(
            f"SELECT {_COLUMNS} FROM sweep JOIN setup ON setup.id = sweep.setup_id"
            " LEFT JOIN computed ON computed.sweep_id = sweep.id AND computed.version = ?"
            f" AND computed.what = ? || ' ' || {DEPENDS_ON} {condition}",
            [__version__, DIP, *values],
        ).fetchall()
    return [line for _, _, line in sorted(map(_line, rows))]


def _line(row: tuple[Any, ...]) -> tuple[Any, int, Listed]:
    """A line with what it is sorted by; never trusted."""
    line, added = Listed._make(row[:-1]), row[-1]
    texts = isinstance(line.name, str) and isinstance(added, str)
    texts = texts and all(isinstance(getattr(line, name), str | None) for name in _TEXTS)
    if not texts or not all(isinstance(getattr(line, name), float | int | None) for name in _NUMBERS):
        raise UnreadableFile("an entry of the logbook has the wrong type; it is damaged; run log check")
    return moment_of(line.when or added), line.id, line
