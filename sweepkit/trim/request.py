"""What the operator asked for, as written, turned into numbers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from sweepkit.antennas.kind import Kind, Move
from sweepkit.errors import BadInput
from sweepkit.quantities import parse_frequency_hz, parse_impedance_ratio, parse_length_m, rising_pair
from sweepkit.trim.folds import Lie
from sweepkit.trim.wire import EarlierState

MOVES = ("fold", "cut", "slide")
LENGTH_UNTOLD = (
    "the length is not told; add --length, of a dipole one leg, else all of the part, like --length '10.2 m'"
)


def parse_move(text: str | None, kind: Kind) -> Move:
    """How the change is made; the kind's usual way where nothing is said."""
    if text is None:
        return kind.move
    if text not in MOVES:
        raise BadInput(f"--by is {text!r}; it is one of {', '.join(MOVES)}")
    return cast(Move, text)


def parse_lie(text: str | None) -> Lie | None:
    """How a folded tail lies: ``contact``, ``taped``, or the distance between tail and wire, 0 to 30 cm: ``2 cm``."""
    if text is None:
        return None
    if text in ("contact", "taped"):
        return cast(Lie, text)
    try:
        spacing_m = parse_length_m(text)
    except BadInput as error:
        raise BadInput(f"--tail-lies: {error.text}; or say contact or taped") from error
    if not 0 <= spacing_m <= 0.3:
        raise BadInput(f"--tail-lies is {text!r}; a tail lies 0 to 30 cm from its wire")
    return spacing_m


def parse_positive_m(text: str, option: str) -> float:
    """A length above zero."""
    length_m = parse_length_m(text)
    if not length_m > 0:
        raise BadInput(f"{option} is {text!r}; it must be above zero, like 10.2 m")
    return length_m


def length_m_of(text: str | None, facts: Mapping[str, Any]) -> float:
    """Length as told, else the one that is known. [m]"""
    if text is not None:
        return parse_positive_m(text, "--length")
    if "length_m" in facts:
        return float(facts["length_m"])
    raise BadInput(LENGTH_UNTOLD)


def parse_ratio(text: str) -> float:
    """Impedance ratio of ``--transformer``, such as ``49:1``."""
    try:
        return parse_impedance_ratio(text)
    except BadInput as error:
        raise BadInput(f"--transformer: {error.text}") from error


def without_name(text: str) -> str:
    """A target or segment without the name in front that other options use, ``40 m=7.1 MHz``: alone it needs none."""
    name, _, rest = text.rpartition("=")
    return rest if name.strip() else text


def parse_segment_hz(text: str) -> tuple[float, float]:
    """Ends of a segment such as ``7.000 MHz-7.074 MHz`` or ``7000-7074 kHz``: the unit may stand once, at the end."""
    ends_hz = rising_pair(text, parse_frequency_hz)
    if ends_hz is None:
        raise BadInput(f"--segment is {text!r}; write its two ends, lower first, like 7000-7074 kHz")
    return ends_hz


def parse_earlier(text: str, by: Move) -> tuple[EarlierState, str]:
    """One ``--earlier``, what the wire was like then and the file: ``10.40 m=first.s1p``, ``cut:+10 cm=first.s1p``."""
    length, equals, path = text.partition("=")
    if not equals or not path.strip():
        raise BadInput(
            f"--earlier is {text!r}; write length then and file, like '10.40 m=first.s1p' or '+10 cm=first.s1p'"
        )
    word, colon, rest = length.partition(":")
    if colon:
        if word.strip() not in MOVES:
            raise BadInput(
                f"--earlier {text!r} begins with {word.strip()!r}; say {', '.join(MOVES)}, or nothing"
            )
        by, length = cast(Move, word.strip()), rest
    length = length.strip()
    return EarlierState(path.strip(), parse_length_m(length), length[:1] in "+-", by), path.strip()
