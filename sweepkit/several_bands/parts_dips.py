"""Which dip belongs to which part: by kind and length, never by rank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from sweepkit.errors import BadInput
from sweepkit.quantities import FOOT_M, SPEED_OF_LIGHT_M_S, frequency_text, length_text
from sweepkit.several_bands.fan_model import OVERTONE
from sweepkit.several_bands.parts_told import SHARES, TITLES, PartsKind, PartsWish
from sweepkit.several_bands.seen import SeenAll, SeenPlace
from sweepkit.trim.dip import DipEnsemble

UNSEEN_COST = 1.0  # of a part to which no dip is given; above any that fits
# A pair's own dip is deep; a longer pair's third overtone makes a shallow one near it.
SHALLOW, OVERTONE_WIDTH, OVERTONE_COST = 0.04, 0.03, 0.02


def dips_of_parts(seen: SeenAll, wish: PartsWish) -> dict[str, DipEnsemble]:
    """The dip of each place, by kind and length; where all sweeps show all, a longer part dips below a shorter."""
    low, high, middle = SHARES[wish.kind]
    costs: dict[str, dict[float, tuple[float, DipEnsemble]]] = {}
    for each in seen.places:
        if each.file is None:
            continue
        length_m = wish.lengths_m[each.place.name]
        longer = [  # where the longer pairs dip
            middle * SPEED_OF_LIGHT_M_S / size for size in wish.lengths_m.values() if size > 1.5 * length_m
        ]
        own = each.file.seen.dips if wish.kind == "linked" else [dip for _, dip in seen.dips()]
        for dip in own:
            share = dip.measured_hz * length_m / SPEED_OF_LIGHT_M_S
            if low <= share <= high:
                cost = abs(float(np.log(share / middle))) + SHALLOW * float(np.log(dip.swr[0]))
                if any(abs(np.log(dip.measured_hz / other / OVERTONE)) < OVERTONE_WIDTH for other in longer):
                    cost += OVERTONE_COST
                costs.setdefault(each.place.name, {})[dip.measured_hz] = (cost, dip)
    if wish.kind == "linked":  # each from its own sweep
        chosen = {name: min(own.values(), key=lambda one: one[0])[1] for name, own in costs.items()}
    else:
        by_length = sorted(costs, key=lambda name: -wish.lengths_m[name])
        chosen = {name: costs[name][f_hz][1] for name, f_hz in _in_order(by_length, costs, 0.0)[1]}
    for each in seen.places:
        if each.place.name not in chosen and each.file is not None:
            _refuse_length(each, wish)
    return chosen


def _in_order(
    names: Sequence[str], costs: Mapping[str, Mapping[float, tuple[float, DipEnsemble]]], above_hz: float
) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Of all ways to give each part, longest first, a dip above the one before or none, that of the least cost."""
    if not names:
        return 0.0, ()
    first, rest = names[0], names[1:]
    without, given = _in_order(rest, costs, above_hz)
    best = (UNSEEN_COST + without, given)
    for f_hz, (cost, _) in costs[first].items():
        if f_hz > above_hz:
            more, given = _in_order(rest, costs, f_hz)
            best = min(best, (cost + more, ((first, f_hz), *given)))
    return best


def _refuse_length(each: SeenPlace, wish: PartsWish) -> None:
    """A dip of that length must show in this sweep, and does not."""
    assert each.file is not None
    low, high, _ = SHARES[wish.kind]
    name, length_m = each.place.name, wish.lengths_m[each.place.name]
    f_hz = each.file.view.f_hz
    low_hz, high_hz = (share * SPEED_OF_LIGHT_M_S / length_m for share in (low, high))
    shown = [dip.measured_hz for dip in each.file.seen.dips]
    elsewhere = high_hz < 0.88 * each.place.low_hz or low_hz > 1.12 * each.place.high_hz
    if not elsewhere and not (f_hz[0] <= low_hz and high_hz <= f_hz[-1]):
        return
    near_hz = min(shown, key=lambda f: abs(np.log(f / each.place.middle_hz)), default=each.place.middle_hz)
    asked = "is that the total? give one leg" if _fits(wish.kind, length_m / 2, near_hz) else ""
    if not asked and _fits(wish.kind, length_m * FOOT_M, near_hz):
        asked = f"is that feet? write '{name}={length_m:g} ft'"
    low_m, high_m = (share * SPEED_OF_LIGHT_M_S / near_hz for share in (low, high))
    raise BadInput(
        f"a leg of {length_text(length_m)} for {name} belongs to no dip of {TITLES[wish.kind]}; for the dip at "
        f"{frequency_text(near_hz)} one of {length_text(low_m)} to {length_text(high_m)} was expected; "
        f"{asked or 'check the lengths (one leg, feed to end; feet or metres), the places and the kind'}"
    )


def _fits(kind: PartsKind, length_m: float, f_hz: float) -> bool:
    low, high, _ = SHARES[kind]
    return low <= length_m * f_hz / SPEED_OF_LIGHT_M_S <= high
