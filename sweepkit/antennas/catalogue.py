"""All kinds of antenna by name."""

from __future__ import annotations

from collections.abc import Collection
from difflib import get_close_matches

from sweepkit.antennas import end_fed, loaded_whip, vertical
from sweepkit.antennas.kind import Kind
from sweepkit.antennas.wires_alone import DIPOLE, INVERTED_VEE, LOOP, RANDOM_WIRE
from sweepkit.errors import BadInput

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (DIPOLE, INVERTED_VEE, vertical.KIND, loaded_whip.KIND, end_fed.KIND, LOOP, RANDOM_WIRE)
}
OF_DIPOLES = ("fan", "linked", "trap")  # antennas of several dipoles: planned by places, none of KINDS


def kind_named(name: str, *, beside: Collection[str] = ()) -> Kind:
    """The kind called ``name``, else a ``BadInput``; ``beside`` are names of more that the caller knows."""
    if name not in KINDS:
        known = list(dict.fromkeys((*KINDS, *beside)))
        near = [kind for kind in known if name and name in kind] or get_close_matches(name, known, n=1)
        meant = f"; did you mean {near[0]}" if near else ""
        raise BadInput(f"kind {name!r} is not known{meant}; choose one of {', '.join(known)}")
    return KINDS[name]


def known_kind(name: str) -> str:
    """``name``, of one of KINDS or of an antenna of several dipoles, else a ``BadInput``."""
    return name if name in OF_DIPOLES else kind_named(name, beside=OF_DIPOLES).name


def part_of(kind: str) -> str:
    """What of this kind has a length, in a word: leg, radiator, whip, ...; ``leg`` of antennas of several dipoles."""
    return KINDS[kind].part.split()[0] if kind in KINDS else "leg"
