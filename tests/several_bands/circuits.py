"""Antennas of parts as circuits, for tests that need no wire model: pairs in parallel, and a tapped whip."""

from __future__ import annotations

import numpy as np

from sweepkit.sweep import Sweep

SPEED_M_S = 299_792_458.0


def swept(f_hz, z_ohm, seed=1):
    """With an analyzer's directivity and noise, neither told."""
    dice = np.random.default_rng(seed)
    noise = 0.0007 * (dice.normal(size=f_hz.size) + 1j * dice.normal(size=f_hz.size))
    directivity = 0.008 * np.exp(2j * np.pi * (dice.random() + f_hz / 3e7))
    return Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50) + directivity + noise)


def fan_z_ohm(f_hz, legs_m, coupling=0.03):
    """Half-wave pairs in parallel; each dips lower by ``coupling`` times how far the others are longer than usual."""
    total = 0.0
    usual = {name: 0.2475 * SPEED_M_S / f for name, f in MIDDLE.items()}
    for name, leg_m in legs_m.items():
        others = sum(np.log(legs_m[other] / usual[other]) for other in legs_m if other != name)
        own = (1 - coupling * (len(legs_m) - 1)) * np.log(leg_m / usual[name])
        f0 = MIDDLE[name] * np.exp(-own - coupling * others)
        total = total + 1 / (55 + 1j * 55 * 11 * (f_hz / f0 - f0 / f_hz))
    return 1 / total


MIDDLE = {"40 m": 7.1e6, "20 m": 14.175e6, "10 m": 28.85e6}


def linked_z_ohm(f_hz, leg_m):
    """A dipole with its links closed up to ``leg_m``."""
    f0 = 0.2415 * SPEED_M_S / leg_m
    return 60 + 1j * 60 * 12 * (f_hz / f0 - f0 / f_hz)


def whip_z_ohm(f_hz, tap, whip_m, diameter_m=0.052, pitch_m=0.0024):
    """Coil of Nagaoka's formula in the form of Lundin (Proc. IEEE 73, 1428, 1985), open line, four radials."""
    w = 2 * np.pi * np.asarray(f_hz)
    ohm = w * lundin_h(tap, diameter_m / 2, tap * pitch_m)
    coil = ohm / (1 - w * 1.6e-12 * ohm) + w * 0.18e-6
    whip_ohm = 60 * (np.log(whip_m / 0.0028) - 1)
    k = w / SPEED_M_S
    x = coil - whip_ohm / np.tan(k * whip_m * 1.008) - 300 / 4 / np.tan(k * 1.13 * 4.0)
    return 40 * np.pi**2 * (f_hz * whip_m / SPEED_M_S) ** 2 + ohm / 230 + 11 + 1j * x


def lundin_h(turns, radius_m, length_m):
    """Inductance of a thin solenoid. [H]"""
    square = (2 * radius_m / length_m) ** 2
    if length_m >= 2 * radius_m:
        shape = _f1(square) - 4 / (3 * np.pi) * 2 * radius_m / length_m
        return 4e-7 * np.pi * turns**2 * np.pi * radius_m**2 / length_m * shape
    inverse = 1 / square
    shape = (np.log(8 * radius_m / length_m) - 0.5) * _f1(inverse) + _f2(inverse)
    return 4e-7 * np.pi * turns**2 * radius_m * shape


def _f1(x):
    return (1 + 0.383901 * x + 0.017108 * x**2) / (1 + 0.258952 * x)


def _f2(x):
    return 0.093842 * x + 0.002029 * x**2 - 0.000801 * x**3


def dip_hz(z_of, low_hz, high_hz):
    """Where the reflection of a circuit is least."""
    f_hz = np.linspace(low_hz, high_hz, 40001)
    z = z_of(f_hz)
    return float(f_hz[np.argmin(np.abs((z - 50) / (z + 50)))])
