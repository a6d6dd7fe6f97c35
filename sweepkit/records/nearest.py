"""The earlier sweep of an antenna with the least between it and another one, and the baseline of a diagnosis."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sweepkit.antennas.rungs import RUNGS, Rung
from sweepkit.kit.known import KnownAntenna
from sweepkit.logbook import Logbook, LoggedSweep, list_sweeps, read_if_whole
from sweepkit.records.antenna import standing_facts
from sweepkit.sweep import Place, Sweep

STATE = ("length_m", "tail_m", "radials", "radial_length_m", "counterpoise_m", "tap", "coil_h", "line")
PLACE = ("ground", "feed_height_m", "apex_height_m", "end_height_m", "radial_height_m")
CHANGED = ("by", "change_m", "changed")  # facts that begin a new state of a setup

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class Nearest:
    """An earlier sweep.

    ``rung``: what lies between, as far as the facts say.
    ``differs``: facts on the state of the antenna that are told to be other ones.
    """

    sweep: LoggedSweep
    rung: Rung
    differs: tuple[str, ...]


def find_nearest(
    log: Logbook,
    facts: Facts,
    *,
    setup: str | None = None,
    without: Collection[str] = (),
    before: int | None = None,
) -> Nearest | None:
    """The last earlier sweep of the same setup; else the one of the antenna with the least between.

    That is state, then site, ground and height. ``without`` are hashes of raw files that do not count, its own first
    of all; of sweeps ``before`` a number only those swept before it count.
    """
    if facts.get("antenna") is None:
        return None
    sweeps = list_sweeps(log, antenna=str(facts["antenna"]))
    place = next((k for k, sweep in enumerate(sweeps) if sweep.id == before), len(sweeps))
    known = [
        (k, _nearness(sweep, facts, setup))
        for k, sweep in enumerate(sweeps[:place])
        if sweep.sha256 not in without and "set_aside" not in sweep.facts and "piece" not in sweep.setup.facts
    ]
    known = _after_changes(sweeps, known, setup)
    if not known:
        return None
    return min(known, key=lambda pair: (pair[1].rung != "joined-anew", _apart(pair[1]), -pair[0]))[1]


def _apart(near: Nearest) -> tuple[int, int]:
    return len(near.differs), RUNGS.index(near.rung)


def _after_changes(
    sweeps: Sequence[LoggedSweep], known: list[tuple[int, Nearest]], setup: str | None
) -> list[tuple[int, Nearest]]:
    """Without sweeps of the setup from before a change of it that was told."""
    changes = [
        k
        for k, near in known
        if near.sweep.setup.id == setup and any(name in sweeps[k].facts for name in CHANGED)
    ]
    last = max(changes, default=-1)
    return [(k, near) for k, near in known if near.sweep.setup.id != setup or k >= last]


def _nearness(sweep: LoggedSweep, facts: Facts, setup: str | None) -> Nearest:
    """What lies between a sweep and one of which these facts are known; what nobody told is no difference."""
    then = {**sweep.setup.facts, **sweep.facts}

    def differing(names: Sequence[str]) -> tuple[str, ...]:
        return tuple(
            name
            for name in names
            if name in then and facts.get(name) is not None and _other(then[name], facts[name])
        )

    rung: Rung = "another-site"
    if sweep.setup.id == setup:
        rung = "joined-anew"
    elif differing(PLACE):
        rung = "other-ground"
    elif "site" in then and then["site"] == facts.get("site"):
        rung = "put-up-again"
    return Nearest(sweep, rung, differing(STATE))


def _other(a: Any, b: Any) -> bool:
    return list(a) != list(b) if isinstance(a, list | tuple) else bool(a != b)


@dataclass(frozen=True)
class Baseline:
    """An earlier sweep: ``logged`` in the logbook, ``sweep`` as read, ``rung`` what lies between.

    Measured at another connector than the sweep in question, it is no baseline, and ``sweep`` is None.
    """

    logged: LoggedSweep
    sweep: Sweep | None
    rung: Rung

    @property
    def measured_at(self) -> str:
        """Where it was measured."""
        return str(self.logged.facts.get("measured_at", "unknown"))


def find_baseline(
    log: Logbook, known: KnownAntenna, antenna: str, now: Sweep, *, place: Place
) -> Baseline | None:
    """The baseline; none where the logbook has no earlier sweep, or a damaged one.

    Where the sweep is not in the logbook itself, nobody told its site: another one is allowed for.
    """
    facts = known.facts if known.is_present else standing_facts(known.facts)
    near = find_nearest(log, {**facts, "antenna": antenna}, without={now.source.sha256})
    if near is None:
        return None
    found = Baseline(near.sweep, None, near.rung)
    if found.measured_at != place:
        return found
    sweep = read_if_whole(log, near.sweep)
    return None if sweep is None else Baseline(near.sweep, sweep, near.rung)
