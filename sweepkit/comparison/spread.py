"""By how much setups of one antenna differ on each rung: its own re-erections, shrunk towards the trade's figure.

The model is a mixed one: value = antenna + site + setup, sites and setups random. Inside a site the spread of setups
is the pooled one; what sites add comes from the means of sites, by moments. Each variance v with n degrees of freedom
is then shrunk towards the trade's v0, (w v0 + n v) / (w + n): the mean of the variance after the data, where before
them it has an inverse chi-squared distribution with w + 2 degrees of freedom and mean v0. So no number of setups makes
a step: none gives the trade's figure, many the antenna's own.
Sweeping again and joining anew follow the same rule, from sweeps of a setup of which the log tells that nothing else
was done before them: a difference d of two is d^2 / 2 with one degree of freedom.
Source: Gelman et al., Bayesian Data Analysis, 3rd ed., 2013, section 2.6 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from types import MappingProxyType
from typing import Any

import numpy as np

from sweepkit.antennas.rungs import Body, Rung, body_of_kind, trade_sd
from sweepkit.comparison.arms import UNKNOWN_SITE, site_key
from sweepkit.comparison.setups import CommonDip, ComparedSetup, figures_at, geometry_of
from sweepkit.comparison.smallest import (
    Spread,
    freedom_of_guess,
    setups_needed,
    smallest_difference,
    spread_of_difference,
)
from sweepkit.figures import Figure
from sweepkit.reviews.summary import PlaneName

GUESS_DOUBT = 0.25  # how well the trade's figures are known, relative; our choice
TRADE_FREEDOM = freedom_of_guess(GUESS_DOUBT)
TRADE_WEIGHT = TRADE_FREEDOM - 2  # degrees of freedom that the trade's variance stands for
LEAST_SITES = 3  # sites whose means say anything of what sites add; of two it would be one number

STEPS: Mapping[str, Rung] = {"kept": "swept-again", "rejoined": "joined-anew"}  # words of the field ``since``

Cell = tuple[Any, ...]
# Relative differences that are worth asking for: a few, some and many percent.
ASKED = {
    "dip_hz": (0.005, 0.01, 0.02),
    "r_ohm": (0.1, 0.2, 0.5),
    "q": (0.1, 0.2, 0.5),
    "bandwidth_hz": (0.1, 0.2, 0.5),
}


@dataclass(frozen=True)
class Usual:
    """The spread of one quantity on each rung, on the scale of the analysis, of one setup."""

    swept: Spread  # of sweeps of a setup that nobody touched
    joined: Spread  # of a setup that was joined anew
    setup: Spread  # of setups at one site
    site: Spread  # what sites add to it
    other_site: Spread  # what sites with another ground or height add
    own: float  # degrees of freedom with which the antenna's own setups enter; 0: the trade's figure alone
    body: Body  # whose figure the trade's is

    @property
    def words(self) -> str:
        """What ``setup`` is the spread of, for people."""
        trade = f"what practice says of {'an' if self.body == 'end-fed' else 'a'} {self.body}"
        if not self.own:
            return trade
        return f"own setups and {trade}"


def body_of(setups: Iterable[ComparedSetup]) -> Body:
    """What the antennas are, the one with the widest spread."""
    bodies = {body_of_kind(setup.facts.get("kind")) for setup in setups}
    order: tuple[Body, ...] = ("whip", "end-fed", "wire")
    return next((body for body in order if body in bodies), "whip")


class Reerections:
    """The values of one quantity, NaN for none, in setups that differ by nothing but having been put up again.

    ``steps``: sum of squares of one sweep, and degrees of freedom, by what the log says lay between two of a setup.
    """

    def __init__(
        self,
        setups: Sequence[ComparedSetup],
        values: Sequence[float],
        steps: Mapping[Rung, tuple[float, float]] = MappingProxyType({}),
    ) -> None:
        self.steps = steps
        known = [
            (setup, value)
            for setup, value in zip(setups, values, strict=True)
            if setup.told and value == value
        ]
        self._middle = float(np.mean([value for _, value in known])) if known else 0.0
        self._cells: dict[Cell, list[float]] = {}
        self._own: dict[str, tuple[Cell, float]] = {}
        for setup, value in known:
            cell = (setup.antenna, site_key(setup), *geometry_of(setup))
            centred = value - self._middle
            self._own[setup.id] = cell, centred
            sums = self._cells.setdefault(cell, [0.0, 0.0, 0.0])
            for power in range(3):
                sums[power] += centred**power
        self._squares = sum(_squares(sums) for sums in self._cells.values())
        self._freedom = sum(max(sums[0] - 1, 0) for sums in self._cells.values())

    def setup_squares(self, *, without: Iterable[str] = ()) -> tuple[float, float]:
        """Sum of squares of setups round the mean of their site, and its degrees of freedom.

        ``without``: setups that are being judged and so are no part of what they are judged by.
        """
        squares, freedom = self._squares, self._freedom
        for sums, less in self._changed(without):
            squares += _squares(less) - _squares(sums)
            freedom += max(less[0] - 1, 0) - max(sums[0] - 1, 0)
        return max(squares, 0.0), freedom

    def site_squares(self, setup_sd: float, *, without: Iterable[str] = ()) -> tuple[float, float]:
        """Sum of squares of what sites add, and its degrees of freedom; by moments, 0 or more."""
        less = {id(sums): left for sums, left in self._changed(without)}
        sites: dict[Any, list[tuple[float, float]]] = {}
        for cell, sums in self._cells.items():
            n, total, _ = less.get(id(sums), sums)
            if n > 0.5 and not cell[1].startswith(UNKNOWN_SITE):
                sites.setdefault((cell[0], *cell[2:]), []).append((total / n, setup_sd**2 / n))
        squares, freedom = 0.0, 0.0
        for means in sites.values():
            if len(means) >= LEAST_SITES:
                n_less_1 = len(means) - 1
                noise = n_less_1 * float(np.mean([part for _, part in means]))
                squares += float(np.var([mean for mean, _ in means])) * len(means) - noise
                freedom += n_less_1
        return max(squares, 0.0), freedom

    def _changed(self, without: Iterable[str]) -> list[tuple[list[float], list[float]]]:
        """Sums of each cell that loses setups, as they are and as they are left."""
        out: dict[Cell, list[float]] = {}
        for name in without:
            if name in self._own:
                cell, value = self._own[name]
                out.setdefault(cell, []).append(value)
        return [
            (
                self._cells[cell],
                [self._cells[cell][power] - sum(value**power for value in values) for power in range(3)],
            )
            for cell, values in out.items()
        ]


def find_usual(
    quantity: str, spread: Reerections, body: Body, *, without: Iterable[str] = ()
) -> Usual | None:
    """The spread on each rung; ``None`` for a quantity that the trade has no figure for."""

    def trade(rung: Rung) -> float:
        return trade_sd(quantity, body, rung) or 0.0

    put_up = trade("put-up-again")
    if not put_up:
        return None
    left_out = tuple(without)
    squares, own = spread.setup_squares(without=left_out)
    setup = _shrunk(put_up**2, squares, own)
    site_squares, own_sites = spread.site_squares(setup.sd, without=left_out)
    return Usual(
        swept=_of_steps(trade("swept-again"), spread.steps.get("swept-again")),
        joined=_of_steps(trade("joined-anew"), spread.steps.get("joined-anew")),
        setup=setup,
        site=_shrunk(trade("another-site") ** 2 - put_up**2, site_squares, own_sites),
        other_site=_shrunk(trade("other-ground") ** 2 - put_up**2, site_squares, own_sites),
        own=own,
        body=body,
    )


def squares_of_steps(
    setups: Iterable[ComparedSetup], values: Mapping[str, Sequence[float]]
) -> dict[Rung, tuple[float, float]]:
    """Sum of squares and degrees of freedom of each rung that was told between sweeps of a setup.

    ``values``: of each sweep of a setup, by its id, on the scale of the analysis; NaN where there is none.
    """
    found: dict[Rung, tuple[float, float]] = {}
    for setup in setups:
        for word, (before, after) in zip(setup.steps[1:], pairwise(values.get(setup.id, ())), strict=False):
            rung = STEPS.get(word or "")
            if rung is not None and before == before and after == after:
                squares, freedom = found.get(rung, (0.0, 0.0))
                found[rung] = squares + (after - before) ** 2 / 2, freedom + 1
    return found


def _of_steps(trade_sd: float, own: tuple[float, float] | None) -> Spread:
    return Spread(trade_sd) if own is None else _shrunk(trade_sd**2, *own)


def _shrunk(trade: float, squares: float, freedom: float) -> Spread:
    """A variance of the trade's and an own one as one spread."""
    variance = (TRADE_WEIGHT * trade + squares) / (TRADE_WEIGHT + freedom)
    return Spread(math.sqrt(variance), TRADE_FREEDOM + freedom)


