"""A named antenna in the records that the options name; what is taken over from there is said on stderr."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sweepkit.cli.log_place import is_there, open_named, say

if TYPE_CHECKING:
    from sweepkit.cli.option_groups import Gear
    from sweepkit.kit import Kit
    from sweepkit.kit.known import KnownAntenna
    from sweepkit.lines import LinePiece
    from sweepkit.sweep import Place


def known_antenna(
    name: str | None, kit: Kit, log: Path | None, *, present: str | None = None
) -> KnownAntenna:
    """What kit and logbook know of it; nothing where no name was given, and no logbook is loaded then.

    ``log``: a logbook; ``None``: the one in the current folder, if there is one.
    """
    if name is None:
        from sweepkit.kit.known import KnownAntenna

        return KnownAntenna()
    from sweepkit.records.antenna import known_antenna as look_up

    if not is_there(log):
        return look_up(None, name, kit=kit)
    with open_named(log) as opened:
        return look_up(opened, name, kit=kit, present=present)


def line_and_place(known: KnownAntenna, kit: Kit, gear: Gear) -> tuple[tuple[LinePiece, ...] | None, Place]:
    """The line and where the sweep was measured: as the options say, else as the records know."""
    lines, place = gear.line_and_place(kit)
    if lines is None and known.facts.get("line"):
        lines = known.line(kit)
        _say_taken(known, "line")
    if place == "unknown" and known.measured_at != "unknown":
        place = known.measured_at
        _say_taken(known, "measured_at")
    return lines, place


def _say_taken(known: KnownAntenna, name: str) -> None:
    """Say what was taken over, and from where."""
    from sweepkit.cli.log_text import fact_text

    say(f"not stated, so from {known.source(name)}: {fact_text(name, known.facts[name])}")
