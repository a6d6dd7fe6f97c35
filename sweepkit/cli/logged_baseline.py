"""The nearest earlier sweep of an antenna in the logbook, as the baseline of a diagnosis."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.cli.log_place import open_named, say

if TYPE_CHECKING:
    from sweepkit.antennas.rungs import Rung
    from sweepkit.cli.logged_antenna import KnownAntenna
    from sweepkit.sweep import Place, Sweep


def logged_baseline(
    known: KnownAntenna, antenna: str, log: Path | None, now: Sweep, *, place: Place
) -> tuple[Sweep | None, Rung | None]:
    """The baseline and what lies between; none where it was measured at another connector.

    Where the sweep is not in the logbook itself, nobody told its site: another one is allowed for.
    """
    if not known.setup:
        return None, None
    from sweepkit.antennas.rungs import WORDS
    from sweepkit.cli.logged_antenna import standing_facts
    from sweepkit.logbook import read_if_whole
    from sweepkit.records import find_nearest

    with open_named(log) as opened:
        facts = known.facts if known.is_present else standing_facts(known.facts)
        near = find_nearest(opened, {**facts, "antenna": antenna}, without={now.source.sha256})
        if near is None:
            return None, None
        then = near.sweep.facts.get("measured_at", "unknown")
        if then != place:
            say(
                f"sweep {near.sweep.id} would be a baseline, but was measured at: {then}; --measured-at tells"
            )
            return None, None
        baseline = read_if_whole(opened, near.sweep)
    if baseline is None:
        return None, None
    held = f"held against what {WORDS[near.rung]} does; --kept, --rejoined and --put-up-again tell it better"
    say(f"the baseline is sweep {near.sweep.id}, {near.sweep.name}, {held}")
    return baseline, near.rung
