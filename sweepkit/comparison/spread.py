"""What setups of one antenna usually differ by: its own re-erections where there are enough, else the trade's."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

import numpy as np

from sweepkit.comparison.setups import ComparedSetup, geometry_of
from sweepkit.comparison.smallest import Spread, freedom_of_guess

TABLE = Path(__file__).parents[1] / "data" / "usual_spread.csv"
GUESS_DOUBT = 0.25  # how well the trade's figures are known, relative; our choice
LEAST_FREEDOM = 2  # three re-erections
LEAST_SITES = 6  # of fewer, what the trade says of sites is the better known figure
LIKE_R = ("q", "bandwidth_hz")  # at a resonance Q is X'/R and the bandwidth R/X': they spread as R does

Repeated = Literal["reconnected", "re-erected", "new-site", "new-site-other-radials"]
Body = Literal["wire", "whip"]
Cell = tuple[Any, ...]

WORDS: dict[Repeated, str] = {
    "reconnected": "joined anew",
    "re-erected": "put up again at one site",
    "new-site": "put up at another site",
    "new-site-other-radials": "put up at another site with radials laid otherwise",
}


@dataclass(frozen=True)
class Usual:
    """The usual spread of one quantity, on the scale of the analysis.

    Parameters
    ----------
    setup : Spread
        Of setups at one site, one standard deviation.
    site : Spread
        What sites add to it.
    own : bool
        From this antenna's own setups, or the trade's.
    site_own : bool
        The same for what sites add.
    words : str
        What ``setup`` is the spread of, for people.
    """

    setup: Spread
    site: Spread
    own: bool
    site_own: bool
    words: str


@cache
def _table() -> Mapping[tuple[str, str], Mapping[str, float]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {
            (row["repeated"], row["antenna"]): {
                name: float(row[name]) for name in ("dip_hz", "r_ohm", "dip_swr")
            }
            for row in csv.DictReader(file)
        }


def body_of(setups: Iterable[ComparedSetup]) -> Body:
    """Wire or whip; a kind that nobody told may be a whip, whose spread is the wider.

    Parameters
    ----------
    setups : iterable of ComparedSetup
        Those that are compared.
    """
    kinds = {setup.facts.get("kind") for setup in setups}
    return "wire" if kinds and not kinds & {None, "loaded-whip"} else "whip"


def trade_usual(
    quantity: str, body: Body, *, repeated: Repeated, at_site: Repeated = "new-site"
) -> Usual | None:
    """The usual spread of the trade.

    Parameters
    ----------
    quantity : str
        Name of docs/names.md.
    body : {"wire", "whip"}
        What the antenna is.
    repeated : Repeated
        What was done between the setups, at one site.
    at_site : Repeated
        What is done between sites.

    Returns
    -------
    Usual or None
        ``None`` for a quantity that the trade has no figure for.
    """
    name = "r_ohm" if quantity in LIKE_R else quantity
    same = _table()[repeated, body].get(name)
    other = _table().get((at_site, body), _table()["new-site", body]).get(name)
    if same is None or other is None:
        return None
    freedom = freedom_of_guess(GUESS_DOUBT)
    site = math.sqrt(max(other**2 - _table()["re-erected", body][name] ** 2, 0.0))
    words = f"a {body} {WORDS[repeated]}, from practice"
    return Usual(Spread(same, freedom), Spread(site, freedom), own=False, site_own=False, words=words)


class Reerections:
    """The values of one quantity in setups that differ by nothing but having been put up again.

    Parameters
    ----------
    setups : sequence of ComparedSetup
        All there are of the antennas that are compared.
    values : sequence of float
        One for each, on the scale of the analysis; NaN where there is none.
    """

    def __init__(self, setups: Sequence[ComparedSetup], values: Sequence[float]) -> None:
        known = [
            (setup, value)
            for setup, value in zip(setups, values, strict=True)
            if setup.told and value == value
        ]
        self._middle = float(np.mean([value for _, value in known])) if known else 0.0
        self._cells: dict[Cell, list[float]] = {}
        self._own: dict[str, tuple[Cell, float]] = {}
        for setup, value in known:
            cell = (setup.antenna, setup.site, *geometry_of(setup))
            centred = value - self._middle
            self._own[setup.id] = cell, centred
            sums = self._cells.setdefault(cell, [0.0, 0.0, 0.0])
            for power in range(3):
                sums[power] += centred**power
        self._squares = sum(_squares(sums) for sums in self._cells.values())
        self._freedom = sum(max(sums[0] - 1, 0) for sums in self._cells.values())

    def spread(self, *, without: Iterable[str] = ()) -> Spread | None:
        """Pooled spread of setups put up again at one site.

        Parameters
        ----------
        without : iterable of str
            Setups that are being judged and so are no part of what they are judged by.

        Returns
        -------
        Spread or None
            ``None`` with fewer than three re-erections.
        """
        squares, freedom = self._squares, self._freedom
        out: dict[Cell, list[float]] = {}
        for name in without:
            if name in self._own:
                cell, value = self._own[name]
                out.setdefault(cell, []).append(value)
        for cell, values in out.items():
            sums = self._cells[cell]
            less = [sums[power] - sum(value**power for value in values) for power in range(3)]
            squares += _squares(less) - _squares(sums)
            freedom += max(less[0] - 1, 0) - max(sums[0] - 1, 0)
        if freedom < LEAST_FREEDOM or squares <= 0:
            return None
        return Spread(math.sqrt(squares / freedom), freedom)

    def site_spread(self, setup: Spread) -> Spread | None:
        """What sites add, from the means of six or more sites of one antenna; by moments, 0 or more.

        Parameters
        ----------
        setup : Spread
            Of setups at one site.
        """
        sites: dict[Any, list[tuple[float, float]]] = {}
        for cell, (n, total, _) in self._cells.items():
            sites.setdefault((cell[0], *cell[2:]), []).append((total / n, setup.sd**2 / n))
        squares, freedom, noise = 0.0, 0, 0.0
        for means in sites.values():
            if len(means) >= LEAST_SITES:
                squares += float(np.var([mean for mean, _ in means])) * len(means)
                freedom += len(means) - 1
                noise += (len(means) - 1) * float(np.mean([part for _, part in means]))
        if not freedom:
            return None
        return Spread(math.sqrt(max(squares - noise, 0.0) / freedom), freedom)


def find_usual(
    quantity: str,
    spread: Reerections,
    body: Body,
    *,
    rejoined: bool = False,
    without: Iterable[str] = (),
    at_site: Repeated = "new-site",
) -> Usual | None:
    """Own re-erections where there are three or more, else the trade's figure.

    Parameters
    ----------
    quantity : str
        Name of docs/names.md.
    spread : Reerections
        Values of this quantity.
    body : {"wire", "whip"}
        What the antenna is.
    rejoined : bool
        Whether nothing was taken down between the setups, only pieces joined anew.
    without : iterable of str
        Setups that are being judged.
    at_site : Repeated
        What is done between sites.

    Returns
    -------
    Usual or None
        ``None`` where neither is known.
    """
    usual = trade_usual(quantity, body, repeated="reconnected" if rejoined else "re-erected", at_site=at_site)
    own = None if rejoined else spread.spread(without=without)
    if own is None:
        return usual
    site = spread.site_spread(own)
    guess = Spread(0.0) if usual is None else usual.site
    return Usual(
        setup=own,
        site=guess if site is None else site,
        own=True,
        site_own=site is not None,
        words=f"own setups, put up again ({own.freedom:g} degrees of freedom)",
    )


def _squares(sums: Sequence[float]) -> float:
    """Sum of squares about the mean, from count, sum and sum of squares."""
    return max(sums[2] - sums[1] ** 2 / sums[0], 0.0) if sums[0] > 0 else 0.0
