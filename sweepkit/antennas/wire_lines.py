"""Straight wires as lines: the cotangent law of short monopoles, and wires that share one resonance.

A straight wire against ground behaves near resonance like an open line of average characteristic impedance
Z0: X = -Z0 cot(kh). Where only one of two such wires is trimmed, the other holds part of the tuning, and the
dip moves by less than 1/length.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

IMPEDANCE_UNIT_OHM = 60.0  # eta / 2 pi, rounded as in the formulas cited


def monopole_impedance_ohm(length_m: ArrayLike, radius_m: ArrayLike) -> FloatArray:
    """Average characteristic impedance of a thin upright wire, 60 (ln(h/a) - 1).

    Half of the short dipole's X = -120 (ln(l/a) - 1) cot(kl), l being the half length: Balanis, Antenna
    Theory, 4th ed., Wiley 2016, section 4.3 and problems (from memory).
    """
    ratio = np.asarray(length_m, dtype=np.float64) / np.asarray(radius_m, dtype=np.float64)
    return np.asarray(IMPEDANCE_UNIT_OHM * (np.log(ratio) - 1))


def monopole_reactance_ohm(f_hz: FloatArray, length_m: FloatArray, radius_m: float) -> FloatArray:
    """Reactance of a thin upright wire over a mirror, with a current that is a sine up to its end.

    Half of that of the dipole by the induced EMF: Balanis, Antenna Theory, 4th ed., Wiley 2016, section 8.5 (from
    memory). The line's -Z0 cot(kh) leaves out that an open end acts longer, which counts near the quarter wave.
    """
    from scipy.special import sici

    k = 2 * np.pi * f_hz / SPEED_OF_LIGHT_M_S
    whole = 2 * k * length_m  # of the dipole, in radians
    si, ci = sici(whole)
    si_twice, ci_twice = sici(2 * whole)
    near = sici(k * radius_m**2 / length_m)[1]
    at_maximum = 2 * si + np.cos(whole) * (2 * si - si_twice) - np.sin(whole) * (2 * ci - ci_twice - near)
    return np.asarray(IMPEDANCE_UNIT_OHM / 4 * at_maximum / np.sin(whole / 2) ** 2)


def short_monopole_resistance_ohm(f_hz: ArrayLike, length_m: ArrayLike) -> FloatArray:
    """Radiation resistance of a short monopole with triangular current, 40 pi^2 (h/lambda)^2.

    Balanis, Antenna Theory, 4th ed., Wiley 2016, sections 4.3 and 4.7; good below an eighth of a wavelength.
    """
    share = np.asarray(f_hz, dtype=np.float64) * np.asarray(length_m, dtype=np.float64) / SPEED_OF_LIGHT_M_S
    return np.asarray(40 * np.pi**2 * share**2)


def reactance_slope(angle: FloatArray) -> FloatArray:
    """d(-cot x) / d ln x of an open line, x / sin(x)^2."""
    return np.asarray(angle / np.sin(angle) ** 2)


def wire_over_soil(
    height_m: FloatArray, radius_m: FloatArray | float, depth_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """A level wire over soil as a line: its charge is mirrored at the surface, its current deeper down.

    Inductance by ln((2h + d)/a), capacitance by 1/ln(2h/a): the complex image of Wait and Spies, Can. J. Phys. 47, 1969
    (from memory), by its size.

    Parameters
    ----------
    height_m : float array, shape (n,)
        Of the wire, h. [m]
    radius_m : float array, shape (n,), or float
        Of the wire, a. [m]
    depth_m : float array, shape (n,)
        How much further away than the mirrored charge the mirrored current is, d. [m]

    Returns
    -------
    ohm, slowing : float array, shape (n,) each
        Characteristic impedance [ohm], and wavelength in vacuum over that along the wire [-].
    """
    charge, current = np.log(2 * height_m / radius_m), np.log((2 * height_m + depth_m) / radius_m)
    return np.asarray(IMPEDANCE_UNIT_OHM * np.sqrt(charge * current)), np.asarray(np.sqrt(current / charge))


def shared_wire_slope(angle: FloatArray, ratio: FloatArray) -> FloatArray:
    """d ln f / d ln h of an upright wire over raised wires that stay as they are.

    Upright wire and the others in parallel are in resonance, cot(x) + ratio cot(y) = 0; x is known from
    length and frequency, so y follows and with it the share of the tuning that the fixed wires hold.

    Parameters
    ----------
    angle : float array, shape (n,)
        Electrical length x of the trimmed wire, end effect included. [rad]
    ratio : float array, shape (n,)
        Characteristic impedance of the fixed wires in parallel over that of the trimmed one. [-]

    Returns
    -------
    float array, shape (n,)
        Between -1 and 0. [-]
    """
    cotangent = -1 / (ratio * np.tan(angle))
    other_angle = np.arctan2(1.0, cotangent)
    fixed = ratio * other_angle * (1 + cotangent**2)
    moved = reactance_slope(angle)
    return np.asarray(-moved / (moved + fixed))
