"""A wire that is no half wave on purpose: what the tuner can take now, and which lengths to keep away from.

Near n half waves of a used band the end of a wire is a voltage maximum: thousands of ohms, which few tuners match, and
much current on the coax. A counterpoise of half a wave is no counterpoise: its end at the box is a voltage maximum too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.antennas.end_fed import WIRE_LENGTH
from sweepkit.antennas.wires_alone import RANDOM_WIRE
from sweepkit.cautions import POWER_OFF
from sweepkit.findings import Finding
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, frequency_text
from sweepkit.several_bands.answer import Aim, Avoid, BandRow, BandsPlan, Clear, State
from sweepkit.several_bands.notices import (
    nothing_covered,
    notice_line,
    notice_not_swept,
    notice_reviews,
    stopped,
)
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.rows import figure_of, row_of, unseen
from sweepkit.several_bands.seen import Around, SeenAll, SeenPlace, sweep_for
from sweepkit.several_bands.state import Drawn, state_now

SPAN = (0.5, 2.0)  # of the present length: which lengths are looked at
# How far from a half wave the wire's end is still a high impedance: an open line of 560 ohm with 4 kilohm at its half
# wave is above 2 kilohm within 6 % of it; insulation and height move the half wave itself by as much.
WIRE_MARGIN, COUNTERPOISE_MARGIN = 0.08, 0.10  # of a half wave, to each side; common practice, no source
LEAST_M = 0.05  # clear stretches shorter than this help nobody


@dataclass(frozen=True)
class RandomWish:
    """What is told of the wire. [m]"""

    length_m: float | None
    aim: Aim
    counterpoise_m: float | None = None


def plan_random_wire(
    seen: SeenAll,
    wish: RandomWish,
    around: Around,
) -> BandsPlan:
    """What the tuner can take now, and lengths to avoid."""
    stops: list[Finding] = list(seen.findings)
    drawn = [state_now(place, around) for place in seen.places]
    missing = [place.place for place, one in zip(seen.places, drawn, strict=True) if one is None]
    again = sweep_for(missing, seen.files[0].seen.analyzer)
    if len(missing) == len(seen.places):
        stops.append(nothing_covered(seen))
    if any(finding.level == "stop" for finding in stops):
        return stopped(seen, RANDOM_WIRE.name, wish.aim, stops, around.files, again)
    rows = tuple(
        _row(place, one, around.with_interval) for place, one in zip(seen.places, drawn, strict=True)
    )
    known = [
        (one.loss_db, place.place.weight)
        for place, one in zip(seen.places, drawn, strict=True)
        if one is not None
    ]
    losses, weights = [each[0] for each in known], [each[1] for each in known]
    loss_db = np.max(losses, axis=0) if wish.aim == "worst" else np.average(losses, axis=0, weights=weights)
    figure = figure_of(np.asarray(loss_db), with_interval=around.with_interval)
    places = [place.place for place in seen.places]
    avoid = lengths_to_avoid(places, wish.length_m, "wire") if wish.length_m else []
    if wish.counterpoise_m:
        avoid += lengths_to_avoid(places, wish.counterpoise_m, "counterpoise")
    clear = clear_lengths(avoid, wish.length_m, "wire") if wish.length_m else []
    if wish.counterpoise_m:
        clear += clear_lengths(avoid, wish.counterpoise_m, "counterpoise")
    return BandsPlan(
        files=around.files,
        kind=RANDOM_WIRE.name,
        aim=wish.aim,
        action="leave",
        reason=_reason(wish, avoid),
        loss_now_db=figure,
        loss_after_db=figure,
        loss_least_db=figure,
        moves=(),
        bands=rows,
        avoid=tuple(avoid),
        clear=tuple(clear),
        next_sweeps=again,
        findings=(*notice_line(seen), *notice_not_swept(rows), *notice_reviews(seen)),
        cautions=(POWER_OFF, "High voltage at the ends and at the box: keep people off the wire."),
        known_from="half waves of each place",
    )


def lengths_to_avoid(
    places: Sequence[Place], length_m: float, part: Literal["wire", "counterpoise"]
) -> list[Avoid]:
    """Lengths near half waves of the places, between half and twice the present one, rising."""
    low_m, high_m = (share * length_m for share in SPAN)
    margin = WIRE_MARGIN if part == "wire" else COUNTERPOISE_MARGIN
    found = []
    for place in places:
        longest_m, shortest_m = (WIRE_LENGTH * SPEED_OF_LIGHT_M_S / f for f in (place.low_hz, place.high_hz))
        for n in range(1, int(high_m / shortest_m + margin) + 2):
            # the end effect acts once, so n half waves are n times the half wave in air less what one end takes off
            extra = (n - 1) * 0.5 / WIRE_LENGTH + 1
            start_m = (extra - margin) * shortest_m
            stop_m = (extra + margin) * longest_m
            if stop_m <= low_m or start_m >= high_m:
                continue
            waves = "half a wave" if n == 1 else f"{n} half waves"
            why = f"near {waves}: thousands of ohms at the box"
            if part == "counterpoise":
                why = f"near {waves}: a voltage maximum at the box, so it is no counterpoise"
            found.append(
                Avoid(part, round(max(start_m, low_m), 3), round(min(stop_m, high_m), 3), place.name, why)
            )
    return sorted(found, key=lambda each: each.low_m)


def clear_lengths(
    avoid: Sequence[Avoid], length_m: float, part: Literal["wire", "counterpoise"]
) -> list[Clear]:
    """What is left of them."""
    low_m, high_m = (share * length_m for share in SPAN)
    clear, at_m = [], low_m
    for each in sorted((each for each in avoid if each.part == part), key=lambda each: each.low_m):
        if each.low_m - at_m > LEAST_M:
            clear.append(Clear(part, round(at_m, 3), round(each.low_m, 3)))
        at_m = max(at_m, each.high_m)
    if high_m - at_m > LEAST_M:
        clear.append(Clear(part, round(at_m, 3), round(high_m, 3)))
    return clear


def _reason(wish: RandomWish, avoid: Sequence[Avoid]) -> str:
    text = "a random wire is kept away from resonance on purpose and matched by a tuner: there is nothing to trim"
    near = [
        f"{name} is near half waves of {', '.join(spoilt)}"
        for name, part, length_m in (
            ("this one", "wire", wish.length_m),
            ("its counterpoise", "counterpoise", wish.counterpoise_m),
        )
        if length_m and (spoilt := _spoilt(avoid, part, length_m))
    ]
    return f"{text}; but {' and '.join(near)}: take a clear length" if near else text


def _spoilt(avoid: Sequence[Avoid], part: str, length_m: float) -> list[str]:
    """Places near whose half waves a length lies."""
    return list(
        dict.fromkeys(
            each.band for each in avoid if each.part == part and each.low_m < length_m < each.high_m
        )
    )


def _row(each: SeenPlace, one: Drawn | None, with_interval: bool) -> BandRow:
    if one is None:
        none = State.unknown(unseen(each.place))
        return row_of(each.place, none, none, "cannot_say", (), unseen(each.place))
    state = one.state.bare(with_interval)
    says = {
        "direct": "goes without a tuner",
        "tuner": "the tuner takes it",
        "no": "more than the tuner takes",
        "unknown": "cannot say",
    }[state.verdict]
    best_hz = state.best_hz.value
    where = "" if best_hz is None else f", best at {frequency_text(best_hz)}"
    return row_of(each.place, state, state, "same", (), f"{says}{where}")
