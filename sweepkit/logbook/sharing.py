"""Which logged sweeps share a line and a calibration, and what these tell together.

Where `calibrated` is told, sweeps of that name share them; else those of one setup swept on one day, as long as they
agree. An outing holds a few sweeps at most, so that one more leaves most figures alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, NamedTuple

from sweepkit.errors import SweepkitError, UnreadableFile
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.finding import sweeps_where
from sweepkit.logbook.reading import read_if_whole
from sweepkit.logbook.records import LoggedSweep, moment_of
from sweepkit.logbook.store import Logbook

if TYPE_CHECKING:
    from sweepkit.kit import Kit
    from sweepkit.lines import LinePiece
    from sweepkit.station.outing import Outing

# Sweeps of one outing; more tell hardly more of a line, and each costs all others their figures
MOST_SHARED = 6
DISAGREES = "outing-disagrees"


def outings_of(
    connection: LogConnection, sweeps: Mapping[int, LoggedSweep]
) -> dict[int, tuple[LoggedSweep, ...]]:
    """By number, all of the outing of some sweeps, in the order swept; a sweep without others is not there."""
    telling = {number: sweep for number, sweep in sweeps.items() if _line_of(sweep) is not None}
    neighbours = _neighbours(connection, telling)
    missing = sorted({one for number in telling for one in neighbours.get(number, ())} - telling.keys())
    others = sweeps_where(connection, {"sweep.id": missing}) if missing else []
    every = telling | {sweep.id: sweep for sweep in others}
    outings = {
        number: tuple(
            every[one]
            for one in neighbours.get(number, ())
            if one in every and _line_of(every[one]) == _line_of(sweep)
        )
        for number, sweep in telling.items()
    }
    return {number: some for number, some in outings.items() if len(some) > 1}


def _line_of(sweep: LoggedSweep) -> Any:
    """What lies before a sweep, as it is told; ``None`` for no line, and for a sweep that is not to count."""
    facts, place = sweep.setup.facts, sweep.facts.get("measured_at")
    if not facts.get("line") or "piece" in facts or "set_aside" in sweep.facts or place == "feedpoint":
        return None
    return tuple(facts["line"]), sweep.setup.kit_sha256, place


def _neighbours(connection: LogConnection, sweeps: Mapping[int, LoggedSweep]) -> dict[int, tuple[int, ...]]:
    """By number, some sweeps with the told calibration of each, or of its setup and day, in the order swept.

    Only numbers and times are looked at: one name may stand for thousands.
    """
    setups = {sweep.setup.number for sweep in sweeps.values()}
    names = {str(told) for sweep in sweeps.values() if (told := sweep.setup.facts.get("calibrated"))}
    told = "CASE WHEN json_valid(setup.facts) THEN json_extract(setup.facts, '$.calibrated') END"
    when = "CASE WHEN json_valid(sweep.facts) THEN json_extract(sweep.facts, '$.when') END"
    rows = connection.execute(
        f"SELECT sweep.id, setup.id, {told}, coalesce({when}, sweep.added) FROM sweep"
        f" JOIN setup ON setup.id = sweep.setup_id WHERE setup.id IN ({_marks(setups)})"
        + (f" OR {told} IN ({_marks(names)})" if names else ""),
        [*setups, *names],
    )
    outings: dict[Any, list[tuple[datetime, int]]] = {}
    for number, setup, name, swept in rows:
        with suppress(UnreadableFile):  # a damaged time
            outings.setdefault(name or (setup, str(swept)[:10]), []).append((moment_of(swept), number))
    found = {}
    for outing in outings.values():
        in_order = [number for _, number in sorted(outing)]
        for place, number in enumerate(in_order):
            start = place - place % MOST_SHARED
            found[number] = tuple(in_order[start : start + MOST_SHARED])
    return found


def _marks(values: set[Any]) -> str:
    return ", ".join("?" * len(values))


class Heard(NamedTuple):
    """What a sweep's figures rest on, ``None`` for itself alone, and the code of what is wrong with its outing."""

    outing: Outing | None = None
    amiss: str | None = None


@dataclass
class Hearing:
    """What each outing of some sweeps tells, learned once."""

    log: Logbook
    outings: Mapping[int, tuple[LoggedSweep, ...]]
    _heard: dict[tuple[int, ...], Heard] = field(default_factory=dict)

    def of(self, sweep: LoggedSweep, gear: Kit, pieces: Sequence[LinePiece]) -> Heard:
        """What the outing of a sweep tells, through the line that all of it lies behind."""
        members = self.outings.get(sweep.id, ())
        if not members:
            return Heard()
        numbers = tuple(member.id for member in members)
        if numbers not in self._heard:
            self._heard[numbers] = _hear(self.log, members, gear, pieces)
        return self._heard[numbers]


def _hear(log: Logbook, members: tuple[LoggedSweep, ...], gear: Kit, pieces: Sequence[LinePiece]) -> Heard:
    """Where nobody told that they share a calibration, those that do not agree each speak for themselves."""
    from sweepkit.reviews.outing import learn_outing

    read = []
    for member in members:
        try:
            read.append(read_if_whole(log, member))
        except SweepkitError:  # its own review says why
            continue
    outing = learn_outing([sweep for sweep in read if sweep is not None], kit=gear, lines=pieces)
    if outing is None or outing.finding is None:
        return Heard(outing)
    code = outing.finding.code
    is_told = bool(members[0].setup.facts.get("calibrated"))
    return Heard(outing if is_told or code != DISAGREES else None, code)
