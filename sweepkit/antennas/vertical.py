"""Upright quarter wave over radials, counterpoise wires or many wires on the ground; the radiator is trimmed.

Raised radials stay as long as they are and hold part of the tuning (``wire_lines.shared_wire_slope``): the
fewer, the more. What the formula leaves over follows SWR and loaded Q of the dip, because both tell height
and soil.
"""

from __future__ import annotations

import numpy as np

from sweepkit.antennas.groups import deal, shares
from sweepkit.antennas.kind import Kind, Known, LengthAnswer, Seen, Usual
from sweepkit.antennas.trend_values import TRENDS
from sweepkit.antennas.wire_lines import shared_wire_slope
from sweepkit.conversions import FloatArray

# Characteristic impedance of one raised wire over that of the upright one, and end effect of the upright
# wire: least squares over tests/data/models/length_answers.csv (tests/models/fit_trends.py).
WIRE_RATIO = 0.927
LONE_WIRE_RATIO = 0.873  # a single wire, which makes a bent dipole of it
END_EFFECT = -0.0088
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


def line_slope(wavelengths: FloatArray, wires: int) -> FloatArray:
    """d ln f / d ln L of the radiator by the formula, 0 wires standing for many on the ground.

    Parameters
    ----------
    wavelengths : float array, shape (n,)
        Radiator in wavelengths at its dip. [-]
    wires : int
        Raised radials or counterpoise wires.
    """
    if wires == 0:
        return np.full_like(wavelengths, GROUND_SLOPE)
    ratio = LONE_WIRE_RATIO if wires == 1 else WIRE_RATIO / wires
    angle = 2 * np.pi * wavelengths * (1 + END_EFFECT)
    return shared_wire_slope(angle, np.full_like(wavelengths, ratio))


def possible_groups(known: Known) -> dict[str, float]:
    """Prior weight of each modelled group, given what the operator knows.

    Parameters
    ----------
    known : Known
        What is known.
    """
    if known.radials_on_ground:
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
    """Slope and curvature for each draw of a dip.

    Parameters
    ----------
    seen : Seen
        The dip.
    known : Known
        Radials and counterpoise, as far as told.
    dice : numpy Generator
        Randomness.
    """
    n = seen.f_hz.size
    slope, curvature = np.empty(n), np.empty(n)
    for name, mine in deal(shares(possible_groups(known), TRENDS, seen), n).items():
        wires = WIRES.get(name, 0)
        if wires == 4 and known.radials is not None:
            wires = known.radials
        line = line_slope(seen.wavelengths, wires)
        slope[mine] = (line + TRENDS[name].draw(seen, dice))[mine]
        curvature[mine] = TRENDS[name].draw_curvature(n, dice)[mine]
    return LengthAnswer(slope, curvature, np.zeros(n))


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
        r_ohm=(20.0, 190.0),
        q=(5.5, 24.0),
        bandwidth=(0.0, 0.11),
        resonance="series",
        overtones=(3.1,),
    ),
    answer=answer,
)
