"""Upright quarter wave over radials, counterpoise wires or many wires on the ground; the radiator is trimmed.

Raised radials stay as long as they are and hold part of the tuning (``wire_lines.shared_wire_slope``): the
fewer, the more. What the formula leaves over follows SWR and loaded Q of the dip, because both tell height
and soil. Where the length of the radials is told, it says directly what they hold: half of the draws take it from
there, and half from the resonance, so that neither a wrong length nor odd radials mislead alone.
"""

from __future__ import annotations

import numpy as np

from sweepkit.antennas.kind import Kind, Known, LengthAnswer, Seen, Usual
from sweepkit.antennas.trend import ALLOWANCE, FEATURES, Trend, trends
from sweepkit.antennas.wire_lines import reactance_slope, shared_wire_slope
from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

# Characteristic impedance of one raised wire over that of the upright one, and end effect of the upright
# wire: least squares over tests/data/models/length_answers.csv (tests/models/fit_trends.py).
WIRE_RATIO = 0.927
LONE_WIRE_RATIO = 0.873  # a single wire, which makes a bent dipole of it
END_EFFECT = -0.0088
# With the told length: ratio of impedances, what soil and ends make of the length, and what is left over; models of
# our own with radials 1 to 4 m up gave 1.0, 0.98 to 1.05 and 0.010 to 0.019. Nearer to soil waves are slower.
TOLD_RATIO, TOLD_RATIO_SPREAD = 1.0, 0.07
TOLD_SLOWING, TOLD_SIGMA = (0.98, 1.08), 0.012
LONGEST_ANGLE = 2.4  # of radials [rad]; beyond, they are no counterpoise
# Wires nearer to the soil than those of the models, 1 to 4 m, have less impedance: 60 ln(2h/r) falls by a fifth
# down to 0.3 m. Where the height is not told: half-normal, logarithmic.
LOWER_SPREAD = 0.10
MODELLED_HEIGHT_M, RADIAL_RADIUS_M = 2.0, 0.5e-3  # of the models, in the middle
TOLD_LOWER_SPREAD = 0.03  # what is left of that spread: the soil, and ends that hang lower
GROUND_SLOPE = -1.0  # over many radials on the ground nothing else holds the tuning

# What people put up when they do not say: common practice, no source.
UNTOLD = {
    "vertical-1": 0.10,
    "vertical-2-short": 0.10,
    "vertical-2": 0.15,
    "vertical-3": 0.15,
    "vertical-4": 0.25,
    "vertical-ground": 0.25,
}
WIRES = {"vertical-1": 1, "vertical-2-short": 2, "vertical-2": 2, "vertical-3": 3, "vertical-4": 4}
FLOOR = 1e-4  # what an antenna unlike every group still counts


def line_slope(wavelengths: FloatArray, wires: int, lower: FloatArray | float = 1.0) -> FloatArray:
    """d ln f / d ln L of the radiator by the formula, 0 wires standing for many on the ground.

    ``wavelengths`` is its length at the dip, ``lower`` the wires' impedance over that of the models', 1 or less:
    nearer to the soil.
    """
    if wires == 0:
        return np.full_like(wavelengths, GROUND_SLOPE)
    ratio = LONE_WIRE_RATIO if wires == 1 else WIRE_RATIO / wires
    angle = 2 * np.pi * wavelengths * (1 + END_EFFECT)
    return shared_wire_slope(angle, np.full_like(wavelengths, ratio) * lower)


def possible_groups(known: Known) -> dict[str, float]:
    """Prior weight of each modelled group, given what the operator knows."""
    if known.many_on_ground:
        return {"vertical-ground": 1.0}
    if known.radials is None and known.counterpoise_m is not None:
        return {"vertical-1": 1.0}
    if known.radials is None and known.radial_length_m is not None:
        return {name: weight for name, weight in UNTOLD.items() if name in WIRES}
    if known.radials is None:
        return UNTOLD
    if known.radials == 2:
        return {"vertical-2-short": 0.5, "vertical-2": 0.5}
    return {f"vertical-{min(known.radials, 4)}": 1.0}


def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
    """Slope and curvature for each draw of a dip."""
    n = seen.f_hz.size
    slope, curvature = np.empty(n), np.empty(n)
    lower = _lower(known.radial_height_m, n, dice)
    for name, mine in deal(shares(possible_groups(known), trends(), seen), n).items():
        wires = WIRES.get(name, 0)
        if wires == 4 and known.radials is not None:
            wires = known.radials
        drawn = line_slope(seen.wavelengths, wires, lower) + trends()[name].draw(seen, dice)
        if wires and (length_m := known.radial_length_m or known.counterpoise_m):
            drawn = np.where(dice.random(n) < 0.5, drawn, _told_slope(seen, wires, length_m, lower, dice))
        slope[mine] = drawn[mine]
        curvature[mine] = trends()[name].draw_curvature(n, dice)[mine]
    return LengthAnswer(slope, curvature, np.zeros(n))


