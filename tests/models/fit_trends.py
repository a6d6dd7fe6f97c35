"""Fit the trends of sweepkit.antennas to tests/data/models/length_answers.csv and write them down as numbers.

    python -m tests.models.fit_trends                # rewrites sweepkit/antennas/trend_values.py

Needs no PyNEC. What a formula explains (fixed radials, coil) is taken off first; the trend is what is left.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.antennas.loaded_whip import coil_slope, radials_slope
from sweepkit.antennas.trend import FEATURES, Trend, powers
from sweepkit.antennas.vertical import line_slope
from tests.models.length_answers import read_rows

TARGET = Path(__file__).resolve().parents[2] / "sweepkit" / "antennas" / "trend_values.py"
RIDGE = 1e-3
ENDS = (0.02, 0.98)  # quantiles of a feature between which the trend is trusted
LEAST_SPREAD = 0.004  # a mirror with a resistor is simpler than radials on soil: common practice, no source
# Very short whips over raised radials are beyond what the wire model resolves (its resistance comes out
# negative below about 0.04 wavelengths); such rows show as wild curvatures and are left out.
WILDEST_CURVATURE = 1.5

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


def _over_told_radials(rows: Rows) -> Any:
    # An operator may tell the coil or not; the middle of both answers is taken off.
    told = (rows["wavelengths"], rows["wires"], rows["wire_wavelengths"])
    return (radials_slope(*told, None) + radials_slope(*told, rows["coil_ohm"])) / 2


DIP = ("swr", "loaded_q")
FITS = {
    "dipole": Fit("dipole", DIP, 3),
    "inverted-vee": Fit("inverted-vee", DIP, 2),
    "loop": Fit("loop", DIP, 2),
    "end-fed": Fit("end-fed", DIP, 1),
    "vertical-1": Fit("vertical-counterpoise", DIP, 1, _over_wires(1), wires=1),
    "vertical-2-short": Fit("vertical-counterpoise", DIP, 1, _over_wires(2), wires=2),
    "vertical-2": Fit("vertical-radials", DIP, 1, _over_wires(2), wires=2),
    "vertical-3": Fit("vertical-radials", DIP, 1, _over_wires(3), wires=3),
    "vertical-4": Fit("vertical-radials", DIP, 1, _over_wires(4), wires=4),
    "vertical-ground": Fit("vertical-ground", DIP, 1, _over_wires(0)),
    "whip-ground": Fit("whip-ground", FEATURES, 1, lambda rows: coil_slope(rows["wavelengths"], None)),
    "whip-radials": Fit("whip-radials", FEATURES, 1, lambda rows: coil_slope(rows["wavelengths"], None)),
    "whip-radials-told": Fit("whip-radials", FEATURES, 1, _over_told_radials),
}


def fit(plan: Fit, rows: Rows) -> Trend:
    """The trend of one plan."""
    mine = (rows["family"] == plan.family) & (np.abs(rows["curvature"]) < WILDEST_CURVATURE)
    if plan.wires is not None:
        mine &= rows["wires"] == plan.wires
    chosen = {name: column[mine] for name, column in rows.items()}
    rest = chosen["slope"] - plan.formula(chosen)
    logs = np.array([np.log(chosen[name]) for name in FEATURES])
    used = np.array([np.log(chosen[name]) for name in plan.features])
    low, high = np.quantile(used, ENDS, axis=1)
    scaled = np.clip((2 * used - (low + high)[:, None]) / (high - low)[:, None], -1, 1)
    terms = powers(scaled, plan.degree)
    coefficients = np.linalg.solve(
        terms @ terms.T + RIDGE * rest.size * np.diag([0.0] + [1.0] * (len(terms) - 1)), terms @ rest
    )
    freedom = max(rest.size - len(terms), 1)
    spread = float(np.sqrt(np.sum((rest - coefficients @ terms) ** 2) / freedom))
    curvature = chosen["curvature"]
    return Trend(
        features=plan.features,
        degree=plan.degree,
        coefficients=_short(coefficients),
        low=_short(low),
        high=_short(high),
        spread=_digits(max(spread, LEAST_SPREAD)),
        alone=_digits(float(rest.mean())),
        alone_spread=_digits(max(float(rest.std()), LEAST_SPREAD)),
        curvature=_digits(float(np.median(curvature))),
        curvature_spread=_digits(float(np.std(curvature))),
        middle=_short(logs.mean(axis=1)),
        covariance=tuple(_short(row) for row in np.cov(logs)),
    )


def _digits(value: float) -> float:
    return float(f"{value:.4g}")


def _short(values: Any) -> tuple[float, ...]:
    return tuple(_digits(float(value)) for value in values)


def module_text() -> str:
    """The module of numbers, before formatting."""
    rows = read_rows()
    head = [
        '"""How modelled antennas answer to length, in numbers made by tests/models/fit_trends.py."""',
        "",
        "from sweepkit.antennas.trend import Trend",
        "",
        "TRENDS: dict[str, Trend] = {",
    ]
    body = [f"    {name!r}: {fit(plan, rows)!r}," for name, plan in FITS.items()]
    return "\n".join([*head, *body, "}"]) + "\n"


if __name__ == "__main__":
    TARGET.write_text(module_text(), encoding="ascii")
