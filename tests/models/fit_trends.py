"""Fit the trends of sweepkit.antennas to tests/data/models/length_answers.csv and write them down as numbers.

    python -m tests.models.fit_trends                # rewrites sweepkit/data/length_trends.json

Needs no PyNEC. What a formula explains (fixed radials) is taken off first; the trend is what is left. End-feds and
loaded whips are physics alone (sweepkit/antennas/end_fed.py, loaded_whip.py).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.antennas.trend import FEATURES, SPREAD_DEGREE, TABLE, Trend, powers
from sweepkit.antennas.vertical import line_slope
from tests.models.length_answers import read_rows

RIDGE = 1e-3
PARTS = 10  # of the rows, each judged by a fit to the others
SPREAD_RIDGE = 0.02
ENDS = (0.02, 0.98)  # quantiles of a feature between which the trend is trusted
LEAST_SPREAD = 0.004  # a mirror with a resistor is simpler than radials on soil: common practice, no source
Rows = dict[str, NDArray[Any]]


@dataclass(frozen=True)
class Fit:
    """Which rows make a trend, what is taken off and what it rests on."""

    family: str
    features: tuple[str, ...]
    degree: int
    formula: Callable[[Rows], Any] = lambda rows: 0.0
    wires: int | None = None


def _over_wires(wires: int) -> Callable[[Rows], Any]:
    return lambda rows: line_slope(rows["wavelengths"], wires)


DIP = ("swr", "loaded_q")
FITS = {
    "dipole": Fit("dipole", DIP, 3),
    "inverted-vee": Fit("inverted-vee", DIP, 2),
    "loop": Fit("loop", FEATURES, 2),
    "vertical-1": Fit("vertical-counterpoise", DIP, 1, _over_wires(1), wires=1),
    "vertical-2-short": Fit("vertical-counterpoise", DIP, 1, _over_wires(2), wires=2),
    "vertical-2": Fit("vertical-radials", DIP, 1, _over_wires(2), wires=2),
    "vertical-3": Fit("vertical-radials", DIP, 1, _over_wires(3), wires=3),
    "vertical-4": Fit("vertical-radials", DIP, 1, _over_wires(4), wires=4),
    "vertical-ground": Fit("vertical-ground", DIP, 1, _over_wires(0)),
}


def fit(plan: Fit, rows: Rows) -> Trend:
    """The trend of one plan."""
    mine = rows["family"] == plan.family
    if plan.wires is not None:
        mine &= rows["wires"] == plan.wires
    chosen = {name: column[mine] for name, column in rows.items()}
    rest = chosen["slope"] - plan.formula(chosen)
    logs = np.array([np.log(chosen[name]) for name in FEATURES])
    used = np.array([np.log(chosen[name]) for name in plan.features])
    low, high = np.quantile(used, ENDS, axis=1)
    scaled = np.clip((2 * used - (low + high)[:, None]) / (high - low)[:, None], -1, 1)
    terms = powers(scaled, plan.degree)
    coefficients = _least_squares(terms, rest)
    misfit = _misfit_of_others(terms, rest)
    curvature = chosen["curvature"]
    return Trend(
        features=plan.features,
        degree=plan.degree,
        coefficients=_short(coefficients),
        low=_short(low),
        high=_short(high),
        spread=_short(_log_spread(misfit, scaled, LEAST_SPREAD)),
        alone=_digits(float(rest.mean())),
        alone_spread=_digits(max(float(rest.std()), LEAST_SPREAD)),
        curvature=_digits(float(np.median(curvature))),
        curvature_spread=_digits(float(np.std(curvature))),
        middle=_short(logs.mean(axis=1)),
        covariance=tuple(_short(row) for row in np.cov(logs)),
    )


def _least_squares(terms: NDArray[np.float64], rest: NDArray[np.float64]) -> NDArray[np.float64]:
    ridge = RIDGE * rest.size * np.diag([0.0] + [1.0] * (len(terms) - 1))
    return np.linalg.solve(terms @ terms.T + ridge, terms @ rest)


def _misfit_of_others(terms: NDArray[np.float64], rest: NDArray[np.float64]) -> NDArray[np.float64]:
    """What each row misses by when the trend is fitted without it and some others (cross-validation)."""
    misfit = np.empty_like(rest)
    for part in range(PARTS):
        mine = np.arange(rest.size) % PARTS == part
        misfit[mine] = rest[mine] - _least_squares(terms[:, ~mine], rest[~mine]) @ terms[:, mine]
    return misfit


def _log_spread(
    misfit: NDArray[np.float64], scaled: NDArray[np.float64], least_spread: float
) -> NDArray[np.float64]:
    """Coefficients of the logarithm of the spread, from those of the misfits; then sized to match them."""
    terms = powers(scaled, SPREAD_DEGREE)
    size = np.log(np.maximum(np.abs(misfit), least_spread / 4))
    ridge = SPREAD_RIDGE * size.size * np.diag([0.0] + [1.0] * (len(terms) - 1))
    coefficients = np.linalg.solve(terms @ terms.T + ridge, terms @ size)
    scale = np.sqrt(np.mean((misfit / np.exp(coefficients @ terms)) ** 2))
    coefficients[0] += np.log(scale)
    least = np.log(least_spread) - np.min(coefficients @ terms)
    if least > 0:
        coefficients[0] += min(least, max(np.log(least_spread) - coefficients[0], 0.0))
    return np.asarray(coefficients)


def _digits(value: float) -> float:
    return float(f"{value:.4g}")


def _short(values: Any) -> tuple[float, ...]:
    return tuple(_digits(float(value)) for value in values)


def table_text() -> str:
    """The table of numbers, a line each."""
    rows = read_rows()
    groups = []
    for name, plan in FITS.items():
        values = asdict(fit(plan, rows)).items()
        lines = ",\n".join(f"    {json.dumps(key)}: {json.dumps(value)}" for key, value in values)
        groups.append(f"  {json.dumps(name)}: {{\n{lines}\n  }}")
    return "{\n" + ",\n".join(groups) + "\n}\n"


if __name__ == "__main__":
    TABLE.write_text(table_text(), encoding="ascii")
