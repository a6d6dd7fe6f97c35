"""Fit the trends of sweepkit.antennas to tests/data/models/length_answers.csv and write them down as numbers.

    python -m tests.models.fit_trends                # rewrites sweepkit/data/length_trends.json

Needs no PyNEC. What a formula explains (fixed radials) is taken off first; the trend is what is left. End-feds and
loaded whips are physics alone (sweepkit/antennas/end_fed.py, loaded_whip.py).

A real antenna shows another SWR and width than its model (losses, sag, uneven ground, its box), so every row counts
several times, its features off by ALLOWANCE: a trend rests on a feature only as far as a real dip tells it.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.antennas.trend import ALLOWANCE, FEATURES, SPREAD_DEGREE, TABLE, Trend, powers
from sweepkit.antennas.vertical import line_slope
from tests.models.length_answers import read_rows

RIDGE = 1e-3
PARTS = 10  # of the rows, each judged by a fit to the others
SPREAD_RIDGE = 0.02
COPIES = 12  # of each row
OUTLIER = 0.02  # a misfit beyond it counts as this one (Huber): coax near a resonance of its own
ROUNDS = 8
MEDIAN_OF_T = 0.563  # of the size of Student's t of 5, over its standard deviation
ENDS = (0.02, 0.98)  # quantiles of a feature between which the trend is trusted
LEAST_SPREAD = 0.004  # a mirror with a resistor is simpler than radials on soil: common practice, no source
Rows = dict[str, NDArray[Any]]


@dataclass(frozen=True)
class Fit:
    """Which rows make a trend, what is taken off and what it rests on."""

    families: tuple[str, ...]
    features: tuple[str, ...]
    degree: int
    formula: Callable[[Rows], Any] = lambda rows: 0.0
    wires: int | None = None


def _over_wires(wires: int) -> Callable[[Rows], Any]:
    return lambda rows: line_slope(rows["wavelengths"], wires)


DIP = ("swr", "loaded_q")
ON_BAND = ("f_hz", *DIP)  # heights are those people reach, so the band tells much of them in wavelengths
FITS = {
    "dipole": Fit(("dipole", "dipole-real"), ON_BAND, 2),
    "inverted-vee": Fit(("inverted-vee", "inverted-vee-real"), ON_BAND, 2),
    "loop": Fit(("loop",), ("f_hz", *FEATURES), 2),
    "dipole-by-band": Fit(("dipole", "dipole-real"), ("f_hz",), 2),
    "inverted-vee-by-band": Fit(("inverted-vee", "inverted-vee-real"), ("f_hz",), 2),
    "loop-by-band": Fit(("loop",), ("f_hz", "wavelengths"), 2),
    "vertical-1": Fit(("vertical-counterpoise",), ON_BAND, 1, _over_wires(1), wires=1),
    "vertical-2-short": Fit(("vertical-counterpoise",), ON_BAND, 1, _over_wires(2), wires=2),
    "vertical-2": Fit(("vertical-radials",), ON_BAND, 1, _over_wires(2), wires=2),
    "vertical-3": Fit(("vertical-radials",), ON_BAND, 1, _over_wires(3), wires=3),
    "vertical-4": Fit(("vertical-radials",), ON_BAND, 1, _over_wires(4), wires=4),
    "vertical-ground": Fit(("vertical-ground",), ON_BAND, 1, _over_wires(0)),
}


def fit(plan: Fit, rows: Rows) -> Trend:
    """The trend of one plan."""
    mine = np.isin(rows["family"], plan.families)
    if plan.wires is not None:
        mine &= rows["wires"] == plan.wires
    chosen = {name: column[mine] for name, column in rows.items()}
    chosen["f_hz"] = 1e6 * chosen["mhz"]
    rest = np.tile(chosen["slope"] - plan.formula(chosen), COPIES)
    logs = np.array([np.log(chosen[name]) for name in FEATURES])
    used = _as_seen(plan.features, chosen)
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
        alone=_digits(float(np.median(rest))),
        alone_spread=_digits(max(_spread(rest), LEAST_SPREAD)),
        curvature=_digits(float(np.median(curvature))),
        curvature_spread=_digits(_spread(curvature)),
        middle=_short(logs.mean(axis=1)),
        covariance=tuple(_short(row) for row in np.cov(logs)),
    )


def _as_seen(features: tuple[str, ...], chosen: Rows) -> NDArray[np.float64]:
    """Logarithms of features as real antennas like these would show them, shape (features, COPIES * rows)."""
    dice = np.random.default_rng(5)
    seen = []
    for name in features:
        value = np.tile(np.log(chosen[name]), COPIES)
        off = dice.normal(0, ALLOWANCE.get(name, 0.0), value.size)
        if name == "swr":  # of a resistance below or above 50 ohm
            value = np.abs(np.where(np.tile(chosen["r_ohm"], COPIES) < 50, -value, value) + off)
        else:
            value = value + off
        seen.append(value)
    return np.array(seen)


def _spread(values: NDArray[np.float64]) -> float:
    """Standard deviation that a few odd ones do not move, by the middle 68 %."""
    low, high = np.quantile(values, (0.16, 0.84))
    return float(high - low) / 2


def _least_squares(terms: NDArray[np.float64], rest: NDArray[np.float64]) -> NDArray[np.float64]:
    ridge = RIDGE * rest.size * np.diag([0.0] + [1.0] * (len(terms) - 1))
    weights = np.ones(rest.size)
    for _ in range(ROUNDS):
        found = np.linalg.solve((terms * weights) @ terms.T + ridge, (terms * weights) @ rest)
        weights = np.minimum(1.0, OUTLIER / np.maximum(np.abs(rest - found @ terms), 1e-9))
    return np.asarray(found)


def _misfit_of_others(terms: NDArray[np.float64], rest: NDArray[np.float64]) -> NDArray[np.float64]:
    """What each row misses by when the trend is fitted without it and some others (cross-validation)."""
    misfit = np.empty_like(rest)
    for part in range(PARTS):
        mine = np.arange(rest.size) % (rest.size // COPIES) % PARTS == part
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
    scale = np.median(np.abs(misfit) / np.exp(coefficients @ terms)) / MEDIAN_OF_T
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
