"""What is known of one antenna: the kit first, then its last setup in a logbook, where one was looked into.

How it is set (``STATE``) changes from outing to outing, so what the logbook was told of that goes before the kit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sweepkit.kit.antenna import AS_LOGGED, AntennaNote
from sweepkit.kit.choosing import resolve_pieces
from sweepkit.kit.gear import Kit
from sweepkit.lines import LinePiece
from sweepkit.sweep import Place

Facts = Mapping[str, Any]
STATE = ("length_m", "lengths", "tap")  # facts of a kit that trimming changes


@dataclass(frozen=True)
class KnownAntenna:
    """What is known of one antenna, by the names of the logbook."""

    told: Facts = field(default_factory=dict)  # facts of the kit
    logged: Facts = field(default_factory=dict)  # facts of its last setup and sweep in the logbook
    setup: str = ""  # that setup, S4; empty where there is none
    # the kit that was kept with that setup; names of its line stand in it
    gear: Kit = field(default_factory=Kit)
    newer: frozenset[str] = frozenset()  # of STATE, what the logbook was told, not only took over from a kit
    is_present: bool = False  # whether the sweep in question is itself the one in the logbook
    # facts of each of its logged sweeps, by hash, and what of STATE was told of that sweep
    own: Mapping[str, tuple[Facts, frozenset[str]]] = field(default_factory=dict)
    told_then: frozenset[str] = frozenset()  # the latter, of the sweep in question

    @property
    def facts(self) -> Facts:
        """All of it; the kit goes before the logbook, except where the logbook has a newer state."""
        return {**self.logged, **self.told, **{name: self.logged[name] for name in self._as_logged}}

    @property
    def outdated(self) -> Facts:
        """What the kit says of the state and the logbook has otherwise, newer."""
        return {
            name: self.told[name]
            for name in self._as_logged
            if name in self.told and self.told[name] != self.logged[name]
        }

    @property
    def _as_logged(self) -> list[str]:
        return [name for name in STATE if name in self.newer and name in self.logged]

    def source(self, name: str) -> str:
        """Where a fact comes from, in words."""
        is_of_kit = name in self.told and name not in self._as_logged
        return "the kit" if is_of_kit else f"setup {self.setup}"

    def line(self, gear: Kit) -> tuple[LinePiece, ...] | None:
        """Its line, from the kit it is written in; nothing where none is known."""
        pieces: Sequence[str] = self.facts.get("line") or ()
        if not pieces:
            return None
        return resolve_pieces(list(pieces), (gear if "line" in self.told else self.gear).lines)

    @property
    def measured_at(self) -> Place:
        """Where the sweep in question was measured: from its own record only, since another one says nothing of it."""
        place = self.facts.get("measured_at") if self.is_present else None
        return place if place in ("radio", "feedpoint") else "unknown"

    def of_sweep(self, sha256: str) -> KnownAntenna:
        """As it stood when a sweep was taken, where that sweep is in the logbook; else as it is."""
        if sha256 not in self.own:
            return self
        logged, told_then = self.own[sha256]
        return replace(self, logged=logged, told_then=told_then, is_present=True)

    def facts_then(self, gear: Kit, name: str | None) -> Facts:
        """What holds of the sweep in question.

        A whip that slides has another length on every band, which is known of a logged sweep of which it was told.
        """
        own = gear.antennas.get(name or "")
        if own is None or own.whip_range_m is None:
            return self.facts
        unknown = set(STATE) - self.told_then
        return {fact: value for fact, value in self.facts.items() if fact not in unknown}

    def note(self, gear: Kit, name: str | None) -> AntennaNote | None:
        """The antenna as the kit writes it, with its box; nothing where its kind is not known."""
        facts = self.facts_then(gear, name)
        if "kind" not in facts:
            return None
        told: dict[str, Any] = {name: facts.get(name) for name in AS_LOGGED}
        own = gear.antennas.get(name or "")
        return AntennaNote(
            kind=facts["kind"],
            **told,
            box=None if own is None else own.box,
            choke=None if own is None else own.choke,
        )
