"""What the operator's records know of a named antenna: the kit first, then its last setup in the logbook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sweepkit.cli.gear import measured_place, resolve_lines
from sweepkit.cli.log_place import meant, open_named, say

if TYPE_CHECKING:
    from sweepkit.kit import AntennaNote, Kit
    from sweepkit.lines import LinePiece
    from sweepkit.sweep import Place

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class KnownAntenna:
    """What is known of one antenna.

    Parameters
    ----------
    told : mapping
        Facts of the kit, by the names of the logbook.
    logged : mapping
        Facts of its last setup and sweep in the logbook.
    setup : str
        That setup, ``S4``; empty where there is none.
    gear : Kit
        The kit that was kept with that setup; names of its line stand in it.
    is_present : bool
        Whether the sweep in question is itself the one in the logbook.
    """

    told: Facts
    logged: Facts
    setup: str
    gear: Kit
    is_present: bool = False

    @property
    def facts(self) -> Facts:
        """All of it; the kit goes before the logbook."""
        return {**self.logged, **self.told}


def known_antenna(
    name: str | None, gear: Kit, log: Path | None, *, present: str | None = None
) -> KnownAntenna:
    """What kit and logbook know of a named antenna; nothing where no name was given.

    Parameters
    ----------
    name : str or None
        The operator's own name.
    gear : Kit
        The operator's gear.
    log : Path or None
        A logbook; ``None``: the one in the current folder, if there is one.
    present : str, optional
        Hash of the sweep in question; where it is in the logbook, its own setup counts, not the last.

    Raises
    ------
    BadInput
        Neither kit nor logbook knows the name.
    """
    from sweepkit.kit import Kit

    if name is None:
        return KnownAntenna({}, {}, "", Kit())
    from sweepkit.kit.choosing import resolve_antenna
    from sweepkit.logbook.defaults import kit_defaults

    told = kit_defaults(gear, name)
    known = _last_setup(name, told, log, present)
    if not told and not known.setup:
        resolve_antenna(name, gear)
    return known


def _last_setup(name: str, told: Facts, log: Path | None, present: str | None) -> KnownAntenna:
    """Facts of the antenna's last setup and sweep beside those of the kit."""
    from sweepkit.kit import Kit

    path = meant(log)
    if log is not None or path.exists():
        from sweepkit.logbook import Last, find_last, list_sweeps, read_logged_kit

        with open_named(log) as opened:
            last = find_last(opened, antenna=name)
            same = [s for s in list_sweeps(opened, antenna=name) if s.sha256 == present] if present else []
            last = Last(same[0].setup, same[0]) if same else last
            if last is not None:
                facts = {**last.setup.facts, **(last.sweep.facts if last.sweep else {})}
                gear = read_logged_kit(opened, last.setup)
                return KnownAntenna(told, facts, last.setup.id, gear, is_present=bool(same))
    return KnownAntenna(told, {}, "", Kit())


def line_and_place(
    known: KnownAntenna, gear: Kit, *, line: list[str] | None, measured_at: str | None
) -> tuple[tuple[LinePiece, ...] | None, Place]:
    """The line and where the sweep was measured; what no option told is taken over, and said on stderr.

    Where another sweep was measured says nothing of this one, so the place comes only from its own record.

    Parameters
    ----------
    known : KnownAntenna
        From :func:`known_antenna`.
    gear : Kit
        The operator's gear.
    line : list of str or None
        Each ``--line`` as written.
    measured_at : str or None
        ``--measured-at`` as written.

    Raises
    ------
    BadInput
        A line or a place that cannot be.
    """
    pieces, place = resolve_lines(line, gear), measured_place(measured_at)
    if not line and known.facts.get("line"):
        from_kit = "line" in known.told
        pieces = resolve_lines(list(known.facts["line"]), gear if from_kit else known.gear)
        _say_taken(known, "line")
    if measured_at is None and known.is_present and known.facts.get("measured_at"):
        place = measured_place(known.facts["measured_at"])
        _say_taken(known, "measured_at")
    return pieces, place


def antenna_note(known: KnownAntenna, gear: Kit, name: str | None) -> AntennaNote | None:
    """What is known of the antenna as the kit has it; nothing where its kind is not known.

    Parameters
    ----------
    known : KnownAntenna
        From :func:`known_antenna`.
    gear : Kit
        The operator's gear, which knows its box.
    name : str or None
        The operator's own name of it.
    """
    from sweepkit.kit import AntennaNote

    facts = known.facts
    if "kind" not in facts:
        return None
    height_m = facts.get("radial_height_m")
    told = gear.antennas.get(name or "")
    return AntennaNote(
        kind=facts["kind"],
        length_m=facts.get("length_m"),
        radials=facts.get("radials"),
        radial_length_m=facts.get("radial_length_m"),
        radials_on_ground=None if height_m is None else height_m == 0,
        counterpoise_length_m=facts.get("counterpoise_m"),
        coil_h=facts.get("coil_h"),
        transformer=facts.get("transformer"),
        choke_at=facts.get("choke_at"),
        box=None if told is None else told.box,
    )


def standing_facts(facts: Facts, *, same_site: bool = False) -> dict[str, Any]:
    """What still holds of an antenna that was logged: never the weather, of the place only where it is the same."""
    from sweepkit.logbook.fields import BY_NAME

    allowed = ("always", "same site") if same_site else ("always",)
    return {name: value for name, value in facts.items() if BY_NAME[name].carried in allowed}


def _say_taken(known: KnownAntenna, name: str) -> None:
    """Say what was taken over, and from where."""
    from sweepkit.cli.log_text import fact_text

    source = "the kit" if name in known.told else f"setup {known.setup}"
    say(f"not stated, so from {source}: {fact_text(name, known.facts[name])}")
