"""What kit and logbook know of a named antenna, and what of it still holds another day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sweepkit.facts import BY_NAME
from sweepkit.kit import Kit, resolve_antenna
from sweepkit.kit.known import STATE, Facts, KnownAntenna
from sweepkit.logbook import Last, Logbook, LoggedSweep, Setup, find_last, list_sweeps, read_logged_kit
from sweepkit.logbook.defaults import kit_defaults


def known_antenna(
    log: Logbook | None, name: str, *, kit: Kit | None = None, present: str | None = None
) -> KnownAntenna:
    """What kit and open logbook know of an antenna; for a logged sweep (``present``, its hash) its own setup counts."""
    kit = Kit() if kit is None else kit
    told = kit_defaults(kit, name)
    known = None if log is None else _logged(log, name, told, present)
    if known is None and not told:
        resolve_antenna(name, kit)
    return known or KnownAntenna(told)


def _logged(log: Logbook, name: str, told: Facts, present: str | None) -> KnownAntenna | None:
    """With its own setup where the sweep in question is in the logbook, else with the last; ``None`` without any."""
    sweeps = list_sweeps(log, antenna=name)
    own = next((each for each in sweeps if present is not None and each.sha256 == present), None)
    last = find_last(log, antenna=name) if own is None else Last(own.setup, own)
    if last is None:
        return None
    own_told = {each.sha256: frozenset(fact for fact in STATE if _tells(each, fact)) for each in sweeps}
    return KnownAntenna(
        told,
        _facts(last.setup, last.sweep),
        last.setup.id,
        read_logged_kit(log, last.setup),
        newer=frozenset().union(*own_told.values()),
        is_present=own is not None,
        own={each.sha256: (_facts(each.setup, each), own_told[each.sha256]) for each in sweeps},
    )


def _tells(sweep: LoggedSweep, fact: str) -> bool:
    """Whether somebody stated this fact, or changed it, when the sweep was logged."""
    if fact == "length_m" and "change_m" in sweep.facts:
        return True
    is_stated = fact in sweep.facts and fact not in sweep.taken_over
    return is_stated or (fact in sweep.setup.facts and fact not in sweep.setup.taken_over)


def _facts(setup: Setup, sweep: LoggedSweep | None) -> dict[str, Any]:
    """Of setup and sweep together."""
    return {**setup.facts, **(sweep.facts if sweep else {})}


def standing_facts(facts: Mapping[str, Any], *, same_site: bool = False) -> dict[str, Any]:
    """What still holds of an antenna that was logged: never the weather, of the place only where it is the same."""
    allowed = ("always", "same site") if same_site else ("always",)
    return {name: value for name, value in facts.items() if BY_NAME[name].carried in allowed}
