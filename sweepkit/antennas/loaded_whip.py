"""Whip with a coil at its base; the whip above the coil is trimmed or slid, the coil stays.

The cotangent law gives the slope from the whip's length in wavelengths: the coil holds about half of the
tuning. Short radials hold a further part. What the formulas leave over follows the dip itself.
"""

from __future__ import annotations

import numpy as np

from sweepkit.antennas.groups import deal, shares
from sweepkit.antennas.kind import Kind, Known, LengthAnswer, Seen, Usual
from sweepkit.antennas.trend_values import TRENDS
from sweepkit.antennas.wire_lines import loaded_whip_slope, reactance_slope
from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

WHIP_OHM = 375.0  # characteristic impedance of a whip of usual thickness; middle of the models, 300 to 450
RADIAL_OHM = 260.0  # of one radial a few centimetres to half a metre up; least squares over the models
IMPEDANCE_RANGE_OHM = (200.0, 600.0)  # a coil that asks for another one is not the coil of this whip

UNTOLD = {"whip-ground": 0.5, "whip-radials": 0.5}  # common practice, no source


def coil_slope(wavelengths: FloatArray, coil_ohm: FloatArray | None) -> FloatArray:
    """d ln f / d ln L of a whip over ground, by the formula.

    Parameters
    ----------
    wavelengths : float array, shape (n,)
        Whip above its coil in wavelengths at its dip. [-]
    coil_ohm : float array, shape (n,), or None
        Reactance of the coil at the dip, where it is known. [ohm]
    """
    angle = np.minimum(2 * np.pi * wavelengths, 0.49 * np.pi)
    z0_ohm = np.full_like(angle, WHIP_OHM) if coil_ohm is None else coil_ohm * np.tan(angle)
    return loaded_whip_slope(angle, np.clip(z0_ohm, *IMPEDANCE_RANGE_OHM), np.zeros_like(angle))


def radials_slope(
    wavelengths: FloatArray, radials: FloatArray, radial_wavelengths: FloatArray, coil_ohm: FloatArray | None
) -> FloatArray:
    """The same over raised radials of known number and length.

    Parameters
    ----------
    wavelengths, coil_ohm
        As in :func:`coil_slope`.
    radials : float array, shape (n,)
        Their number. [-]
    radial_wavelengths : float array, shape (n,)
        Length of each in wavelengths at the dip. [-]
    """
    angle = np.minimum(2 * np.pi * wavelengths, 0.49 * np.pi)
    other = np.clip(2 * np.pi * radial_wavelengths, 0.05, 3.0)
    radials_ohm = RADIAL_OHM / radials / np.tan(other)
    z0_ohm = np.full_like(angle, WHIP_OHM)
    if coil_ohm is not None:
        z0_ohm = np.clip((coil_ohm - radials_ohm) * np.tan(angle), *IMPEDANCE_RANGE_OHM)
    whip = z0_ohm * (reactance_slope(angle) + 1 / np.tan(angle))
    fixed = radials_ohm + RADIAL_OHM / radials * reactance_slope(other)
    return loaded_whip_slope(angle, z0_ohm, fixed / whip)


def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
    """Slope and curvature for each draw of a dip.

    Parameters
    ----------
    seen : Seen
        The dip.
    known : Known
        Coil and radials, as far as told.
    dice : numpy Generator
        Randomness.
    """
    n = seen.f_hz.size
    coil_ohm = None if known.coil_h is None else 2 * np.pi * seen.f_hz * known.coil_h
    ending = "" if known.coil_h is None else "-coil"
    on_ground = coil_slope(seen.wavelengths, coil_ohm)
    if not known.radials_on_ground and known.radials and known.radial_length_m:
        count = np.full(n, float(known.radials))
        length = seen.f_hz * known.radial_length_m / SPEED_OF_LIGHT_M_S
        line = radials_slope(seen.wavelengths, count, length, coil_ohm)
        trend = TRENDS[f"whip-radials-told{ending}"]
        return LengthAnswer(line + trend.draw(seen, dice), trend.draw_curvature(n, dice), np.zeros(n))
    priors = {"whip-ground": 1.0} if known.radials_on_ground else UNTOLD
    priors = {"whip-radials": 1.0} if known.radials and not known.radials_on_ground else priors
    slope, curvature = np.empty(n), np.empty(n)
    for name, mine in deal(shares(priors, TRENDS, seen), n).items():
        trend = TRENDS[name + ending]
        slope[mine] = (on_ground + trend.draw(seen, dice))[mine]
        curvature[mine] = trend.draw_curvature(n, dice)[mine]
    return LengthAnswer(slope, curvature, np.zeros(n))


KIND = Kind(
    name="loaded-whip",
    title="a loaded whip",
    part="whip above its coil",
    parts=1,
    move="slide",
    where="at the tip of the whip",
    length_range=(0.012, 0.24),  # shorter is no whip any more, a quarter wave needs no coil
    length_usual=(0.08, 0.7),
    repeatability=0.015,  # radials and their lay are in the tuning; common practice, no source
    usual=Usual(
        r_ohm=(8.0, 50.0),
        q=(11.0, 145.0),
        bandwidth=(0.0, 0.062),
        resonance="series",
        overtones=(),
    ),
    answer=answer,
)
