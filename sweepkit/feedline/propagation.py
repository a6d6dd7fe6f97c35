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

    Returns: loss. The line model itself gives up to some percent less at the low end, where the conductor loss is not
    small against the phase constant. [dB/100 m]
    """
    f_mhz = np.asarray(f_hz, dtype=np.float64) / 1e6
    return np.asarray(np.asarray(k1) * np.sqrt(f_mhz) + np.asarray(k2) * f_mhz, dtype=np.float64)


def attenuations_np_per_m(f_hz: ArrayLike, k1: ArrayLike, k2: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Conductor and dielectric attenuation, αc and αd."""
    scale = 1 / (100 * DB_PER_NEPER)
    return formula_loss_db_per_100m(f_hz, k1, 0.0) * scale, formula_loss_db_per_100m(f_hz, 0.0, k2) * scale


def propagation(
    f_hz: ArrayLike, *, z0_ohm: ArrayLike, velocity_factor: ArrayLike, k1: ArrayLike, k2: ArrayLike
) -> tuple[ComplexArray, ComplexArray]:
    """Propagation constant and characteristic impedance; all arguments broadcast.

    ``z0_ohm``: characteristic impedance in the high-frequency limit, above 0.
    ``velocity_factor``: high-frequency limit, above 0.
    Returns: α + jβ [Np/m, rad/m] and the characteristic impedance, of negative reactance where conductor loss prevails
    [ohm]
    """
    a_at_1_hz, shunt, slowness = scales(velocity_factor, k1, k2)
    series = series_root(np.asarray(a_at_1_hz * inverse_root(f_hz)))
    gamma_per_m = series * (1j * slowness * shunt) * np.asarray(f_hz, dtype=np.float64)
    return gamma_per_m, series * (np.asarray(z0_ohm) / shunt)


def group_slowness_s_per_m(
    f_hz: ArrayLike, *, velocity_factor: ArrayLike, k1: ArrayLike, k2: ArrayLike
) -> FloatArray:
    """dβ/dω: time per metre of a pulse, or of the slope of a measured phase; all arguments broadcast."""
    a_at_1_hz, shunt, _ = scales(velocity_factor, k1, k2)
    series = series_root(np.asarray(a_at_1_hz * inverse_root(f_hz)))
    speed = np.asarray(velocity_factor, dtype=np.float64) * SPEED_OF_LIGHT_M_S
    return np.asarray((shunt * (3 * series + 1 / series)).real / (4 * speed), dtype=np.float64)


def scales(
    velocity_factor: ArrayLike, k1: ArrayLike, k2: ArrayLike
) -> tuple[FloatArray, ComplexArray, FloatArray]:
    """What of the model does not depend on frequency; all arguments broadcast.

    With a = αc·v/ω, which falls as 1/√f, and d = αd·v/ω, which is constant:
    R+jωL = jω(z0/v)·(1+2(1−j)a) and G+jωC = jω/(z0·v)·(1−2jd).

    Returns: 2π/v: radians per metre and hertz without loss. [s/m]
    """
    speed = np.asarray(velocity_factor, dtype=np.float64) * SPEED_OF_LIGHT_M_S
    conductor_np_per_m, _ = attenuations_np_per_m(1.0, k1, 0.0)
    _, dielectric_np_per_m = attenuations_np_per_m(1.0, 0.0, k2)
    a_at_1_hz = np.asarray(conductor_np_per_m * speed / (2 * np.pi))
    shunt = np.asarray(np.sqrt(1 - 1j * (dielectric_np_per_m * speed / np.pi)))
    return a_at_1_hz, shunt, np.asarray(2 * np.pi / speed)


def inverse_root(f_hz: ArrayLike) -> FloatArray:
    """1/√f, and 0 at 0 Hz, where the line is to be transparent."""
    f = np.asarray(f_hz, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return np.where(f > 0, 1 / np.sqrt(f), 0.0)


def series_root(
    a: FloatArray, *, out: ComplexArray | None = None, work: FloatArray | None = None
) -> ComplexArray:
    """√(1+2(1−j)a), the principal root, by real arithmetic: a complex square root costs several times as much.

    ``a`` is conductor loss against phase, 0 or more; ``work``, shape (2, *shape of a), is memory.
    """
    out = np.empty(a.shape, dtype=np.complex128) if out is None else out
    work = np.empty((2, *a.shape)) if work is None else work
    real, root = work[0, ...], work[1, ...]
    np.multiply(a, 2, out=real)
    np.add(real, 1, out=real)  # the imaginary part is 1 - real
    np.subtract(real, 1, out=root)
    np.multiply(root, real, out=root)
    np.multiply(root, 2, out=root)
    np.add(root, 1, out=root)  # |.|² = real² + (1 - real)²
    np.sqrt(root, out=root)
    np.add(root, real, out=root)
    np.multiply(root, 0.5, out=root)
    np.sqrt(root, out=root)
    out.real = root
    np.subtract(1, real, out=real)
    np.divide(real, root, out=real)
    np.multiply(real, 0.5, out=real)
    out.imag = real
    return out


def limit_velocity_factor(
    velocity_factor_in_place: ArrayLike, at_hz: float, *, k1: ArrayLike, k2: ArrayLike
) -> FloatArray:
    """High-frequency limit of a velocity factor that was measured in place at one frequency.

    The internal inductance slows the wave at low frequencies: a line of limit 0.660 acts as 0.648 at 7 MHz.

    Returns: the velocity factor that :func:`propagation` wants. Exact: with s = ω/v, γ² = −(s+2(1−j)αc)(s−2jαd), and
    the two real parts of that equation leave a quadratic in s for known β. [-]
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
