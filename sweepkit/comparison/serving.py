"""Which antenna serves which band: how often its setups did, on such ground, and how surely the next one will.

Each setup that swept a band either served it, with an SWR at the radio somewhere in it that needs no tuner, or did not.
Of n setups of which k did, the chance for the next one is (k + 1/2)/(n + 1), with the equal-tailed interval of the
beta distribution with k + 1/2 and n - k + 1/2 (Jeffreys). It orders nothing: that a band can be used says nothing of
signals.
Source: Brown, Cai and DasGupta, Interval Estimation for a Binomial Proportion, Statistical Science 16 (2001), 101-133.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal

from sweepkit.comparison.setups import NEAR_BAND, ComparedSetup
from sweepkit.figures import Figure
from sweepkit.plain_types import Plain
from sweepkit.reviews.summary import BandSummary, DipSummary, PlaneName, Summary

HALF_SEEN = 0.5  # of a band that was swept less, nothing is said unless it served; our choice
OFTEN = 0.5  # a band is served when more than this share of setups surely do; our choice
TAIL = 0.025

Answer = Literal["yes", "no", "cannot_say"]


@dataclass(frozen=True)
class Serving(Plain):
    """One antenna on one band, on one kind of ground.

    ``antenna``, ``band``: their names.
    ``ground``: word of the logbook; ``None`` where nobody told.
    ``n``, ``served``: setups that swept the band, and how many of them served it without a tuner.
    ``chance``: that the next one will. [-]
    ``bandwidth_hz``: mean 2:1 width of the dip in the band.
    ``setup_minutes``: mean time to put it up, where somebody told.
    """

    in_json: ClassVar[Mapping[str, str]] = {"verdict": "verdict"}

    antenna: str
    band: str
    ground: str | None
    n: int
    served: int
    chance: Figure
    bandwidth_hz: Figure
    setup_minutes: Figure

    @property
    def verdict(self) -> Answer:
        """Whether it serves the band more often than not."""
        low, high = self.chance.low or 0.0, 1.0 if self.chance.high is None else self.chance.high
        return "yes" if low > OFTEN else "no" if high < OFTEN else "cannot_say"


def describe_serving(setups: Sequence[ComparedSetup], *, direct_swr: float) -> tuple[Serving, ...]:
    """One answer for each band that any sweep serves or dips at, antenna and ground, by frequency and then as given.

    Setups without an antenna's name are left out; up to ``direct_swr`` no tuner is needed.
    """
    seen: dict[tuple[str, str, str | None], list[tuple[ComparedSetup, Summary, BandSummary]]] = {}
    places: dict[str, float] = {}
    for setup in setups:
        for name, sweep, band in _bands_of(setup):
            if setup.antenna is None or _served(band, direct_swr) is None:
                continue
            places[name] = max(places.get(name, 0.0), band.best_hz.value or 0.0)
            seen.setdefault((name, setup.antenna, setup.facts.get("ground")), []).append((setup, sweep, band))
    used = {
        key[0]
        for key, rows in seen.items()
        if any(_is_used(sweep, band, direct_swr) for _, sweep, band in rows)
    }
    order = sorted((key for key in seen if key[0] in used), key=lambda key: places[key[0]])
    return tuple(_serving(key, seen[key], direct_swr) for key in order)


def _is_used(sweep: Summary, band: BandSummary, direct_swr: float) -> bool:
    """Whether a sweep serves a band or dips at it; of a band at which none does nothing was to be served."""
    return _served(band, direct_swr) is True or bool(_dips_near(sweep, band))


def _bands_of(setup: ComparedSetup) -> list[tuple[str, Summary, BandSummary]]:
    """Each band once, from the sweep that covers it best."""
    best: dict[str, tuple[str, Summary, BandSummary]] = {}
    for sweep in setup.sweeps:
        for name, band in sweep.bands.items():
            if name not in best or band.covered > best[name][2].covered:
                best[name] = name, sweep, band
    return list(best.values())


def _served(band: BandSummary, direct_swr: float) -> bool | None:
    """Whether it was fit for use without a tuner; ``None`` where too little was seen to say."""
    if band.best_swr.value is None:
        return None
    if band.best_swr.value <= direct_swr:
        return True
    return False if band.covered >= HALF_SEEN else None


def _serving(
    key: tuple[str, str, str | None],
    seen: Sequence[tuple[ComparedSetup, Summary, BandSummary]],
    direct_swr: float,
) -> Serving:
    band, antenna, ground = key
    served = sum(_served(one, direct_swr) is True for _, _, one in seen)
    widths = [width for _, sweep, one in seen if (width := _width_hz(sweep, one)) is not None]
    minutes = [float(m) for setup, _, _ in seen if (m := setup.facts.get("setup_minutes")) is not None]
    return Serving(
        antenna,
        band,
        ground,
        len(seen),
        served,
        chance_of_next(served, len(seen)),
        _mean(widths, "no 2:1 width of a dip in the band"),
        _mean(minutes, "nobody told"),
    )


def chance_of_next(served: int, n: int) -> Figure:
    """Chance that one more does what ``served`` of ``n`` did, one or more [Brown, Cai and DasGupta 2001]."""
    from scipy.special import betaincinv

    a, b = served + 0.5, n - served + 0.5
    low = 0.0 if served == 0 else float(betaincinv(a, b, TAIL))
    high = 1.0 if served == n else float(betaincinv(a, b, 1 - TAIL))
    return Figure(a / (a + b), low, high)


def _width_hz(sweep: Summary, band: BandSummary) -> float | None:
    """2:1 width of the dip nearest to the band's best point, at the radio where it is known."""
    near = _dips_near(sweep, band)
    best_hz = band.best_hz.value or 0.0
    if not near:
        return None
    return min(near, key=lambda dip: abs((dip.dip_hz.value or 0.0) - best_hz)).bandwidth_hz.value


def _dips_near(sweep: Summary, band: BandSummary) -> list[DipSummary]:
    """Dips near the band's best point, at the radio where it is known."""
    planes: tuple[PlaneName, ...] = ("radio", "unknown", "feedpoint")
    plane = next((name for name in planes if name in sweep.planes), None)
    best_hz = band.best_hz.value
    if plane is None or best_hz is None:
        return []
    return [
        dip
        for dip in sweep.planes[plane]
        if dip.dip_hz.value is not None and abs(dip.dip_hz.value / best_hz - 1) <= NEAR_BAND
    ]


def _mean(values: Sequence[float], why: str) -> Figure:
    return Figure(sum(values) / len(values)) if values else Figure.none(why)
