"""How a wave travels on a lossy line: propagation constant and characteristic impedance.

Series R + jωL and shunt G + jωC per metre, with R = 2·z0·αc, G = 2·αd/z0, L = z0/v + R/ω, C = 1/(z0·v):
αc and αd are the losses of conductors and dielectric, v the velocity in the high-frequency limit. The term
R/ω is the internal inductance of conductors with well developed skin effect, whose internal reactance equals
their resistance (Schelkunoff, Bell System Technical Journal 13, 532-579, 1934; Ramo, Whinnery and Van Duzer,
Fields and Waves in Communication Electronics, 3rd ed., Wiley 1994, section 3.17). The square roots are exact.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

DB_PER_NEPER = 20 / math.log(10)  # exact, 8.685889...


def formula_loss_db_per_100m(f_hz: ArrayLike, k1: ArrayLike, k2: ArrayLike) -> FloatArray:
    """Matched loss as data sheets fit it, ``k1*sqrt(f_MHz) + k2*f_MHz``.

    Parameters
    ----------
    f_hz : float array
        Frequency, 0 or more. [Hz]
    k1, k2 : float arrays that broadcast with it
        Loss constants. [dB/100 m per sqrt(MHz), dB/100 m per MHz]

    Returns
    -------
    float array
        Loss. The line model itself gives up to some percent less at the low end, where the conductor loss
        is not small against the phase constant. [dB/100 m]
    """
    f_mhz = np.asarray(f_hz, dtype=np.float64) / 1e6
    return np.asarray(np.asarray(k1) * np.sqrt(f_mhz) + np.asarray(k2) * f_mhz, dtype=np.float64)


def attenuations_np_per_m(f_hz: ArrayLike, k1: ArrayLike, k2: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Conductor and dielectric attenuation, αc and αd.

    Parameters
    ----------
    f_hz, k1, k2
        As in :func:`formula_loss_db_per_100m`.

    Returns
    -------
    two float arrays
        αc and αd. [Np/m]
    """
    scale = 1 / (100 * DB_PER_NEPER)
    return formula_loss_db_per_100m(f_hz, k1, 0.0) * scale, formula_loss_db_per_100m(f_hz, 0.0, k2) * scale


def propagation(
    f_hz: ArrayLike, *, z0_ohm: ArrayLike, velocity_factor: ArrayLike, k1: ArrayLike, k2: ArrayLike
) -> tuple[ComplexArray, ComplexArray]:
    """Propagation constant and characteristic impedance; all arguments broadcast.

    Parameters
    ----------
    f_hz : float array
        Frequency; at 0 the line is transparent (γ = 0). [Hz]
    z0_ohm : float array
        Characteristic impedance in the high-frequency limit, above 0. [ohm]
    velocity_factor : float array
        High-frequency limit, above 0. [-]
    k1, k2 : float array
        Loss constants. [dB/100 m per sqrt(MHz), dB/100 m per MHz]

    Returns
    -------
    gamma_per_m, zc_ohm : complex arrays
        α + jβ [Np/m, rad/m] and the characteristic impedance, of negative reactance where conductor loss
        prevails [ohm].
    """
    series, shunt, lossless_per_m = _roots(f_hz, velocity_factor, k1, k2)
    return 1j * lossless_per_m * series * shunt, np.asarray(z0_ohm) * series / shunt


def group_slowness_s_per_m(
    f_hz: ArrayLike, *, velocity_factor: ArrayLike, k1: ArrayLike, k2: ArrayLike
) -> FloatArray:
    """dβ/dω: time per metre of a pulse, or of the slope of a measured phase; all arguments broadcast.

    Parameters
    ----------
    f_hz, velocity_factor, k1, k2
        As in :func:`propagation`, frequency above 0.

    Returns
    -------
    float array
        Group slowness. With s = √(1+2(1−j)a), a ~ 1/√ω: d(ωs)/dω = (3s + 1/s)/4. [s/m]
    """
    series, shunt, _ = _roots(f_hz, velocity_factor, k1, k2)
    speed = np.asarray(velocity_factor, dtype=np.float64) * SPEED_OF_LIGHT_M_S
    return np.asarray((shunt * (3 * series + 1 / series)).real / (4 * speed), dtype=np.float64)


def _roots(
    f_hz: ArrayLike, velocity_factor: ArrayLike, k1: ArrayLike, k2: ArrayLike
) -> tuple[ComplexArray, ComplexArray, FloatArray]:
    """√((R+jωL)/(jωz0/v)) = √(1+2(1−j)a), √((G+jωC)/(jω/(z0v))) = √(1−2jd), and ω/v.

    a = αc·v/ω falls as 1/√f and d = αd·v/ω does not depend on frequency, so that the second root is cheap.
    Real arithmetic: a complex square root costs several times as much, and this is run over all draws.
    """
    f = np.asarray(f_hz, dtype=np.float64)
    speed = np.asarray(velocity_factor, dtype=np.float64) * SPEED_OF_LIGHT_M_S
    conductor_np_per_m, _ = attenuations_np_per_m(1.0, k1, 0.0)  # at 1 Hz
    _, dielectric_np_per_m = attenuations_np_per_m(1.0, 0.0, k2)
    with np.errstate(divide="ignore"):
        falling = np.where(f > 0, 1 / np.sqrt(f), 0.0)
    a = (conductor_np_per_m * speed / (2 * np.pi)) * falling
    d = np.asarray(dielectric_np_per_m * speed / (2 * np.pi))
    return _root(1 + 2 * a, -2 * a), _root(np.ones_like(d), -2 * d), 2 * np.pi * f / speed


def _root(real: FloatArray, imaginary: FloatArray) -> ComplexArray:
    """Principal square root of a complex number with positive real part, by real arithmetic."""
    root_real = np.sqrt((np.sqrt(real * real + imaginary * imaginary) + real) / 2)
    root = np.empty(root_real.shape, dtype=np.complex128)
    root.real = root_real
    root.imag = imaginary / (2 * root_real)
    return root


def limit_velocity_factor(
    velocity_factor_in_place: ArrayLike, at_hz: float, *, k1: ArrayLike, k2: ArrayLike
) -> FloatArray:
    """High-frequency limit of a velocity factor that was measured in place at one frequency.

    The internal inductance slows the wave at low frequencies: a line of limit 0.660 acts as 0.648 at 7 MHz.

    Parameters
    ----------
    velocity_factor_in_place : float array
        ω/(c·β) at ``at_hz``. [-]
    at_hz : float
        Where it was measured, above 0. [Hz]
    k1, k2 : float array
        Loss constants. [dB/100 m per sqrt(MHz), dB/100 m per MHz]

    Returns
    -------
    float array
        The velocity factor that :func:`propagation` wants. Exact: with s = ω/v, γ² = −(s+2(1−j)αc)(s−2jαd),
        and the two real parts of that equation leave a quadratic in s for known β. [-]
    """
    omega = 2 * np.pi * at_hz
    beta = omega / (SPEED_OF_LIGHT_M_S * np.asarray(velocity_factor_in_place, dtype=np.float64))
    ac, ad = attenuations_np_per_m(at_hz, k1, k2)
    both = (ac + ad) / beta
    product = 2 * ac * ad / beta
    quadratic = 1 + both**2
    linear = 2 * ac + 2 * product * both
    constant = product**2 - beta**2 - 4 * ac * ad
    s = (-linear + np.sqrt(linear**2 - 4 * quadratic * constant)) / (2 * quadratic)
    return np.asarray(omega / (s * SPEED_OF_LIGHT_M_S), dtype=np.float64)
