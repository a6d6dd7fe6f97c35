"""The places an antenna is to serve: bands, segments and single frequencies, each named once."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from sweepkit.bands import Band, find_band, read_bands
from sweepkit.errors import BadInput
from sweepkit.quantities import parse_frequency_hz, parse_length_m
from sweepkit.trim.request import parse_segment_hz

T = TypeVar("T")
MOST_WEIGHT = 1000.0  # more is a slip of the finger; common practice, no source


@dataclass(frozen=True)
class Place:
    """One place: a band or segment that counts by its best point, or a single frequency (both ends the same)."""

    name: str  # what the operator calls it
    low_hz: float
    high_hz: float
    target_hz: float | None = None  # where a dip is to go, where that was told
    weight: float = 1.0  # how much it matters, above 0

    @property
    def middle_hz(self) -> float:
        """The target, else the middle of the band. [Hz]"""
        return self.target_hz or float(np.sqrt(self.low_hz * self.high_hz))


def plain_name(name: str) -> str:
    """How names are compared: ``40m`` is ``40 m``."""
    return "".join(name.split()).lower()


def places_of(
    *,
    bands: Sequence[str] = (),
    segments: Sequence[str] = (),
    targets: Sequence[str] = (),
    weights: Sequence[str] | Mapping[str, float] = (),
    region: int | None = None,
) -> tuple[Place, ...]:
    """The places named by each ``--band``, ``--segment`` and ``--target`` as written, lowest first, with weights."""
    table = read_bands(region=region)
    named = [_of_band(find_band(table, band)) for band in bands]
    named += [_of_segment(text) for text in segments]
    _refuse_twice(named)
    for text in targets:
        place = _of_target(text)
        own = [k for k, known in enumerate(named) if plain_name(known.name) == plain_name(place.name)]
        if own and named[own[0]].target_hz is None:
            named[own[0]] = replace(named[own[0]], target_hz=place.target_hz)
        else:
            named.append(place)
    _refuse_twice(named)
    told = weights if isinstance(weights, Mapping) else _weights(weights)
    by_name = by_place(told, named, "--weight")
    weighted = [replace(place, weight=by_name.get(place.name, place.weight)) for place in named]
    return tuple(sorted(weighted, key=lambda place: (place.middle_hz, place.name)))


def by_place(told: Mapping[str, T], places: Sequence[Place], option: str) -> dict[str, T]:
    """What was told by name, by the names of the places; another name is a ``BadInput``."""
    names = {plain_name(place.name): place.name for place in places}
    for name in told:
        if plain_name(name) not in names:
            raise BadInput(
                f"{option} is told for {name!r}, which is not among the places named "
                f"({', '.join(place.name for place in places) or 'none'}); name it with --band, --segment or "
                "--target, or leave it out"
            )
    return {names[plain_name(name)]: value for name, value in told.items()}


def named_value(text: str, option: str, example: str) -> tuple[str, str]:
    """``40 m=3`` as name and value."""
    name, equals, value = text.rpartition("=")
    if not equals or not name.strip() or not value.strip():
        raise BadInput(f"{option} is {text!r}; a place and its value were expected; write it like {example}")
    return name.strip(), value.strip()


def parse_lengths_m(texts: Sequence[str], *, option: str = "--length") -> dict[str, float]:
    """Each ``--length "40 m=10.61 m"`` by the name of its place. [m]"""
    lengths: dict[str, float] = {}
    for text in texts:
        name, value = named_value(text, option, "'40 m=10.61 m'")
        length_m = parse_length_m(value)
        if not length_m > 0:
            raise BadInput(f"{option} is {text!r}; it must be above zero, like '40 m=10.61 m'")
        if plain_name(name) in map(plain_name, lengths):
            raise BadInput(f"{option} is told twice for {name}; one was expected; leave one out")
        lengths[name] = length_m
    return lengths


def _of_band(band: Band) -> Place:
    return Place(band.name, band.low_hz, band.high_hz)


def _of_segment(text: str) -> Place:
    name, equals, rest = text.rpartition("=")
    low_hz, high_hz = parse_segment_hz(rest)
    return Place(name.strip() if equals and name.strip() else text.strip(), low_hz, high_hz)


def _of_target(text: str) -> Place:
    name, equals, rest = text.rpartition("=")
    f_hz = parse_frequency_hz(rest)
    return Place(name.strip() if equals and name.strip() else text.strip(), f_hz, f_hz, f_hz)


def _refuse_twice(places: Sequence[Place]) -> None:
    seen: set[str] = set()
    for place in places:
        if plain_name(place.name) in seen:
            raise BadInput(
                f"{place.name} is named twice; once was expected; leave one out, or give one another name"
            )
        seen.add(plain_name(place.name))


def _weights(texts: Sequence[str]) -> dict[str, float]:
    weights: dict[str, float] = {}
    for text in texts:
        name, value = named_value(text, "--weight", "'40 m=3'")
        if not re.fullmatch(r"\d+(\.\d+)?", value) or not 0 < float(value) <= MOST_WEIGHT:
            raise BadInput(
                f"--weight is {text!r}; a number above 0, at most {MOST_WEIGHT:g}, was expected; write it like '40 m=3'"
            )
        if plain_name(name) in map(plain_name, weights):
            raise BadInput(f"--weight is told twice for {name}; one was expected; leave one out")
        weights[name] = float(value)
    return weights
