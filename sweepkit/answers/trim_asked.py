"""What is asked for one place, as people write it, and what of it the plan takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sweepkit.answers.told import as_bands, as_frequency_hz, as_length_m, known_told
from sweepkit.antennas.catalogue import OF_DIPOLES, kind_named
from sweepkit.antennas.kind import Kind, Move
from sweepkit.errors import BadInput
from sweepkit.trim.request import LENGTH_UNTOLD, parse_lie, parse_move, parse_segment_hz, without_name

Facts = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class TrimAsked:
    """All that was written, by the names of ``sweepkit trim``; text with a unit, or numbers in SI units."""

    beside: Mapping[str, Any]  # what else is known of the antenna, by the names of its options
    kind: str | None = None
    length: str | float | None = None
    target: str | float | None = None
    band: str | None = None
    segment: str | tuple[float, float] | None = None
    by: str | None = None
    tail: str | float | None = None
    tail_lies: str | None = None
    must_work_wet: bool = False
    region: int | None = None  # whose bands

    def __post_init__(self) -> None:
        if sum(goal is not None for goal in (self.target, self.band, self.segment)) != 1:
            raise BadInput("say where the dip is to go, with one of --target, --band and --segment")

    @property
    def target_hz(self) -> float | None:
        """Where the dip is to go; ``None`` where a band or a part of it is to fit best."""
        if self.target is None:
            return None
        text = without_name(self.target) if isinstance(self.target, str) else self.target
        return as_frequency_hz(text, name="target")

    @property
    def band_hz(self) -> tuple[float, float] | None:
        """Ends of what is to fit best."""
        if isinstance(self.segment, str):
            return parse_segment_hz(without_name(self.segment))
        if self.segment is not None:
            low_hz, high_hz = (as_frequency_hz(end, name="segment") for end in self.segment)
            if not low_hz < high_hz:
                raise BadInput(f"segment is {self.segment!r}; its lower end stands first")
            return low_hz, high_hz
        found = as_bands(self.band, region=self.region)
        return (found[0].low_hz, found[0].high_hz) if found else None

    def antenna_kind(self, facts: Facts) -> Kind:
        """The kind as told, else the one that is known."""
        name = self.kind or facts.get("kind")
        if name is None:
            raise BadInput("the kind of antenna is not told; add --kind, such as --kind dipole")
        return kind_named(name, beside=OF_DIPOLES)

    def move(self, facts: Facts) -> Move:
        """How the change is made."""
        return parse_move(self.by, self.antenna_kind(facts))

    def length_m(self, facts: Facts) -> float:
        """Length as told, else the one that is known, else 1 where none is needed. [m]"""
        if self.length is not None:
            return as_length_m(self.length, name="length")
        if "length_m" in facts:
            return float(facts["length_m"])
        if self.antenna_kind(facts).answer is None:
            return 1.0
        raise BadInput(LENGTH_UNTOLD)

    def wish(self, facts: Facts) -> dict[str, Any]:
        """What the plan takes of it, by its names; ``facts`` is what records know of the antenna."""
        tail_m = None if self.tail is None else as_length_m(self.tail, name="tail", limit="size_m")
        return {
            "kind": self.antenna_kind(facts),
            "length_m": self.length_m(facts),
            "target_hz": self.target_hz,
            "band_hz": self.band_hz,
            "by": self.move(facts),
            "tail_m": facts.get("tail_m") if tail_m is None else tail_m,
            "lies": parse_lie(self.tail_lies),
            "known": known_told(self.beside, facts),
            "must_work_wet": self.must_work_wet,
        }
