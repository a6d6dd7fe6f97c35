"""What a ``setup.toml`` beside each file of a diagnosis tells of all of them, and what lies between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sweepkit.antennas.rungs import RUNGS, WORDS, Rung
from sweepkit.facts import SETUP_FILE
from sweepkit.kit import Kit
from sweepkit.kit.choosing import resolve_pieces
from sweepkit.lines import LinePiece
from sweepkit.logbook.setup_file import Folders
from sweepkit.records.nearest import PLACE, STATE, differing, words_of
from sweepkit.sweep import Place, Sweep

Facts = Mapping[str, Any]
WHERE = "where they were measured"
ALIKE = ("kind", "line", "measured_at")  # taken where it is told alike beside every file


@dataclass(frozen=True)
class Beside:
    """What is known from beside the files; ``facts`` hold of all of them."""

    sweeps: tuple[Sweep, ...]  # each with its own connector, where they are told apart
    each: tuple[Facts, ...]  # what is told of each of them
    facts: Facts
    rung: Rung | None  # what lies between; None where nobody told
    notes: tuple[str, ...]

    def split(self, baseline: Sweep | None) -> tuple[Sweep | None, list[Sweep]]:
        """The baseline, where there is one and so comes first, and the others."""
        return (None, [*self.sweeps]) if baseline is None else (self.sweeps[0], [*self.sweeps[1:]])

    def rung_between(self, baseline: Sweep | None) -> Rung | None:
        """What lies between; of A, B and A again the two A show it."""
        return None if baseline is None and len(self.sweeps) > 2 else self.rung

    def line(self, kit: Kit) -> tuple[LinePiece, ...] | None:
        """The line of all of them; names of pieces stand in the kit."""
        told = self.facts.get("line")
        return None if told is None else resolve_pieces(list(told), kit.lines)

    @property
    def measured_at(self) -> Place:
        """The connector of all of them."""
        place: Place = self.facts.get("measured_at", "unknown")
        return place


def read_beside(sweeps: Sequence[Sweep], told: Facts) -> Beside:
    """Of sweeps in the order they were taken; ``told`` are facts, and ``rung``, that options said already."""
    folders = Folders()
    each = [folders.facts_beside(sweep) for sweep in sweeps]
    known = [one for one in each if one is not None]
    is_whole = len(known) == len(each)
    facts = {name: known[0][name] for name in ALIKE if is_whole and _is_alike(name, known)}
    taken = {name: value for name, value in facts.items() if told.get(name) is None}
    rung = _rung_between(sweeps, known) if is_whole and told.get("rung") is None else None
    notes = _say_apart(known, told) if is_whole else []
    if taken or rung:
        words = [WHERE if name == "measured_at" else words_of([name]) for name in taken] + (
            [WORDS[rung]] if rung else []
        )
        notes.insert(0, f"not stated, so from {SETUP_FILE} beside the files: {', '.join(words)}")
    if told.get("measured_at") is None and "measured_at" not in facts:
        sweeps = [_at_its_place(*pair) for pair in zip(sweeps, each, strict=True)]
    return Beside(tuple(sweeps), tuple(one or {} for one in each), taken, rung, tuple(notes))


def _is_alike(name: str, known: Sequence[Facts]) -> bool:
    return all(one.get(name) is not None for one in known) and not any(
        differing(known[0], one, [name]) for one in known
    )


def _rung_between(sweeps: Sequence[Sweep], known: Sequence[Facts]) -> Rung | None:
    """The highest that any of them is from the first; none for one sweep, or where a site is not told."""
    folders = [Path(sweep.source.path).resolve().parent for sweep in sweeps]
    steps = [
        _step(known[0], one, is_one_setup=folder == folders[0])
        for one, folder in zip(known[1:], folders[1:], strict=True)
    ]
    if not steps or None in steps:
        return None
    return max((step for step in steps if step is not None), key=RUNGS.index)


def _step(then: Facts, now: Facts, *, is_one_setup: bool) -> Rung | None:
    if is_one_setup:
        return "joined-anew"
    if differing(then, now, PLACE):
        return "other-ground"
    if then.get("site") is None or now.get("site") is None:
        return None
    return "put-up-again" if then["site"] == now["site"] else "another-site"


def _say_apart(known: Sequence[Facts], told: Facts) -> list[str]:
    """That the antenna is told to be another, or set otherwise, than when the first was taken."""
    names = ("antenna", "kind", *STATE)
    apart = [
        name
        for name in names
        if told.get(name) is None and any(differing(known[0], one, [name]) for one in known[1:])
    ]
    if not apart:
        return []
    return [
        f"{SETUP_FILE} tells another {words_of(apart)} of these files; what that does is part of what is found"
    ]


def _at_its_place(sweep: Sweep, facts: Facts | None) -> Sweep:
    place = (facts or {}).get("measured_at")
    return sweep if place is None else replace(sweep, measured_at=place)
