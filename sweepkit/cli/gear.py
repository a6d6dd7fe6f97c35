"""What the options say of the operator's gear: kit, line, plane."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.errors import BadInput

if TYPE_CHECKING:
    from sweepkit.kit import Kit
    from sweepkit.lines import LinePiece
    from sweepkit.sweep import Place


def read_gear(path: Path | None) -> Kit:
    """The kit of the file, or the stated defaults."""
    from sweepkit.kit import Kit, read_kit

    return Kit() if path is None else read_kit(path)


def resolve_lines(specs: list[str] | None, kit: Kit) -> tuple[LinePiece, ...] | None:
    """The line of the options, in order from the radio; nothing where none was told."""
    if not specs:
        return None
    from sweepkit.kit.choosing import resolve_pieces

    return resolve_pieces(specs, kit.lines)


def measured_place(text: str | None) -> Place:
    """The plane of ``--measured-at``.

    Raises ``BadInput``: another word than radio or feedpoint.
    """
    if text is None:
        return "unknown"
    if text == "radio":
        return "radio"
    if text == "feedpoint":
        return "feedpoint"
    raise BadInput(f"--measured-at is {text!r}; it is radio or feedpoint")
