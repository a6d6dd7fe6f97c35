"""The nearest earlier sweep of an antenna in the logbook, as the baseline of a diagnosis."""

from __future__ import annotations

from dataclasses import dataclass

from sweepkit.antennas.rungs import Rung
from sweepkit.kit.known import KnownAntenna
from sweepkit.logbook import Logbook, LoggedSweep, read_if_whole
from sweepkit.records.antenna import standing_facts
from sweepkit.records.nearest import find_nearest
from sweepkit.sweep import Place, Sweep


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
