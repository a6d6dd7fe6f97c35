"""Differences between two sides, judged against what setups of an antenna usually differ by.

The difference is the mean over the blocks that both sides have (docs/compare.md), of quantities that act as factors
the mean factor, shown in the unit of the quantity at the middle of side a. Its interval is that of the
measurement alone, from the intervals of both sides by the method of variance estimates recovery [Zou and Donner 2008].
The verdict holds it against the usual spread. All figures of all pairs share one chance of 1 in 20 that alike setups
are called different (Bonferroni), so that whoever compares much does not see ghosts.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from sweepkit.comparison.arms import BLOCKS, Block, By
from sweepkit.comparison.scale import scale_of, sd_of_measurement, value_from_scale, value_on_scale
from sweepkit.comparison.setups import ComparedSetup
from sweepkit.comparison.smallest import (
    LEVEL,
    Spread,
    smallest_difference,
    spread_of_difference,
    usual_limit,
)
from sweepkit.comparison.spread import Usual
from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure

Verdict = Literal["same", "different", "cannot_say"]
OTHERS = "all others"
LARGEST_LOG = 50.0  # keeps a limit that says nothing a number
MOST_PAIRED = 6  # sides of which all pairs are compared; of more, each with all others together

Figures = Mapping[str, Mapping[str, Figure]]  # by setup, by quantity
Sums = dict[Block, FloatArray]  # number, value, squares of sd and of half widths below and above in its unit


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
        In the unit of the quantity, with the interval of the measurement.
    usual_spread : float or None
        One standard deviation of the difference of alike sides, in the unit of the quantity.
    limit, smallest_visible : float or None
        What alike sides stay within 19 times of 20, and what would be seen 4 times of 5. [unit of the quantity]
    verdict : {"same", "different", "cannot_say"}
        The answer.
    why : str
        In words.
    chance : float or None
        How often alike sides differ by as much. [-]
    """

    quantity: str
    a: str
    b: str
    difference: Figure
    usual_spread: float | None
    limit: float | None
    smallest_visible: float | None
    verdict: Verdict
    why: str
    chance: float | None

    def to_json(self) -> dict[str, Any]:
        """As promised, and what is more."""
        return vars(self) | {"difference": self.difference.to_json()}


@dataclass(frozen=True)
class Side:
    """One side of a difference in one quantity.

    Parameters
    ----------
    label : str
        Its name.
    sums : Sums
        By block.
    sites : int
        At how many sites.
    """

    label: str
    sums: Sums
    sites: int


def sums_of(setups: Iterable[ComparedSetup], quantity: str, figures: Figures, by: By, *, fine: int) -> Sums:
    """Sums over the setups of a side, by block.

    Parameters
    ----------
    setups : iterable of ComparedSetup
        Of one side.
    quantity : str
        Which figure.
    figures : mapping
        Of every setup.
    by : By
        What the comparison is about.
    fine : int
        Which division into blocks of ``BLOCKS``: 0 is the finest.
    """
    key = BLOCKS[by][fine]
    sums: Sums = {}
    for setup in setups:
        row = row_of(quantity, figures[setup.id][quantity])
        if row is not None:
            block = key(setup)
            sums[block] = sums[block] + row if block in sums else row
    return sums


def row_of(quantity: str, figure: Figure) -> FloatArray | None:
    """One setup's share of the sums; ``None`` without an answer.

    Parameters
    ----------
    quantity : str
        Which figure.
    figure : Figure
        Of one setup.
    """
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
    *,
    site_held: bool,
    level: float = LEVEL,
    barred: str | None = None,
) -> Difference:
    """The difference of two sides and its verdict.

    Parameters
    ----------
    quantity : str
        Which figure.
    a, b : Side
        The sides; only blocks of both count.
    usual : Usual or None
        What setups usually differ by.
    site_held : bool
        Whether what sites differ by is no part of it: the site is the same within each block, or it is the
        question.
    level : float
        Chance of calling alike sides different. [-]
    barred : str, optional
        Why no verdict would mean anything.

    Returns
    -------
    Difference
    """
    blocks = [block for block in a.sums if block in b.sums]
    if not blocks:
        lacks = next((side.label for side in (a, b) if not side.sums), None)
        why = "they share no antenna" if lacks is None else f"{lacks} has no such figure"
        return _nothing(quantity, a, b, why)
    of_a, of_b = (np.array([side.sums[block] for block in blocks]) for side in (a, b))
    mean_a, mean_b = of_a[:, 1:] / of_a[:, :1], of_b[:, 1:] / of_b[:, :1]
    shift = float((mean_b[:, 0] - mean_a[:, 0]).mean())
    base = float(np.mean([value_from_scale(quantity, value) for value in mean_a[:, 0]]))
    value = base * math.expm1(shift) if scale_of(quantity) == "log" else shift
    shown = _interval(value, mean_a[:, 2:].mean(axis=0), mean_b[:, 2:].mean(axis=0))
    if barred is not None:
        return _nothing(quantity, a, b, barred, shown)
    if usual is None:
        return _nothing(
            quantity, a, b, "nobody knows what it usually differs by; three setups would tell", shown
        )
    measured2 = float(mean_a[:, 1].mean() + mean_b[:, 1].mean())
    spread = _with_measurement(usual, measured2, _shared(of_a[:, 0]) + _shared(of_b[:, 0]))
    sites = max(a.sites, 1), max(b.sites, 1)
    total = spread_of_difference(
        spread,
        1 / _shared(of_a[:, 0]),
        1 / _shared(of_b[:, 0]),
        outing=None if site_held else usual.site,
        outings_a=sites[0],
        outings_b=sites[1],
    )
    limit = usual_limit(total, level=level)
    verdict: Verdict = "different" if abs(shift) > limit else "same"
    if verdict == "same" and not usual.own and 2 * measured2 > total.sd**2 > 0:
        verdict = "cannot_say"
    return Difference(
        quantity=quantity,
        a=a.label,
        b=b.label,
        difference=shown,
        usual_spread=total.sd * base if scale_of(quantity) == "log" else total.sd,
        limit=_in_unit(quantity, limit, base, shift),
        smallest_visible=_in_unit(quantity, smallest_difference(total, level=level), base, shift),
        verdict=verdict,
        why=_why(verdict, shift, limit, usual, site_held=site_held, level=level),
        chance=_chance(shift, total),
    )


