"""All kinds of antenna by name."""

from __future__ import annotations

from sweepkit.antennas import dipole, end_fed, inverted_vee, loaded_whip, loop, random_wire, vertical
from sweepkit.antennas.kind import Kind
from sweepkit.errors import BadInput

KINDS: dict[str, Kind] = {
    module.KIND.name: module.KIND
    for module in (dipole, inverted_vee, vertical, loaded_whip, end_fed, loop, random_wire)
}


def kind_named(name: str) -> Kind:
    """The kind called ``name``.

    Raises ``BadInput``: there is no such kind.
    """
    if name not in KINDS:
        raise BadInput(f"kind {name!r} is not known; choose one of {', '.join(KINDS)}")
    return KINDS[name]


def part_of(kind: str) -> str:
    """What of this kind has a length, in a word: leg, radiator, whip, ...; ``leg`` of antennas of several dipoles."""
    return KINDS[kind].part.split()[0] if kind in KINDS else "leg"
