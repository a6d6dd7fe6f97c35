"""What is known of the antenna to trim: options first, then what the operator's records know."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Known

Facts = Mapping[str, Any]


def told_length_m(text: str | None, facts: Facts, *, needed: bool) -> float:
    """Length of the option, else the one that is known.

    Raises ``BadInput``: there is none, or it is no length.
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
    transformer: str | None,
) -> Known:
    """What else is known of it.

    Raises ``BadInput``: a length or an inductance that is none.
    """
    from sweepkit.antennas.kind import known_beside
    from sweepkit.quantities import parse_inductance_h
    from sweepkit.trim.request import parse_positive_m, parse_ratio

    def length_m(text: str | None, option: str) -> float | None:
        return None if text is None else parse_positive_m(text, option)

    return known_beside(
        facts,
        radials=radials,
        radial_length_m=length_m(radial_length, "--radial-length"),
        radials_on_ground=radials_on_ground,
        counterpoise_m=length_m(counterpoise, "--counterpoise"),
        coil_h=None if coil is None else parse_inductance_h(coil),
        transformer=None if transformer is None else parse_ratio(transformer),
    )
