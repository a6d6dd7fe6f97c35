"""What a wire cannot give within reach, and which knob or which other wire would."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text, length_text
from sweepkit.several_bands.answer import BandRow, FeedEnd
from sweepkit.several_bands.seen import REACH
from sweepkit.several_bands.wire_drawn import Wire

NOT_BELOW_SWR = 3.0  # what a place must get below somewhere within reach to be one of the wire's


def rebuild(wire: Wire, index: int) -> list[Finding]:
    """The best lies at the end of what a move reaches."""
    change_m = wire.losses.change_m
    shown = np.flatnonzero(np.isfinite(wire.losses.of(wire.wish.aim)[0]))
    if not shown.size or index not in (0, change_m.size - 1):
        return []
    length_m = wire.wish.length_m + float(change_m[index])
    try_m = _length_to_try(wire, length_m)
    return [
        Finding(
            "rebuild",
            "warning",
            f"the best length lies beyond {length_text(length_m)}, further than trimming reaches "
            f"({REACH[0]:.0%} to {REACH[1]:.0%} of the present length)",
            f"begin anew with about {length_text(try_m)}, and sweep that",
        )
    ]


def comes_near(wire: Wire, full_m: float) -> bool:
    """Whether a dip is near any place, now or after the move."""
    then = wire.ln_change(full_m)[:, 0]
    return any(
        wire.followed.near(each.place.middle_hz) is not None or wire.dip_at(each.place, then)[0] is not None
        for each in wire.places
    )


def far_off(wire: Wire) -> Finding:
    """No half wave comes near any place: that is another wire's task."""
    names = ", ".join(each.place.name for each in wire.places)
    place = max((each.place for each in wire.places), key=lambda place: place.weight)
    lowest_hz = _lowest_hz(wire)
    step = "name places that its half waves come near"
    if lowest_hz is not None:
        step += f", or begin anew with about {length_text(wire.wish.length_m * lowest_hz / place.middle_hz)}"
    return Finding("rebuild", "warning", f"no half wave of this wire comes near {names}", step)


def _lowest_hz(wire: Wire) -> float | None:
    """The lowest dip that is the wire's alone."""
    return min((dip.dip.measured_hz for dip in wire.followed.dips if dip.moved_by == ("wire",)), default=None)


def _length_to_try(wire: Wire, end_m: float) -> float:
    """By the dip of the place that matters most, in proportion."""
    place = max((seen.place for seen in wire.places), key=lambda place: place.weight)
    near = min(
        wire.followed.dips,
        key=lambda dip: abs(np.log(dip.dip.measured_hz / place.middle_hz)),
        default=None,
    )
    if near is None:
        return end_m
    by_dip = wire.wish.length_m * near.dip.measured_hz / place.middle_hz
    beyond = by_dip < end_m if end_m < wire.wish.length_m else by_dip > end_m
    return by_dip if beyond else end_m


def feed_end(wire: Wire, rows: Sequence[BandRow]) -> list[FeedEnd]:
    """For places above the lowest whose dip the wire leaves outside them."""
    found = []
    lowest_hz = _lowest_hz(wire)
    for row in rows:
        dip = row.after.dip_hz
        if dip.value is None or "wire" not in row.moved_by or row.now.dip_hz.value in (None, lowest_hz):
            continue
        low, high = (dip.value if end is None else end for end in (dip.low, dip.high))
        where = f"after the move its dip is at {frequency_text(dip.value)}"
        if low > row.high_hz:
            text = (
                f"{where}, above the place; a small coil near the feed end lowers it, the lowest dip hardly"
            )
            found.append(FeedEnd(row.name, "coil", "lower", text))
        elif high < row.low_hz:
            text = f"{where}, below the place; a capacitor in series near the feed end raises it"
            found.append(FeedEnd(row.name, "capacitor", "raise", text))
    return found


def not_by_wire(wire: Wire, set_aside: str | None) -> tuple[str, ...]:
    """Places that no length within reach brings below 3:1, and the one that a move has set aside."""
    said = [f"{set_aside}: no length surely betters it; the move is for the others."] if set_aside else []
    low_m, high_m = (wire.wish.length_m * share for share in REACH)
    limit_db = -10 * np.log10(1 - ((NOT_BELOW_SWR - 1) / (NOT_BELOW_SWR + 1)) ** 2)
    for place, loss_db in zip(wire.places, wire.losses.loss_db[:, 0], strict=True):
        if np.isfinite(loss_db).all() and loss_db.min() > limit_db:
            said.append(
                f"{place.place.name}: not by the wire. No length from {low_m:.1f} to {high_m:.1f} m brings it "
                f"below {NOT_BELOW_SWR:g}:1."
            )
    return tuple(said)
