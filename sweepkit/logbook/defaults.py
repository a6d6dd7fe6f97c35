"""What the last setup of the same antenna says, as the default of the next: never a place or a weather."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sweepkit.facts import LOGGED, Level
from sweepkit.kit import Kit
from sweepkit.kit.antenna import AS_LOGGED
from sweepkit.logbook.connections import LogConnection
from sweepkit.logbook.finding import setups_where, sweep_numbered, sweep_numbers_where
from sweepkit.logbook.records import LoggedSweep, Setup
from sweepkit.logbook.store import Logbook

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class Last:
    """The last setup of an antenna, and its last sweep where it has one."""

    setup: Setup
    sweep: LoggedSweep | None

    def is_at(self, site: str | None) -> bool:
        """Whether it stood at this site."""
        return site is not None and site == self.setup.facts.get("site")


def find_last(log: Logbook, *, antenna: str) -> Last | None:
    """The last setup of an antenna, by the time it was swept; ``None`` where the logbook does not know this antenna."""
    return log.read(lambda connection: _last(connection, antenna))


def _last(connection: LogConnection, antenna: str) -> Last | None:
    """As ``find_last``, inside a transaction."""
    numbers = sweep_numbers_where(connection, {"setup.antenna": antenna})
    if numbers:
        sweep = sweep_numbered(connection, numbers[-1])
        return Last(sweep.setup, sweep)
    setups = setups_where(connection, {"setup.antenna": antenna})
    return Last(setups[-1], None) if setups else None


def setup_defaults(last: Last, *, site: str | None) -> dict[str, Any]:
    """Facts a new setup takes over from the last unless told otherwise; those of a place only at the same site."""
    return _carried(last.setup.facts, "setup", same_site=last.is_at(site))


def sweep_defaults(before: Facts, stated: Facts) -> dict[str, Any]:
    """Facts the next sweep of an antenna takes over unless told otherwise, by name of ``facts.py``.

    A stated change without a new length gives the length before plus the change; a fold makes the tail longer by what
    it takes from the length.
    """
    carried = _carried(before, "sweep", same_site=True)
    change_m = stated.get("change_m")
    if change_m is None:
        return carried
    length_m = carried.pop("length_m", 0.0) + change_m
    if "length_m" in before and length_m > 0:
        carried["length_m"] = round(length_m, 6)
    tail_m = carried.pop("tail_m", None)
    if stated.get("by") == "fold" and tail_m is not None and tail_m - change_m >= 0:
        carried["tail_m"] = round(tail_m - change_m, 6)
    elif stated.get("by") == "slide" and tail_m is not None:
        carried["tail_m"] = tail_m
    return carried


def kit_defaults(gear: Kit, antenna: str | None) -> dict[str, Any]:
    """Facts that the kit tells of an antenna, of setups and sweeps together; none of one that it does not have."""
    note = gear.antennas.get(antenna) if antenna else None
    if note is None:
        return {}
    told = {
        "kind": note.kind,
        **{name: getattr(note, name) for name in AS_LOGGED},
        "line": list(note.line) or None,
        "tap": None if note.tap is None else f"{note.tap:g}",
        "choke": note.choke,
        "lengths": ", ".join(f"{name}={size:g} m" for name, size in note.lengths_m.items()) or None,
    }
    return {name: value for name, value in told.items() if value is not None}


def _carried(facts: Facts, level: Level, *, same_site: bool) -> dict[str, Any]:
    """The facts of this level that a next one takes over."""
    allowed = ("always", "same site") if same_site else ("always",)
    names = [fact.name for fact in LOGGED if fact.level == level and fact.carried in allowed]
    return {name: facts[name] for name in names if name in facts}
