"""What kit and logbook know of a named antenna, and what of it still holds another day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sweepkit.facts import BY_NAME
from sweepkit.kit import Kit, resolve_antenna
from sweepkit.kit.known import KnownAntenna
from sweepkit.logbook import Last, Logbook, find_last, list_sweeps, read_logged_kit
from sweepkit.logbook.defaults import kit_defaults


def known_antenna(
    log: Logbook | None, name: str, *, kit: Kit | None = None, present: str | None = None
) -> KnownAntenna:
    """What kit and logbook, where there is one open, know of a named antenna.

    ``present`` is the hash of the sweep in question; where it is in the logbook, its own setup counts, not the last.
    """
    kit = Kit() if kit is None else kit
    told = kit_defaults(kit, name)
    last, is_present = (None, False) if log is None else _last(log, name, present)
    if log is None or last is None:
        if not told:
            resolve_antenna(name, kit)
        return KnownAntenna(told)
    facts = {**last.setup.facts, **(last.sweep.facts if last.sweep else {})}
    return KnownAntenna(told, facts, last.setup.id, read_logged_kit(log, last.setup), is_present=is_present)


def _last(log: Logbook, name: str, present: str | None) -> tuple[Last | None, bool]:
    """The setup and the sweep that count, and whether they are those of the sweep in question."""
    last = find_last(log, antenna=name)
    own = [sweep for sweep in list_sweeps(log, antenna=name) if sweep.sha256 == present] if present else []
    return (Last(own[0].setup, own[0]), True) if own else (last, False)


def standing_facts(facts: Mapping[str, Any], *, same_site: bool = False) -> dict[str, Any]:
    """What still holds of an antenna that was logged: never the weather, of the place only where it is the same."""
    allowed = ("always", "same site") if same_site else ("always",)
    return {name: value for name, value in facts.items() if BY_NAME[name].carried in allowed}
