"""What is known of the antenna to trim: options first, then the kit, then its last setup in the logbook."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Known
    from sweepkit.kit import Kit

Facts = Mapping[str, Any]


def antenna_facts(name: str | None, gear: Kit, log: Path | None) -> Facts:
    """Facts of a named antenna, by the names of the logbook; empty where no name was given.

    Parameters
    ----------
    name : str or None
        The operator's own name.
    gear : Kit
        The operator's gear.
    log : Path or None
        A logbook; ``None``: the one in the current folder, if there is one.

    Raises
    ------
    BadInput
        Neither kit nor logbook knows the name.
    """
    if name is None:
        return {}
    from sweepkit.kit.choosing import resolve_antenna
    from sweepkit.logbook.defaults import kit_defaults

    logged = _logged_facts(name, log)
    told = kit_defaults(gear, name)
    if not told and not logged:
        resolve_antenna(name, gear)
    return {**logged, **told}


def _logged_facts(name: str, log: Path | None) -> dict[str, Any]:
    """Facts of the antenna's last setup and sweep."""
    from sweepkit.cli.log_place import DEFAULT_NAME

    path = log or Path(DEFAULT_NAME)
    if log is None and not path.exists():
        return {}
    from sweepkit.logbook import find_last, open_logbook

    with open_logbook(path) as opened:
        last = find_last(opened, antenna=name)
        if last is None:
            return {}
        return {**last.setup.facts, **(last.sweep.facts if last.sweep else {})}


def told_length_m(text: str | None, facts: Facts, *, needed: bool) -> float:
    """Length of the option, else the one that is known.

    Parameters
    ----------
    text : str or None
        ``--length`` as written.
    facts : mapping
        From :func:`antenna_facts`.
    needed : bool
        Whether the kind is trimmed at all.

    Raises
    ------
    BadInput
        There is none, or it is no length.
    """
    from sweepkit.errors import BadInput
    from sweepkit.trim.request import parse_positive_m

    if text is not None:
        return parse_positive_m(text, "--length")
    if "length_m" in facts:
        return float(facts["length_m"])
    if needed:
        raise BadInput("the length is not told; add --length, one leg of a dipole, like --length '10.2 m'")
    return 1.0


def told_known(
    facts: Facts,
    *,
    radials: int | None,
    radial_length: str | None,
    radials_on_ground: bool,
    counterpoise: str | None,
    coil: str | None,
) -> Known:
    """What else is known of it.

    Parameters
    ----------
    facts : mapping
        From :func:`antenna_facts`.
    radials, radial_length, radials_on_ground, counterpoise, coil
        The options as written.

    Raises
    ------
    BadInput
        A length or an inductance that is none.
    """
    from sweepkit.antennas.kind import Known
    from sweepkit.quantities import parse_inductance_h
    from sweepkit.trim.request import parse_positive_m

    def length_m(text: str | None, option: str, name: str) -> float | None:
        return facts.get(name) if text is None else parse_positive_m(text, option)

    return Known(
        radials=facts.get("radials") if radials is None else radials,
        radial_length_m=length_m(radial_length, "--radial-length", "radial_length_m"),
        radials_on_ground=radials_on_ground or (radials is None and facts.get("radial_height_m") == 0),
        counterpoise_m=length_m(counterpoise, "--counterpoise", "counterpoise_m"),
        coil_h=facts.get("coil_h") if coil is None else parse_inductance_h(coil),
    )
