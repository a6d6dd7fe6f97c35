"""What difference would be seen: the usual spread of a difference, and the power to see one.

Everything rests on the spread of repeated setups and on how well it is known: with a standard deviation from nu
degrees of freedom, a difference over its spread follows Student's t, and noncentral t where there is a true one.
Source: JCGM 100:2008, annex G (Welch-Satterthwaite, G.4.1; freedom of a guess, G.4.2); noncentral t for power is
textbook knowledge, for example Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

LEVEL = 0.05  # chance of calling two alike setups different; common practice
POWER = 0.8  # chance of seeing a true difference; common practice
MOST_SETUPS = 1000  # nobody puts an antenna up more often
HALVINGS = 50


@dataclass(frozen=True)
class Spread:
    """A standard deviation and how well it is known."""

    sd: float  # on the scale of the analysis (sweepkit.comparison.scale)
    freedom: float = math.inf  # degrees of freedom it was estimated with; inf where it is known

    def __post_init__(self) -> None:
        if not (math.isfinite(self.sd) and self.sd >= 0):
            raise ValueError(f"sd is {self.sd}; it must be finite and 0 or more")
        if not self.freedom > 0:
            raise ValueError(f"freedom is {self.freedom}; it must be above 0")


def freedom_of_guess(doubt: float) -> float:
    """Degrees of freedom of a guessed standard deviation [JCGM 100]_, G.4.2.

    ``doubt``: its own relative uncertainty, above 0: 0.25 for a guess good to a quarter.
    """
    if not doubt > 0:
        raise ValueError(f"doubt is {doubt}; it must be above 0")
    return 0.5 / doubt**2


def spread_of_difference(
    setup: Spread,
    n_a: float,
    n_b: float,
    *,
    outing: Spread | None = None,
    outings_a: float = 1,
    outings_b: float = 1,
) -> Spread:
    """Spread of the difference of the means of two arms, its freedom after Welch and Satterthwaite, JCGM 100, G.4.1.

    ``setup`` is of single setups within an outing; arms compared block by block have as many as one block with the
    same spread would have. ``outing`` is what outings (or sites) differ by; left out when both arms were up in the
    same outings, where it cancels.
    """
    counts = {"n_a": n_a, "n_b": n_b, "outings_a": outings_a, "outings_b": outings_b}
    for name, count in counts.items():
        if count < 1:
            raise ValueError(f"{name} is {count}; it must be 1 or more")
    return spread_of_mean(
        setup, 1 / (1 / n_a + 1 / n_b), outing=outing, outings=1 / (1 / outings_a + 1 / outings_b)
    )


def spread_of_mean(setup: Spread, n: float, *, outing: Spread | None = None, outings: float = 1) -> Spread:
    """Spread of the mean of one arm; the parameters are those of :func:`spread_of_difference`."""
    parts = [(setup.sd**2 / n, setup.freedom)]
    if outing is not None:
        parts.append((outing.sd**2 / outings, outing.freedom))
    total = sum(part for part, _ in parts)
    doubt = sum(part**2 / freedom for part, freedom in parts)
    return Spread(math.sqrt(total), total**2 / doubt if doubt > 0 else math.inf)


def usual_limit(difference: Spread) -> float:
    """What a difference of alike arms exceeds with the chance ``LEVEL``, both signs together.

    For one new setup against the mean of n re-erections this is t sqrt(1 + 1/n), the prediction interval; for two
    single setups t sqrt(2), with t of the freedom of the spread.
    """
    return _t_limit(difference.freedom) * difference.sd


def smallest_difference(difference: Spread, *, power: float = POWER) -> float:
    """Smallest true difference that would be called different with the chance ``power``, above ``LEVEL``."""
    return _smallest_shift(difference.freedom, power) * difference.sd


def setups_needed(setup: Spread, wanted: float) -> int | None:
    """Setups in each of two equal arms of the same outings that would show a true difference; ``None``: too many."""
    if not wanted > 0:
        raise ValueError(f"wanted is {wanted}; it must be above 0")
    needed = (
        2 * (smallest_difference(setup) / wanted) ** 2
    )  # a difference of means has 2/n of the variance of one
    return max(1, math.ceil(needed)) if needed <= MOST_SETUPS else None


@lru_cache(maxsize=1024)
def _smallest_shift(freedom: float, power: float) -> float:
    """The same in spreads."""
    high = 1.0
    while _power(high, freedom) < power:
        high *= 2
    low = 0.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _power(middle, freedom) < power else (low, middle)
    return 0.5 * (low + high)


@lru_cache(maxsize=1024)
def _t_limit(freedom: float) -> float:
    from scipy.special import ndtri, stdtrit

    return float(ndtri(1 - LEVEL / 2) if math.isinf(freedom) else stdtrit(freedom, 1 - LEVEL / 2))


def _power(shift: float, freedom: float) -> float:
    """Chance of exceeding the limit when the true difference is ``shift`` spreads."""
    from scipy.special import nctdtr, ndtr

    limit = _t_limit(freedom)
    if math.isinf(freedom):
        return float(ndtr(shift - limit) + ndtr(-shift - limit))
    return float(1 - nctdtr(freedom, shift, limit) + nctdtr(freedom, shift, -limit))
