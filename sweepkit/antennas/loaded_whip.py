"""Whip with a coil at its base or up a mast; the whip above the coil is trimmed or slid, the coil stays.

At the dip the reactances of whip, coil and what lies below the coil add to nothing:

    X_coil = Z0 cot(kh) + X_below

Z0 is that of the whip. N radials of length r and impedance Zr, slowed by the soil by n, are -(Zr / N) cot(k r n); a
mast of length d between them and the coil turns that, as a line of Z0, by kd. The coil has a capacitance C of its own,
which makes its reactance rise faster with frequency, by 1 + 2 w C X. What the whip does not hold of the slope of these
reactances is not moved when it is trimmed. All of it is drawn; a coil that is told says which draws agree with it.
"""

from __future__ import annotations

import numpy as np

from sweepkit.antennas.kind import Kind, Known, LengthAnswer, Seen, Usual
from sweepkit.antennas.wire_lines import (
    IMPEDANCE_UNIT_OHM,
    monopole_impedance_ohm,
    reactance_slope,
    wire_over_soil,
)
from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

RADIUS_M, RADIUS_SPREAD = 2e-3, 0.5  # whips and wires of 1.5 to 12 mm diameter; logarithmic spread
# Radials of 1 mm radius a hand to a knee above the soil, or as high as told, and how much deeper than their charge
# their current is mirrored: 2/k|n| of soils of 3 to 5 on 7 to 28 MHz; common practice. Those that share the soil below
# them act as somewhat less than wires of their own: models of ours.
RADIAL_RADIUS_M, HEIGHT_M, DEPTH_M = 1e-3, (0.03, 0.6), (0.3, 3.0)
LEAST_HEIGHT_M, HEIGHT_SPREAD = 0.01, 0.3  # of a told height, which is hardly the same all along
SHARED_SOIL, RADIAL_SPREAD = 0.85, 0.2
ANGLE_RANGE = (0.15, 2.4)  # of radials [rad]; beyond, they are no counterpoise
COIL_F, COIL_F_SPREAD = 1.8e-12, 0.45  # 1 to 3 pF for coils of 2 to 5 cm, after Medhurst 1947 (from memory)
COIL_SIGMA = 0.04  # of a told inductance, formula or meter; common practice, no source
MODEL_SIGMA = 0.05  # of the reactances above against wire models of our own
SLOPE_SPREAD = 0.03  # of the slope against the same
CURVATURE, CURVATURE_SIGMA = -0.08, 0.13  # -0.13 over ground, -0.02 over radials: models of our own
# Coils sit at the base or on one or two sections of mast; common practice, no source.
AT_BASE, MAST_M, LONGEST_MAST = 0.4, (0.2, 1.4), 0.08  # chance, length, and most of it in wavelengths
STEP = 1e-4  # of ln f, for slopes of what lies below the coil
MANY_ON_GROUND = 0.3  # chance that nobody's radials are many on the ground; common practice, no source
UNTOLD_RADIALS = (1, 2, 3, 4, 6, 8, 16)
UNTOLD_WAVELENGTHS = (0.06, 0.26)


def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
    """Slope and curvature for each draw of a dip; a told coil weighs them."""
    n, w = seen.f_hz.size, 2 * np.pi * seen.f_hz
    angle = np.minimum(2 * np.pi * seen.wavelengths, 0.49 * np.pi)
    radius_m = RADIUS_M * np.exp(dice.normal(0, RADIUS_SPREAD, n))
    z0_ohm = monopole_impedance_ohm(seen.length_m, radius_m)
    below_ohm, below_slope = _below(seen, known, z0_ohm, dice)
    coil_ohm = np.maximum(z0_ohm / np.tan(angle) + below_ohm, 1.0)
    own = w * COIL_F * np.exp(dice.normal(0, COIL_F_SPREAD, n)) * coil_ohm
    whip = z0_ohm * reactance_slope(angle)
    moved = whip - IMPEDANCE_UNIT_OHM / np.tan(angle)
    slope = -moved / (whip + coil_ohm * (1 + 2 * own) + below_slope)
    slope *= np.exp(dice.normal(0, SLOPE_SPREAD, n))
    log_weight = np.zeros(n)
    if known.coil_h is not None:
        gap = np.log(coil_ohm / (1 + own) / (w * known.coil_h))
        log_weight = -0.5 * (gap / np.hypot(COIL_SIGMA, MODEL_SIGMA)) ** 2
    return LengthAnswer(slope, dice.normal(CURVATURE, CURVATURE_SIGMA, n), log_weight)


def _below(
    seen: Seen, known: Known, z0_ohm: FloatArray, dice: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Reactance that the coil must carry for mast and radials [ohm], and its slope over ln f."""
    n = seen.f_hz.size
    ohm, angle = _radials(seen, known, dice)
    longest_m = LONGEST_MAST * SPEED_OF_LIGHT_M_S / seen.f_hz
    mast_m = np.where(dice.random(n) < AT_BASE, 0.0, np.minimum(dice.uniform(*MAST_M, n), longest_m))
    mast = 2 * np.pi * seen.f_hz * mast_m / SPEED_OF_LIGHT_M_S

    def at(step: float) -> FloatArray:
        down = ohm / np.tan(angle * np.exp(step))
        turn = np.tan(mast * np.exp(step))
        return np.asarray(z0_ohm * (down - z0_ohm * turn) / (z0_ohm + down * turn))

    return at(0.0), (at(-STEP) - at(STEP)) / (2 * STEP)


def _radials(seen: Seen, known: Known, dice: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Impedance of all radials together as a line [ohm], 0 for many on the ground, and its angle [rad]."""
    n = seen.f_hz.size
    count = _count(known, n, dice)
    length = dice.uniform(*UNTOLD_WAVELENGTHS, n)
    if known.radial_length_m is not None:
        length = seen.f_hz * known.radial_length_m / SPEED_OF_LIGHT_M_S
    height_m = np.exp(dice.uniform(np.log(HEIGHT_M[0]), np.log(HEIGHT_M[1]), n))
    if known.radial_height_m is not None:
        height_m = max(known.radial_height_m, LEAST_HEIGHT_M) * np.exp(dice.normal(0, HEIGHT_SPREAD, n))
    depth_m = np.exp(dice.uniform(np.log(DEPTH_M[0]), np.log(DEPTH_M[1]), n))
    ohm, slowing = wire_over_soil(height_m, RADIAL_RADIUS_M, depth_m)
    angle = np.clip(2 * np.pi * length * slowing, *ANGLE_RANGE)
    shared = np.where(count > 1, SHARED_SOIL, 1.0) * np.exp(dice.normal(0, RADIAL_SPREAD, n))
    return shared * ohm / count, angle


def _count(known: Known, n: int, dice: np.random.Generator) -> FloatArray:
    """Radials on every draw; infinitely many stand for many on the ground."""
    if known.many_on_ground:
        return np.full(n, np.inf)
    if known.radials:
        return np.full(n, float(known.radials))
    raised = dice.choice(UNTOLD_RADIALS, n).astype(np.float64)
    many = MANY_ON_GROUND if known.radial_length_m is None else 0.0
    return np.where(dice.random(n) < many, np.inf, raised)


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
    usual=Usual(r_ohm=(8.0, 50.0), q=(11.0, 145.0), bandwidth=(0.0, 0.062), resonance="series", overtones=()),
    answer=answer,
    basis="the physics of whip, coil and radials",
)
