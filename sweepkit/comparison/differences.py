"""Differences between two sides, each given its place on the ladder of what explains it.

The difference is the mean over the blocks that both sides have (docs/compare.md), of quantities that act as factors
the mean factor, shown in the unit of the quantity at the middle of side a. Its interval comes from the intervals of
both sides by the method of variance estimates recovery [Zou and Donner 2008]; of two setups it is that of the
measurement, of groups it holds what putting up again adds as well, since the groups themselves are meant.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from sweepkit.antennas.rungs import LIMIT_SDS, LOW_RUNGS, RUNGS, WORDS, Body, Rung, is_rough
from sweepkit.comparison.arms import BLOCKS, Block, By
from sweepkit.comparison.scale import scale_of, sd_of_measurement, value_from_scale, value_on_scale
from sweepkit.comparison.setups import JUDGED, ComparedSetup
from sweepkit.comparison.smallest import Spread, spread_of_difference, usual_limit
from sweepkit.comparison.spread import TRADE_FREEDOM, Usual
from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure
from sweepkit.plain_types import HIDDEN

Verdict = Literal["same", "within", "different", "cannot_say"]
OTHERS = "all others"
LARGEST_LOG = 50.0  # keeps a limit that says nothing a number
MOST_PAIRED = 6  # sides of which all pairs are compared; of more, each with all others together
BANDWIDTH_SHARE = 0.2  # a dip that moves by this share of its 2:1 bandwidth matters; our choice
MATTERS = {"dip_hz": 0.01, "r_ohm": 0.2}  # more than this share always does; our choice
LEAST_MATTERS = 0.002  # less of a dip never does: a bandwidth may be near nothing; our choice
FOLLOWS = "it follows dip and R, which are judged"
UNTOLD = (
    "nobody told what lies between: --kept, --rejoined, --put-up-again, --same-site or setup.toml tells it"
)

Figures = Mapping[str, Mapping[str, Figure]]  # by setup, by quantity
Sums = dict[Block, FloatArray]  # number, value, squares of sd and of half widths below and above in its unit


@dataclass(frozen=True)
class Scale:
    """One rung, and whether the difference is beyond it.

    Parameters
    ----------
    what : Rung
        What lies between.
    limit : float
        What 95 % of the differences on that rung stay within; of groups without what their interval holds already,
        which leaves 0 of putting up again. [unit of the quantity]
    beyond : bool
        Whether the whole interval of the difference lies outside.
    """

    what: Rung
    limit: float
    beyond: bool


@dataclass(frozen=True)
class Difference:
    """What two sides differ by in one quantity.

    Parameters
    ----------
    quantity : str
        Name of docs/names.md.
    a, b : str
        Sides; the difference is b less a.
    difference : Figure
        In the unit of the quantity.
    usual_spread : float or None
        One standard deviation of the difference of alike sides on the rung that was told. [unit of the quantity]
    scales : tuple of Scale
        Every rung, the lowest first; empty for a figure that is not judged.
    told : Rung or None
        The rung that was told.
    matters : float or None
        What more than this means to an operator. [unit of the quantity]
    verdict : Verdict or None
        The answer; ``None`` for a figure that follows others.
    why : str
        In words.
    held_against : str
        Whose spread tells what is usual, in words; empty for a figure that is not judged.
    hides : str
        The change that would not show, in words, where it is ``within`` a rung that was told.
    """

    quantity: str
    a: str
    b: str
    difference: Figure
    usual_spread: float | None = None
    scales: tuple[Scale, ...] = ()
    told: Rung | None = None
    matters: float | None = None
    verdict: Verdict | None = None
    why: str = FOLLOWS
    held_against: str = field(default="", metadata=HIDDEN)
    hides: str = field(default="", metadata=HIDDEN)

    @property
    def limit(self) -> float | None:
        """Of the rung that was told."""
        return next((scale.limit for scale in self.scales if scale.what == self.told), None)

    @property
    def times(self) -> float:
        """Difference over what is usual: how unusual it is; 0 where nobody told what is."""
        return abs(self.difference.value or 0.0) / self.usual_spread if self.usual_spread else 0.0


@dataclass(frozen=True)
class Gap:
    """What is known of what lies between two sides."""

    told: Rung | None  # None where nobody told
    # whether what sites differ by is no part of the difference: the same sites, or sites are the question
    site_held: bool = True
    left: float = 1.0  # of the measurement's interval, since both sides share some of its errors
    groups: bool = False  # whether the sides stand for more than the setups in them


@dataclass(frozen=True)
class Side:
    """One side of a difference in one quantity: sums by block, and at how many sites."""

    label: str
    sums: Sums
    sites: int


def sums_of(setups: Iterable[ComparedSetup], quantity: str, figures: Figures, by: By, *, fine: int) -> Sums:
    """Sums over the setups of a side by block, in one of the divisions of ``BLOCKS``: 0 is the finest."""
    key = BLOCKS[by][fine]
    sums: Sums = {}
    for setup in setups:
        row = row_of(quantity, figures[setup.id][quantity])
        if row is not None:
            block = key(setup)
            sums[block] = sums[block] + row if block in sums else row
    return sums


def row_of(quantity: str, figure: Figure) -> FloatArray | None:
    """One setup's share of the sums; ``None`` without an answer."""
    value = value_on_scale(quantity, figure)
    if figure.value is None or math.isnan(value):
        return None
    low = figure.value if figure.low is None else figure.low
    high = figure.value if figure.high is None else figure.high
    return np.array(
        [
            1.0,
            value,
            sd_of_measurement(quantity, figure) ** 2,
            (figure.value - low) ** 2,
            (high - figure.value) ** 2,
        ]
    )


