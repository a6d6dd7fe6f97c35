"""A trend over what a sweep shows of a dip, with its spread: how modelled antennas of one group behave."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from itertools import combinations_with_replacement
from pathlib import Path

import numpy as np

from sweepkit.antennas.kind import Seen
from sweepkit.conversions import FloatArray

TABLE = Path(__file__).parents[1] / "data" / "length_trends.json"  # made by tests/models/fit_trends.py
FEATURES = ("wavelengths", "swr", "loaded_q")
# A real antenna differs from its modelled group by insulation, wire and place, losses and its box: one sigma of the
# logarithms. Common practice, no source.
ALLOWANCE = {"wavelengths": 0.02, "swr": 0.15, "loaded_q": 0.12}
SPREAD_DEGREE = 2
TAIL_FREEDOM = 5.0  # Student's t: families have a few outliers that a normal spread denies


@dataclass(frozen=True)
class Trend:
    """Polynomial in logarithms of features, and the features' own distribution in the group."""

    features: tuple[str, ...]  # of what is seen, which it rests on
    degree: int  # highest total power
    coefficients: tuple[float, ...]  # in scaled features, in the order of powers()
    # here the logarithm of a feature becomes -1; beyond both ends the trend stays what it is there
    low: tuple[float, ...]
    high: tuple[float, ...]  # here it becomes 1
    # coefficients, up to total power 2, of the logarithm of the standard deviation round the trend
    spread: tuple[float, ...]
    alone: float  # mean where a feature is not known, with its standard deviation
    alone_spread: float
    curvature: float  # second derivative of ln f with respect to ln L
    curvature_spread: float
    middle: tuple[float, ...]  # mean of the logarithms of all FEATURES, with their covariance, shape (3, 3)
    covariance: tuple[tuple[float, ...], ...]

    def draw(self, seen: Seen, dice: np.random.Generator) -> FloatArray:
        """One value for each draw of a dip, shape (n,)."""
        scaled = self._scaled(seen)
        known = np.isfinite(scaled).all(axis=0)
        inside = np.clip(np.where(known, scaled, 0.0), -1.0, 1.0)
        beyond = np.abs(np.where(known, scaled, 0.0) - inside).max(axis=0)
        mean = np.array(self.coefficients) @ powers(inside, self.degree)
        near = np.exp(np.array(self.spread) @ powers(inside, SPREAD_DEGREE))
        spread = np.hypot(near, self.alone_spread * np.minimum(beyond, 1.0))
        mean, spread = np.where(known, mean, self.alone), np.where(known, spread, self.alone_spread)
        unit = dice.standard_t(TAIL_FREEDOM, mean.shape) / np.sqrt(TAIL_FREEDOM / (TAIL_FREEDOM - 2))
        return np.asarray(mean + spread * unit)

    def draw_curvature(self, n: int, dice: np.random.Generator) -> FloatArray:
        """Second derivatives, shape (n,)."""
        return np.asarray(dice.normal(self.curvature, self.curvature_spread, n))

    def _scaled(self, seen: Seen) -> FloatArray:
        rows = []
        for name, low, high in zip(self.features, self.low, self.high, strict=True):
            value = np.log(getattr(seen, name))
            rows.append((2 * value - low - high) / (high - low))
        return np.array(rows)


def powers(scaled: FloatArray, degree: int) -> FloatArray:
    """All products of scaled features, shape (features, n), up to a total power, shape (terms, n)."""
    terms = [np.ones(scaled.shape[1])]
    for total in range(1, degree + 1):
        for chosen in combinations_with_replacement(range(scaled.shape[0]), total):
            terms.append(np.prod(scaled[list(chosen)], axis=0))
    return np.array(terms)


@cache
def trends() -> dict[str, Trend]:
    """How modelled antennas answer to length, by group."""
    table = json.loads(TABLE.read_text(encoding="ascii"))
    return {name: Trend(**values) for name, values in table.items()}