def _squares(sums: Sequence[float]) -> float:
    """Sum of squares about the mean, from count, sum and sum of squares."""
    return max(sums[2] - sums[1] ** 2 / sums[0], 0.0) if sums[0] > 0 else 0.0


@dataclass(frozen=True)
class Needed:
    """A relative difference, and how many setups of each side would show it; ``None``: more than anybody puts up."""

    difference: float
    setups_each: int | None


@dataclass(frozen=True)
class Outlook:
    """What setups of one antenna at one site would show of one quantity.

    ``quantity``: name of docs/names.md.
    ``smallest_one_each``: smallest relative difference of two single setups that would be seen 4 times of 5. [-]
    ``needed``: for each difference that is asked for.
    """

    quantity: str
    smallest_one_each: float
    needed: tuple[Needed, ...]
    rests_on: str


def describe_outlook(usual: Mapping[str, Usual | None]) -> tuple[Outlook, ...]:
    """What could be seen of each quantity."""
    found = []
    for name, asked in ASKED.items():
        spread = usual.get(name)
        if spread is None:
            continue
        one = smallest_difference(spread_of_difference(spread.setup, 1, 1))
        needed = tuple(Needed(share, setups_needed(spread.setup, math.log1p(share))) for share in asked)
        found.append(Outlook(name, math.expm1(one), needed, spread.words))
    return tuple(found)


def sweep_by_sweep(
    everything: Sequence[ComparedSetup],
    plane: PlaneName | None,
    common: Mapping[str | None, CommonDip | None],
) -> dict[str, list[dict[str, Figure]]]:
    """Figures of the single sweeps of those setups of which the log tells what lay between two of them."""
    return {
        one.id: [
            figures_at(replace(one, sweeps=(sweep,)), plane, common[one.antenna]) for sweep in one.sweeps
        ]
        for one in everything
        if any(word in STEPS for word in one.steps[1:])
    }
