"""The record of a piece of line in the logbook: the first time it was swept by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from sweepkit.feedline.loss_check import OwnRecord
from sweepkit.feedline.measure import measure_line
from sweepkit.feedline.swept import End
from sweepkit.feedline.told import Told
from sweepkit.logbook import Logbook, list_sweeps, read_if_whole
from sweepkit.sweep import Sweep


@dataclass
class _Kept:
    """Sweeps of one setup of a piece."""

    numbers: list[int] = field(default_factory=list)
    ends: list[tuple[Sweep, End]] = field(default_factory=list)
    when: str | None = None


def own_record(
    log: Logbook, name: str, now: Sequence[Sweep], told: Told, *, draws: int, seed: int
) -> OwnRecord | None:
    """The oldest record of a named piece, measured anew; a setup that holds the files of ``now`` is no record."""
    kept = _oldest(log, name, {sweep.source.sha256 for sweep in now})
    if kept is None or not kept.ends:
        return None
    # Another seed: the errors of the analyzer were other ones then.
    ends = [(sweep, _end(sweep, end)) for sweep, end in kept.ends]
    measured = measure_line(ends, told, draws=draws, seed=seed + 1)
    return OwnRecord(name, tuple(kept.numbers), kept.when, measured)


def _oldest(log: Logbook, name: str, now: set[str]) -> _Kept | None:
    """The sweeps of the first setup of this piece."""
    of_it = [sweep for sweep in list_sweeps(log) if sweep.setup.facts.get("piece") == name]
    present = {sweep.setup.number for sweep in of_it if sweep.sha256 in now}
    own = [s for s in of_it if s.setup.number not in present and "set_aside" not in s.facts]
    if not own:
        return None
    kept = _Kept(when=own[0].facts.get("when"))
    for sweep in own:
        if sweep.setup.number == own[0].setup.number:
            swept = read_if_whole(log, sweep)
            if swept is not None:
                kept.numbers.append(sweep.id)
                kept.ends.append((swept, sweep.facts.get("end", "unknown")))
    return kept


def _end(sweep: Sweep, told: End) -> End:
    """The far end as told, else as the sweep alone shows it: two unknown ends are not fitted together."""
    if told != "unknown":
        return told
    return "open" if measure_line([(sweep, "unknown")], Told(), draws=0).identified.ends[0] > 0 else "short"