def _lower(height_m: float | None, n: int, dice: np.random.Generator) -> FloatArray:
    """Impedance of the wires over that of the modelled ones, on every draw."""
    if height_m is None:
        return np.exp(-np.abs(dice.normal(0, LOWER_SPREAD, n)))
    least_m = max(height_m, 10 * RADIAL_RADIUS_M)
    ratio = np.log(2 * least_m / RADIAL_RADIUS_M) / np.log(2 * MODELLED_HEIGHT_M / RADIAL_RADIUS_M)
    return np.asarray(min(ratio, 1.0) * np.exp(dice.normal(0, TOLD_LOWER_SPREAD, n)))


def _told_slope(
    seen: Seen, wires: int, length_m: float, lower: FloatArray, dice: np.random.Generator
) -> FloatArray:
    """The slope with radials of a told length, for each draw of a dip."""
    n = seen.f_hz.size
    ratio = TOLD_RATIO * lower * np.exp(dice.normal(0, TOLD_RATIO_SPREAD, n)) / wires
    other = 2 * np.pi * seen.f_hz / SPEED_OF_LIGHT_M_S * length_m * dice.uniform(*TOLD_SLOWING, n)
    moved = reactance_slope(2 * np.pi * seen.wavelengths * (1 + END_EFFECT))
    fixed = ratio * reactance_slope(np.minimum(other, LONGEST_ANGLE))
    return np.asarray(-moved / (moved + fixed) + dice.normal(0, TOLD_SIGMA, n))


def log_likelihood(trend: Trend, seen: Seen) -> FloatArray:
    """Logarithm of the density of a dip, its median over the draws, in a group; unknown features do not count."""
    values = np.array([_middle_of_logarithm(getattr(seen, name)) for name in FEATURES])
    known = np.isfinite(values)
    gap = (values - np.array(trend.middle))[known]
    covariance = np.array(trend.covariance) + np.diag([ALLOWANCE[name] ** 2 for name in FEATURES])
    covariance = covariance[np.ix_(known, known)]
    _, log_size = np.linalg.slogdet(covariance)
    distance = gap @ np.linalg.solve(covariance, gap)
    return np.asarray(-0.5 * (distance + log_size))


def _middle_of_logarithm(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(np.log(known))) if known.size else float("nan")


def shares(priors: dict[str, float], modelled: dict[str, Trend], seen: Seen) -> dict[str, float]:
    """Share of the draws that each group gets, from its prior weight and the dip; those of weight 0 stay out."""
    names = [name for name, prior in priors.items() if prior > 0]
    if len(names) == 1:
        return {names[0]: 1.0}
    logs = np.array([float(log_likelihood(modelled[name], seen)) for name in names])
    weights = np.array([priors[name] for name in names]) * (np.exp(logs - logs.max()) + FLOOR)
    return dict(zip(names, (weights / weights.sum()).tolist(), strict=True))


def deal(parts: dict[str, float], n: int) -> dict[str, FloatArray]:
    """Deal ``n`` draws to the groups by their shares, which sum to 1, spread evenly: group to mask, shape (n,)."""
    ends = np.cumsum(list(parts.values()))
    # The golden ratio's multiples fill the unit interval evenly, so that every run of draws has its mix.
    place = np.modf(np.arange(n) * 0.6180339887498949)[0]
    group = np.minimum(np.searchsorted(ends, place, side="right"), len(ends) - 1)
    return {name: group == number for number, name in enumerate(parts)}


KIND = Kind(
    name="vertical",
    title="a vertical",
    part="radiator",
    parts=1,
    move="fold",
    where="at the top of the radiator",
    length_range=(0.19, 0.42),  # short counterpoise wires ask for a longer radiator
    length_usual=(0.26, 0.15),
    repeatability=0.004,  # as a dipole, with radials and counterpoise laid as before
    usual=Usual(
        r_ohm=(20.0, 190.0), q=(5.5, 24.0), bandwidth=(0.0, 0.11), resonance="series", overtones=(3.1,)
    ),
    answer=answer,
    basis="the physics of shared tuning and 480 modelled verticals",
)
