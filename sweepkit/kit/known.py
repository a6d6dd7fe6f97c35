"""What is known of one antenna: the kit first, then its last setup in a logbook, where one was looked into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sweepkit.kit.antenna import AS_LOGGED, AntennaNote
from sweepkit.kit.choosing import resolve_pieces
from sweepkit.kit.gear import Kit
from sweepkit.lines import LinePiece
from sweepkit.sweep import Place

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class KnownAntenna:
    """What is known of one antenna, by the names of the logbook."""

    told: Facts = field(default_factory=dict)  # facts of the kit
    logged: Facts = field(default_factory=dict)  # facts of its last setup and sweep in the logbook
    setup: str = ""  # that setup, S4; empty where there is none
    # the kit that was kept with that setup; names of its line stand in it
    gear: Kit = field(default_factory=Kit)
    is_present: bool = False  # whether the sweep in question is itself the one in the logbook

    @property
    def facts(self) -> Facts:
        """All of it; the kit goes before the logbook."""
        return {**self.logged, **self.told}

    def source(self, name: str) -> str:
        """Where a fact comes from, in words."""
        return "the kit" if name in self.told else f"setup {self.setup}"

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

    def note(self, gear: Kit, name: str | None) -> AntennaNote | None:
        """The antenna as the kit writes it, with its box; nothing where its kind is not known."""
        facts = self.facts
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
