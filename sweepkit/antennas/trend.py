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
SPREAD_DEGREE = 2
TAIL_FREEDOM = 5.0  # Student's t: families have a few outliers that a normal spread denies


@dataclass(frozen=True)
class Trend:
    """Polynomial in logarithms of features, and the features' own distribution in the group.

    ``features``: which of ``FEATURES`` it rests on.
    ``degree``: highest total power.
    ``coefficients``: of the polynomial in scaled features, in the order of :func:`powers`. [-]
    ``low``, ``high``: ends of the scaled range of each feature: their logarithms there become -1 and 1. Beyond them
    the trend stays what it is at the end. [-]
    ``spread``: coefficients, up to total power 2, of the logarithm of the standard deviation round the trend. [-]
    ``alone``, ``alone_spread``: mean and standard deviation where a feature is not known. [-]
    ``curvature``, ``curvature_spread``: second derivative of ln f with respect to ln L. [-]
    ``middle``: mean of the logarithms of all ``FEATURES``. [-]
    ``covariance``, shape (3, 3): of the same. [-]
    """

    features: tuple[str, ...]
    degree: int
    coefficients: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    spread: tuple[float, ...]
    alone: float
    alone_spread: float
    curvature: float
    curvature_spread: float
    middle: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    def draw(self, seen: Seen, dice: np.random.Generator) -> FloatArray:
        """One value for each draw of a dip, shape (n,).

        Parameters
        ----------
        seen : Seen
            The dip.
        dice : numpy Generator
            Randomness.
        """
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
        """Second derivatives, shape (n,).

        Parameters
        ----------
        n : int
            How many.
        dice : numpy Generator
            Randomness.
        """
        return np.asarray(dice.normal(self.curvature, self.curvature_spread, n))

    def _scaled(self, seen: Seen) -> FloatArray:
        rows = []
        for name, low, high in zip(self.features, self.low, self.high, strict=True):
            value = np.log(getattr(seen, name))
            rows.append((2 * value - low - high) / (high - low))
        return np.array(rows)


def powers(scaled: FloatArray, degree: int) -> FloatArray:
    """All products of features up to a total power, shape (terms, n).

    Parameters
    ----------
    scaled : float array, shape (features, n)
        Scaled features. [-]
    degree : int
        Highest total power.
    """
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