def judge(
    quantity: str,
    a: Side,
    b: Side,
    usual: Usual | None,
    gap: Gap,
    *,
    matters: float | None = None,
    barred: str | None = None,
) -> Difference:
    """The difference of two sides, its rungs and its verdict; only blocks of both sides count.

    ``matters`` is the relative difference that means something to an operator, ``barred`` why no verdict would mean
    anything.
    """
    blocks = [block for block in a.sums if block in b.sums]
    if not blocks:
        lacks = next((side.label for side in (a, b) if not side.sums), None)
        why = "they share no antenna" if lacks is None else f"{lacks} has none to hold against it"
        return _unsaid(quantity, a, b, Figure.none(why), why)
    of_a, of_b = (np.array([side.sums[block] for block in blocks]) for side in (a, b))
    mean_a, mean_b = of_a[:, 1:] / of_a[:, :1], of_b[:, 1:] / of_b[:, :1]
    shift = float((mean_b[:, 0] - mean_a[:, 0]).mean())
    base = float(np.mean([value_from_scale(quantity, value) for value in mean_a[:, 0]]))
    n = 1 / _shared(of_a[:, 0]), 1 / _shared(of_b[:, 0])
    value = base * math.expm1(shift) if scale_of(quantity) == "log" else shift
    held = _held_by_interval(usual, n, (a.sites, b.sites), gap)
    scatter = usual_limit(held) * abs(base)
    squares_a, squares_b = (gap.left**2 * mean[:, 2:].mean(axis=0) for mean in (mean_a, mean_b))
    shown = _interval(value, squares_a, squares_b, scatter)
    if quantity not in JUDGED:
        return Difference(quantity, a.label, b.label, shown)
    if barred is not None or usual is None:
        return _unsaid(quantity, a, b, shown, barred or "nobody knows what it usually differs by")
    spreads = {rung: on_rung(rung, usual, n, (a.sites, b.sites)) for rung in RUNGS}
    left_sd = {rung: math.sqrt(max(spreads[rung].sd ** 2 - held.sd**2, 0.0)) for rung in RUNGS}
    scales = tuple(
        _scale(
            rung, limit_sds(quantity, usual.body, rung, spreads[rung]) * left_sd[rung], quantity, base, shown
        )
        for rung in RUNGS
    )
    found = Difference(
        quantity=quantity,
        a=a.label,
        b=b.label,
        difference=shown,
        usual_spread=None if gap.told is None else base * spreads[gap.told].sd,
        scales=scales,
        told=gap.told,
        matters=base * min(MATTERS[quantity], max(LEAST_MATTERS, matters or 1.0)),
    )
    verdict, why, hides = _verdict(found)
    return replace(
        found,
        verdict=verdict,
        why=f"{why}; held against {usual.words}",
        held_against=usual.words,
        hides=hides,
    )


def limit_sds(quantity: str, body: Body, rung: Rung, difference: Spread) -> float:
    """Standard deviations that hold 95 % of the differences of a spread, of a rough one whatever it may be."""
    if not is_rough(quantity, body, rung):
        return LIMIT_SDS
    freedom = TRADE_FREEDOM if math.isinf(difference.freedom) else difference.freedom
    return usual_limit(Spread(1.0, freedom))


def on_rung(rung: Rung, usual: Usual, n: tuple[float, float], sites: tuple[int, int]) -> Spread:
    """Spread of the difference of two means on a rung, of so many setups at so many sites each."""
    if rung in LOW_RUNGS:
        return spread_of_difference(usual.swept if rung == "swept-again" else usual.joined, *n)
    outing = {"put-up-again": None, "another-site": usual.site, "other-ground": usual.other_site}[rung]
    at_sites = max(sites[0], 1), max(sites[1], 1)
    return spread_of_difference(usual.setup, *n, outing=outing, outings_a=at_sites[0], outings_b=at_sites[1])


