"""Find a line or an antenna by what the operator wrote."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sweepkit.errors import BadInput
from sweepkit.kit.antenna import AntennaNote
from sweepkit.kit.gear import Kit
from sweepkit.lines import LinePiece, parse_piece

NO_LINE = "none"  # --line none says that the radio is at the antenna


def as_pieces(lines: Iterable[LinePiece | str], kit: Kit) -> list[LinePiece]:
    """Pieces in order from the radio, with names and types looked up."""
    return [
        piece
        for line in lines
        for piece in ((line,) if isinstance(line, LinePiece) else resolve_pieces((line,), kit.lines))
    ]


def resolve_pieces(specs: Iterable[str], lines: Mapping[str, LinePiece]) -> tuple[LinePiece, ...]:
    """The pieces that several ``--line`` name, in order from the radio; ``none`` beside a line is a ``BadInput``."""
    written = [spec.strip() for spec in specs]
    if NO_LINE in written and len(set(written)) > 1:
        other = next(spec for spec in written if spec != NO_LINE)
        raise BadInput(
            f"line {NO_LINE!r} stands beside {other!r}; there is a line or there is none; leave one out"
        )
    return tuple(_piece(spec, lines) for spec in written if spec != NO_LINE)


def _piece(spec: str, lines: Mapping[str, LinePiece]) -> LinePiece:
    """One piece by its name in the kit, or by type and length."""
    if spec in lines:
        return lines[spec]
    named = [name for name in lines if spec.startswith(f"{name} ")]
    if named:
        raise BadInput(
            f"line {spec!r} gives {named[0]!r} of the kit another length; it has its own, "
            f"{lines[named[0]].length_m:g} m; write {named[0]}, or a type and a length"
        )
    if any(character.isdigit() for character in spec):
        return parse_piece(spec)
    raise BadInput(
        f"line {spec!r} is not in the kit{_listed(spec, lines)}; "
        "a name from the kit, or a type and a length, was expected; write it like RG-58 15 m"
    )


def resolve_antenna(name: str, kit: Kit) -> AntennaNote:
    """The antenna of that name in the kit, else a ``BadInput`` that lists those that are there."""
    if name in kit.antennas:
        return kit.antennas[name]
    raise BadInput(
        f"antenna {name!r} is not in the kit{_listed(name, kit.antennas)}; "
        f"write [antennas.{name}] with its kind and length, or choose another"
    )


def _listed(name: str, known: Mapping[str, object]) -> str:
    """What is there instead, the nearest name first."""
    from difflib import get_close_matches  # only when something is wrong

    if not known:
        return " (it has none)"
    near = get_close_matches(name, known, n=1, cutoff=0.55)
    others = [other for other in known if other not in near]
    return f" (it has {', '.join([*near, *others])})"
