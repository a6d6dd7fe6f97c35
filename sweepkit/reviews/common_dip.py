"""Which dip of one sweep is the dip of another one, after it moved, and whether both may be of one setup.

By its neighbours, its depth and how far it is. A length moves every dip of an antenna by the same factor, so the shift
to believe is the one that brings the other dips along too. It must be the best both ways, and the sweeps must overlap:
else each shows another part of the antenna, and nothing of a shift. Of sweeps that are said to show one state, one must
cover the place where the other has its dip.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from sweepkit.antennas.rungs import WORDS, Body, Rung, trade_limit
from sweepkit.figures import Figure
from sweepkit.reviews.summary import DipSummary, PlaneName, Summary

MOST_LOG = math.log(
    1.25
)  # radials, taps, coils and lengths move a dip by as much; bands are mostly further apart
PLANES: tuple[PlaneName, ...] = ("feedpoint", "radio", "unknown")
NO_NEIGHBOUR = 0.06  # a neighbour that does not come along counts as so large a shift more; our choice
DEPTH = 0.2  # depths apart by all of the reflection count as so large a shift more; our choice
EDGE_SHARE = 0.02  # a dip nearer to the end of the other sweep may lie beyond it; our choice

Quantity = Literal["dip_hz", "r_ohm"]
JUDGED: tuple[Quantity, ...] = ("dip_hz", "r_ohm")  # what tells states apart, the dip first
Place = tuple[float, float]  # of a dip: logarithm of its frequency, and its reflection


def find_common_dip(
    a: Summary, b: Summary, *, near_hz: float | None = None
) -> tuple[DipSummary, DipSummary] | None:
    """The deepest dip of ``a`` that ``b`` has too or would have, or the nearest to ``near_hz``, and that of ``b``.

    ``None`` where there is none.
    """
    plane = next((name for name in PLANES if name in a.planes and name in b.planes), None)
    if plane is None:
        return None
    for dip in nearest_first(a.planes[plane], near_hz):
        twin = match_dip(dip, a, b, planes=(plane, plane))
        if twin is not None and (_covers(b, dip) or _covers(a, twin)):
            return dip, twin
    return None


def nearest_first(dips: Sequence[DipSummary], near_hz: float | None) -> list[DipSummary]:
    """Dips that are known by their distance from a frequency; as they come where there is none."""
    if near_hz is None:
        return _known(dips)
    return sorted(_known(dips), key=lambda dip: abs(math.log((dip.dip_hz.value or 1.0) / near_hz)))


def match_dip(
    dip: DipSummary, a: Summary, b: Summary, *, planes: tuple[PlaneName, PlaneName]
) -> DipSummary | None:
    """The dip of ``b`` that is a dip of ``a``, wherever it moved to."""
    in_a, in_b = (_known(sweep.planes.get(plane, ())) for sweep, plane in zip((a, b), planes, strict=True))
    if dip.dip_hz.value is None or not in_b or max(a.start_hz, b.start_hz) > min(a.stop_hz, b.stop_hz):
        return None
    place = _place(dip)
    places_a, places_b = [_place(one) for one in in_a], [_place(one) for one in in_b]
    number = _best(place, places_a, places_b, b)
    if number is None:
        return None
    back = _best(places_b[number], places_b, places_a, a)
    if back is None or in_a[back] is not dip:
        return None
    return in_b[number]


def _best(place: Place, own: Sequence[Place], others: Sequence[Place], sweep: Summary) -> int | None:
    """Which of the others, dips of the sweep, costs least; ``None`` where all are too far away."""
    ends = math.log(max(sweep.start_hz, 1.0)), math.log(sweep.stop_hz)
    costs = [
        (_cost(place, other, own, others, ends), number)
        for number, other in enumerate(others)
        if abs(other[0] - place[0]) <= MOST_LOG
    ]
    return min(costs)[1] if costs else None


def _cost(
    place: Place, other: Place, own: Sequence[Place], others: Sequence[Place], ends: tuple[float, float]
) -> float:
    """How much would have had to change: the shift, the depth, and neighbours that did not come along, if swept."""
    shift = other[0] - place[0]
    strays = 0.0
    for neighbour in own:
        moved = neighbour[0] + shift
        if neighbour != place and ends[0] <= moved <= ends[1]:
            strays += min(min(abs(one[0] - moved) for one in others), NO_NEIGHBOUR)
    return abs(shift) + DEPTH * abs(other[1] - place[1]) + strays


def _known(dips: Iterable[DipSummary]) -> list[DipSummary]:
    return [dip for dip in dips if dip.dip_hz.value is not None]


def _place(dip: DipSummary) -> Place:
    swr = dip.dip_swr.value
    return math.log(dip.dip_hz.value or 1.0), 1.0 if swr is None else (swr - 1) / (swr + 1)


def _covers(sweep: Summary, dip: DipSummary) -> bool:
    edge_hz = EDGE_SHARE * (sweep.stop_hz - sweep.start_hz)
    return sweep.start_hz + edge_hz < (dip.dip_hz.value or 0.0) < sweep.stop_hz - edge_hz


@dataclass(frozen=True)
class Disagreement:
    """Two sweeps, by name, of one setup that are not of one antenna in one state, by more than a rung explains.

    ``a_value``, ``b_value``: the dip of each, or its R, as ``quantity`` says.
    """

    a: str
    b: str
    a_value: float
    b_value: float
    rung: Rung = "joined-anew"
    quantity: Quantity = "dip_hz"

    @property
    def text(self) -> str:
        """For people."""
        shift, beyond = self.b_value - self.a_value, f"more than {WORDS[self.rung]} explains"
        way = "below" if shift < 0 else "above"
        if self.quantity == "r_ohm":
            return (
                f"R at the dip of {self.b} is {abs(shift):.0f} ohm {way} that of {self.a} ({self.b_value:.1f} and "
                f"{self.a_value:.1f} ohm): {beyond}; a joint, wet ground, or another antenna? They are not taken "
                "together"
            )
        return (
            f"the dip of {self.b} is {abs(shift) / 1e3:.0f} kHz {way} that of {self.a} "
            f"({self.b_value / 1e6:.3f} and {self.a_value / 1e6:.3f} MHz): {beyond}; another "
            "length, or another antenna? They are not taken together"
        )


def find_disagreement(
    a: Summary, b: Summary, names: tuple[str, str], *, body: Body, rung: Rung = "joined-anew"
) -> Disagreement | None:
    """The first dip that both sweeps cover and show differently, in place or R, by more than a rung explains."""
    pair = find_common_dip(a, b)
    if pair is None:
        return None
    for quantity in JUDGED:
        one, other = (getattr(dip, quantity) for dip in pair)
        if is_beyond(quantity, one, other, body=body, rung=rung):
            return Disagreement(*names, one.value, other.value, rung, quantity)
    return None


def is_beyond(quantity: Quantity, a: Figure, b: Figure, *, body: Body, rung: Rung) -> bool:
    """Whether two figures of one dip are further apart than a rung and both intervals explain.

    An R without an interval is not judged: what line and analyzer add to it is not known.
    """
    if not a.value or not b.value or (quantity == "r_ohm" and None in (a.low, b.low)):
        return False
    ends = [(one.low or one.value or 1.0, one.high or one.value or 1.0) for one in (a, b)]
    widths = [max(math.log(high / low), 0.0) / 2 for low, high in ends]
    return abs(math.log(b.value / a.value)) - math.hypot(*widths) > trade_limit(quantity, body, rung)