def _with_measurement(usual: Usual, measured2: float, shared: float) -> Spread:
    """Spread of single setups with the measurement in it.

    An antenna's own setups were measured too, so that their spread has the measurement in it already; the trade's
    figure is of the antenna alone. The analyzer's error is the same in all sweeps and does not average out.
    """
    own = usual.setup
    if usual.own or measured2 == 0:
        return own
    whole = own.sd**2 + measured2 / shared
    return Spread(math.sqrt(whole), own.freedom * (whole / own.sd**2) ** 2 if own.sd else math.inf)


def _shared(n: FloatArray) -> float:
    """Variance of the mean over blocks, of that of one setup."""
    return float((1 / n).sum()) / n.size**2


def _interval(value: float, a: FloatArray, b: FloatArray) -> Figure:
    """A difference with its interval [Zou and Donner 2008], from squared half widths below and above."""
    below, above = math.sqrt(float(b[0] + a[1])), math.sqrt(float(b[1] + a[0]))
    if below == 0 and above == 0:
        return Figure(value)
    return Figure(value, value - below, value + above)


def _in_unit(quantity: str, size: float, base: float, shift: float) -> float:
    """A size of the difference in the unit of the quantity, to the side it went; logarithms are lopsided."""
    if scale_of(quantity) == "plain":
        return size
    return base * abs(math.expm1(math.copysign(min(size, LARGEST_LOG), shift)))


def _chance(shift: float, total: Spread) -> float:
    from scipy.special import ndtr, stdtr

    if total.sd == 0:
        return 0.0 if shift else 1.0
    at = -abs(shift) / total.sd
    return float(2 * (ndtr(at) if math.isinf(total.freedom) else stdtr(total.freedom, at)))


def _why(verdict: Verdict, shift: float, limit: float, usual: Usual, *, site_held: bool, level: float) -> str:
    against = usual.words
    if not site_held:
        sites = "this antenna's own sites" if usual.site_own else "what sites usually differ by"
        against = f"{against}, and {sites}"
    held = f"held against {against}"
    times = f"alike ones stay within it {100 * (1 - level):.3g} times of 100"
    if verdict == "different":
        return f"{abs(shift) / limit:.2g} times the limit; {held}: {times}"
    if verdict == "same":
        return f"within the limit; {held}: {times}"
    return f"the sweeps are less sure than setups differ; a finer sweep would tell; {held}"


def _nothing(quantity: str, a: Side, b: Side, why: str, shown: Figure | None = None) -> Difference:
    return Difference(
        quantity, a.label, b.label, shown or Figure.none(why), None, None, None, "cannot_say", why, None
    )


def pair_sides(sides: int) -> list[tuple[int, int | None]]:
    """Which sides are compared: all pairs of a few; of many each with all others, which is ``None``.

    Parameters
    ----------
    sides : int
        Two or more.
    """
    if sides <= MOST_PAIRED:
        return [(k, m) for k in range(sides) for m in range(k + 1, sides)]
    return [(k, None) for k in range(sides)]


def pair_verdict(differences: Sequence[Difference]) -> Verdict:
    """The verdict of a pair of sides from those of its quantities.

    Parameters
    ----------
    differences : sequence of Difference
        Of one pair. Their levels share the 1 in 20, so that one that is different is enough.
    """
    if any(difference.verdict == "different" for difference in differences):
        return "different"
    is_judged = any(one.quantity == "dip_hz" and one.verdict == "same" for one in differences)
    return "same" if is_judged else "cannot_say"
