"""Which logged sweeps share a line and a calibration, and what these tell together.

Where `calibrated` is told, sweeps of that name share them; else those of one setup swept on one day, as long as they
agree. An outing holds a few sweeps at most, so that one more leaves most figures alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from sweepkit.errors import SweepkitError
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.finding import sweeps_where
from sweepkit.logbook.reading import read_if_whole
from sweepkit.logbook.records import LoggedSweep
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
    every = {number: sweep for number, sweep in sweeps.items() if _outing_of(sweep) is not None}
    missing = _beside(connection, every)
    if missing:
        every |= {sweep.id: sweep for sweep in sweeps_where(connection, {"sweep.id": missing})}
    outings: dict[Any, list[LoggedSweep]] = {}
    for sweep in sorted(every.values(), key=lambda one: one.order):
        if (outing := _outing_of(sweep)) is not None:
            outings.setdefault(outing, []).append(sweep)
    return {
        sweep.id: some
        for outing in outings.values()
        for start in range(0, len(outing), MOST_SHARED)
        if len(some := tuple(outing[start : start + MOST_SHARED])) > 1
        for sweep in some
        if sweep.id in sweeps
    }


def _outing_of(sweep: LoggedSweep) -> Any:
    """The same for sweeps of one outing; ``None`` for one that no line lies before, or that is not to count."""
    facts, place = sweep.setup.facts, sweep.facts.get("measured_at")
    if not facts.get("line") or "piece" in facts or "set_aside" in sweep.facts or place == "feedpoint":
        return None
    day = str(sweep.facts.get("when") or sweep.added)[:10]
    told = facts.get("calibrated") or (sweep.setup.number, day)
    return told, tuple(facts["line"]), sweep.setup.kit_sha256, place


def _beside(connection: LogConnection, sweeps: Mapping[int, LoggedSweep]) -> list[int]:
    """Numbers of sweeps that may be of an outing of these, and are not among them."""
    setups = {sweep.setup.number for sweep in sweeps.values()}
    names = {str(told) for sweep in sweeps.values() if (told := sweep.setup.facts.get("calibrated"))}
    if names:
        told = "CASE WHEN json_valid(facts) THEN json_extract(facts, '$.calibrated') END"
        rows = connection.execute(f"SELECT id FROM setup WHERE {told} IN ({_marks(names)})", [*names])
        setups |= {int(number) for (number,) in rows}
    rows = connection.execute(f"SELECT id FROM sweep WHERE setup_id IN ({_marks(setups)})", [*setups])
    return [int(number) for (number,) in rows if number not in sweeps]


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