def _held_by_interval(
    usual: Usual | None, n: tuple[float, float], sites: tuple[int, int], gap: Gap
) -> Spread:
    """What the interval of the difference of two groups holds besides the measurement; nothing for two setups."""
    if usual is None or not gap.groups:
        return Spread(0.0)
    low_rung = gap.told in LOW_RUNGS
    return on_rung(
        "joined-anew" if low_rung else "put-up-again" if gap.site_held else "another-site", usual, n, sites
    )


def _scale(rung: Rung, size: float, quantity: str, base: float, shown: Figure) -> Scale:
    """A rung in the unit of the quantity; beyond where the whole interval is further out."""
    value = shown.value or 0.0
    limit = _in_unit(quantity, size, base, value)
    low = value if shown.low is None else shown.low
    high = value if shown.high is None else shown.high
    return Scale(rung, limit, low > limit or high < -limit)


def _verdict(one: Difference) -> tuple[Verdict, str, str]:
    """The word that claims no more than the rungs do, why, and the change that would hide in it."""
    ends = [abs(end) for end in (one.difference.low, one.difference.high) if end is not None]
    furthest = max(ends, default=abs(one.difference.value or 0.0))
    matters, place = one.matters or 0.0, place_on_ladder(one.scales)
    if one.told is None:
        if furthest <= matters:
            return "within", f"{place}; too little to matter, whatever lies between", ""
        return "cannot_say", f"{place}; {UNTOLD}", ""
    told = next(scale for scale in one.scales if scale.what == one.told)
    if told.beyond:
        return "different", place, ""
    if furthest <= (min(told.limit, matters) if told.limit else matters):
        return "same", f"{place}; inside {WORDS[one.told]}, which was told, and too little to matter", ""
    # the rung may have taken back what something else did
    hides = in_words(one.quantity, told.limit + furthest)
    return "within", f"{place}; not shown different: up to {hides} would hide in it", hides


def inside_of(scales: Sequence[Scale]) -> Scale | None:
    """The lowest rung that explains a difference; of those that leave nothing to groups the highest."""
    inside = [scale for scale in scales if not scale.beyond]
    nothing_left = [scale for scale in inside if scale.limit == 0]
    return next(iter(nothing_left[-1:] or inside), None)


def place_on_ladder(scales: Sequence[Scale]) -> str:
    """Where a difference stands: what it is more than, what it is not more than."""
    beyond = [scale.what for scale in scales if scale.beyond]
    inside = inside_of(scales)
    more = f"more than {WORDS[beyond[-1]]} explains" if beyond else ""
    less = f"no more than {WORDS[inside.what]} explains" if inside else ""
    return ", ".join(part for part in (more, less) if part)


def in_words(quantity: str, size: float) -> str:
    """A size in the unit people use."""
    return (
        f"{size / 1e3:{'.3g' if size < 9.995e5 else '.0f'}} kHz"
        if quantity == "dip_hz"
        else f"{size:{'.2g' if size < 10 else '.0f'}} ohm"
    )


def _shared(n: FloatArray) -> float:
    """Variance of the mean over blocks, of that of one setup."""
    return float((1 / n).sum()) / n.size**2


def _interval(value: float, a: FloatArray, b: FloatArray, scatter: float) -> Figure:
    """A difference with its interval [Zou and Donner 2008], from squared half widths below and above."""
    below = math.sqrt(float(b[0] + a[1]) + scatter**2)
    above = math.sqrt(float(b[1] + a[0]) + scatter**2)
    if below == 0 and above == 0:
        return Figure(value)
    return Figure(value, value - below, value + above)


def _in_unit(quantity: str, size: float, base: float, side: float) -> float:
    """A size of the difference in the unit of the quantity, to the side it went; logarithms are lopsided."""
    if scale_of(quantity) == "plain":
        return size
    return base * abs(math.expm1(math.copysign(min(size, LARGEST_LOG), side)))


def _unsaid(quantity: str, a: Side, b: Side, shown: Figure, why: str) -> Difference:
    verdict: Verdict | None = "cannot_say" if quantity in JUDGED else None
    return Difference(quantity, a.label, b.label, shown, verdict=verdict, why=why)


def pair_sides(sides: int) -> list[tuple[int, int | None]]:
    """Which sides are compared: all pairs of a few; of many each with all others, which is ``None``."""
    if sides <= MOST_PAIRED:
        return [(k, m) for k in range(sides) for m in range(k + 1, sides)]
    return [(k, None) for k in range(sides)]


def pair_verdict(differences: Sequence[Difference]) -> Verdict:
    """The verdict of a pair of sides from those of its judged quantities: one that is different is enough."""
    told = {one.quantity: one.verdict for one in differences if one.verdict is not None}
    if "different" in told.values():
        return "different"
    if told.get("dip_hz") in ("cannot_say", None):
        return "cannot_say"
    said = set(told.values()) - {"cannot_say"}
    return "same" if said == {"same"} else "within"
