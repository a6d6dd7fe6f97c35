"""Earlier states as people write them: one pair of a fan longer, another tap, another whip."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.quantities import parse_length_m, rising_pair
from sweepkit.several_bands.places import Place, plain_name


def _state_and_path(text: str, example: str) -> tuple[str, str]:
    state, equals, path = text.partition("=")
    if not equals or not path.strip() or not state.strip():
        raise BadInput(
            f"--earlier is {text!r}; what it was then, and its file, were expected; write it like {example}"
        )
    return state.strip(), path.strip()


def parse_whip_state(text: str, *, tap: float | None, whip_m: float) -> tuple[float | None, float, str]:
    """``tap 18.5, 3.52 m=first.s1p``, or one of them: tap, whip [m], and the file; the rest was as now."""
    state, path = _state_and_path(text, "'tap 18.5, 3.52 m=first.s1p'")
    found = re.fullmatch(r"tap\s+(\d+(?:\.\d+)?)\s*(?:,\s*(.+))?", state, re.IGNORECASE)
    length = found.group(2) if found else state
    if length:
        relative = length.lstrip()[:1] in "+-"
        whip_m = parse_length_m(length) + (whip_m if relative else 0.0)
        if not whip_m > 0:
            raise BadInput(f"--earlier is {text!r}; a whip above zero was expected; check its length then")
    return (float(found.group(1)) if found else tap), whip_m, path


def parse_range_m(text: str) -> tuple[float, float]:
    """``1.8-4.0 m`` or ``1.8 m-4.0 m``: the shortest and the longest whip. [m]"""
    ends_m = rising_pair(text, parse_length_m)
    if ends_m is None or ends_m[0] <= 0:
        raise BadInput(
            f"--whip-range is {text!r}; its two ends, shorter first, were expected; write it like 1.8-4.0 m"
        )
    return ends_m


def parse_logged_lengths_m(text: str) -> dict[str, float]:
    """``40 m=10.61 m, 20 m=5.36 m`` as the logbook keeps it, by place. [m]"""
    from sweepkit.several_bands.places import parse_lengths_m

    return parse_lengths_m([part for part in text.split(",") if part.strip()], option="lengths")


def parse_part_state(text: str, places: Sequence[Place]) -> tuple[str, float, str]:
    """``40 m 10.75 m=first.s1p`` as the place, the length of one leg of its pair then [m], and the file."""
    state, path = _state_and_path(text, "'40 m 10.75 m=first.s1p'")
    for place in sorted(places, key=lambda place: -len(place.name)):
        pattern = r"\s*".join(map(re.escape, plain_name(place.name))) + r"\s+(.*)"
        found = re.fullmatch(pattern, state, re.IGNORECASE)
        if found:
            length_m = parse_length_m(found.group(1))
            if length_m > 0:
                return place.name, length_m, path
    raise BadInput(
        f"--earlier is {text!r}; the place whose pair was different and one leg of it then were expected, like "
        f"'{places[0].name} 10.75 m=first.s1p'"
    )


def parse_logged_tap(facts: Mapping[str, Any]) -> float | None:
    """The tap that the logbook keeps, where it is a number."""
    try:
        return float(facts["tap"])
    except (KeyError, ValueError):
        return None
