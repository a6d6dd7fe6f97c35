"""Pure array formulas between reflection coefficient, impedance, SWR and losses.

Every function takes arrays of any shape and gives the same shape back. Definitions: Pozar, Microwave
Engineering, 4th ed., Wiley 2012, section 2.3; sign of return loss: Bird, IEEE Antennas and Propagation
Magazine 51(2), 166-167, 2009.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]
ComplexArray = NDArray[np.complex128]


def gamma_from_z(z_ohm: ArrayLike, reference_ohm: float) -> ComplexArray:
    """Reflection coefficient of an impedance; 1 for an infinite real part, which stands for an open."""
    z = np.asarray(z_ohm, dtype=np.complex128)
    is_open = ~np.isfinite(z)
    finite = np.where(is_open, 0.0, z)
    with np.errstate(divide="ignore", invalid="ignore"):
        gamma = (finite - reference_ohm) / (finite + reference_ohm)
    return np.where(is_open, 1.0 + 0j, gamma)


def z_from_gamma(gamma: ArrayLike, reference_ohm: float) -> ComplexArray:
    """Impedance of a reflection coefficient; ``inf`` where ``gamma`` is 1."""
    g = np.asarray(gamma, dtype=np.complex128)
    is_open = g == 1.0
    safe = np.where(is_open, 0.0, g) if is_open.any() else g
    with np.errstate(invalid="ignore"):  # NaN stays NaN
        if safe is g:
            return np.asarray(reference_ohm * (1 + g) / (1 - g))
        return np.where(is_open, np.inf + 0j, reference_ohm * (1 + safe) / (1 - safe))


def renormalise_gamma(gamma: ArrayLike, from_ohm: float, to_ohm: float) -> ComplexArray:
    """Reflection coefficient of the same impedance against another reference resistance."""
    g = np.asarray(gamma, dtype=np.complex128)
    if from_ohm == to_ohm:
        return g
    step = (to_ohm - from_ohm) / (to_ohm + from_ohm)
    return (g - step) / (1 - step * g)


def swr_from_gamma_abs(gamma_abs: ArrayLike) -> FloatArray:
    """Standing-wave ratio of a reflection magnitude, 1 or more; ``inf`` where that is 1 or more."""
    magnitude = np.asarray(gamma_abs, dtype=np.float64)
    below = magnitude < 1
    if below.all():
        return np.asarray((1 + magnitude) / (1 - magnitude))
    passive = np.where(below, magnitude, 0.0)
    swr = (1 + passive) / (1 - passive)
    return np.where(below, swr, np.where(np.isnan(magnitude), np.nan, np.inf))


def gamma_abs_from_swr(swr: ArrayLike) -> FloatArray:
    """Reflection magnitude, 0 to 1, of a standing-wave ratio; ``inf`` is allowed."""
    s = np.asarray(swr, dtype=np.float64)
    finite = np.where(np.isinf(s), 1.0, s)
    return np.where(np.isinf(s), 1.0, (finite - 1) / (finite + 1))


def return_loss_db_from_gamma_abs(gamma_abs: ArrayLike) -> FloatArray:
    """Return loss, positive for a passive load; ``inf`` at 0, negative above 1."""
    with np.errstate(divide="ignore"):
        return -20 * np.log10(np.asarray(gamma_abs, dtype=np.float64))


def gamma_abs_from_return_loss_db(return_loss_db: ArrayLike) -> FloatArray:
    """Reflection magnitude of a return loss, which is positive for a passive load."""
    return np.asarray(10.0 ** (-np.asarray(return_loss_db, dtype=np.float64) / 20), dtype=np.float64)


def mismatch_loss_db_from_gamma_abs(gamma_abs: ArrayLike) -> FloatArray:
    """Power not delivered because of the reflection, against a matched load; positive, ``inf`` at total reflection."""
    magnitude = np.asarray(gamma_abs, dtype=np.float64)
    with np.errstate(divide="ignore"):
        return -10 * np.log10(np.maximum(1 - magnitude**2, 0.0))
