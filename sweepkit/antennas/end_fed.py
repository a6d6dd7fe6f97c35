"""End-fed half wave through its transformer: the whole wire is trimmed, at its far end.

The wire is a parallel resonance: near it the end of an open line of impedance Zw shows -Zw cot(kL), in series with X of
what the box works against, counterpoise and coax. The box lies across both with its winding capacitance C and
magnetising inductance M, a susceptance B = wC - 1/(wM), so that at the dip

    kL = pi - t,  tan t = Zw B / (1 - X B),  d ln f / d ln L = -kL / (kL + dt / d ln f).

The capacitance acts like up to Zw c C of wire that nobody trims: a metre or so on every band, which is little of a long
wire and much of a short one; a short counterpoise, whose X is large and negative, leaves less of it. It also makes the
wire of a dip shorter, so that the told length tells of it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sweepkit.antennas.kind import Kind, Known, LengthAnswer, Seen, Usual
from sweepkit.antennas.wires_used import draw_wires
from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

# Bare wire through an ideal box over real ground, models of our own (tests/data/models/length_answers.csv):
WIRE_SLOPE, WIRE_SLOPE_SIGMA = -1.012, 0.013  # d ln f / d ln L
WIRE_LENGTH = 0.474  # wavelengths at the dip
# Of its logarithm, Student's t: counterpoise and coax move it by 5 %, trade
LENGTH_SIGMA, LENGTH_FREEDOM = 0.018, 4
WIRE_CURVATURE_SIGMA = 0.065
WIRE_OHM, WIRE_OHM_SPREAD = 560.0, 0.10  # 60 ln(2 h/a) of thin wire 3 to 15 m up; logarithmic spread
# Winding capacitance of a 49:1 transformer, 3 to 12 pF; its inductance as that of 2 or 3 turns on a ferrite ring.
# Common practice, no source.
WINDING_F, WINDING_SPREAD = 6e-12, 0.45
MAGNETISING_H, MAGNETISING_SPREAD = 6e-6, 0.5  # at the 50 ohm side
USUAL_RATIO = 49.0
# What the box works against: a counterpoise wire, 60 ln(2h/a) of half a metre to two of height, and the coax along the
# ground as far as to a choke, slowed by it and lossy; what nobody tells is drawn. Common practice, no source.
COUNTERPOISE_OHM, COUNTERPOISE_SPREAD, COUNTERPOISE_M = 420.0, 0.15, (0.3, 4.0)
COAX_OHM, COAX_SPREAD, COAX_M, COAX_SLOWING = 280.0, 0.25, (1.0, 15.0), 1.15
COAX_LOSS = 0.15  # per radian of the way there
CHOKED = 0.4  # chance of a choke at the box
STEP = 1e-4  # of ln f, for the slope of t
# Current on the coax brings the slope towards zero, by 0.02 in the middle, with a long tail (logarithmic spread): where
# the coax is near a resonance of its own the dip is as much the coax's. Leakage and compensation of the box move it
# either way. Models of our own.
SHIELD, SHIELD_SPREAD, REST_SIGMA = 0.02, 1.2, 0.012
INSULATED, INSULATION = 0.5, (0.0, 0.04)  # chance, and by how much the wire dips shorter; common practice


def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
    """Slope and curvature for each draw of a dip; the told length weighs what the box may be like."""
    n, w = seen.f_hz.size, 2 * np.pi * seen.f_hz
    ratio = known.transformer or USUAL_RATIO
    boxed = float(ratio != 1)  # without a transformer nothing lies across the wire
    wire_ohm = WIRE_OHM * np.exp(dice.normal(0, WIRE_OHM_SPREAD, n))
    winding_f = WINDING_F * np.exp(dice.normal(0, WINDING_SPREAD, n))
    magnetising_h = ratio * MAGNETISING_H * np.exp(dice.normal(0, MAGNETISING_SPREAD, n))
    other = _other_half(seen, known, dice)

    def turn(step: float) -> FloatArray:
        at = w * np.exp(step)
        box_s = boxed * (at * winding_f - 1 / (at * magnetising_h))
        return np.asarray(np.arctan2(wire_ohm * box_s, 1 - other(step) * box_s))

    angle = np.maximum(np.pi - turn(0.0), 0.5)
    shared = angle / (angle + np.maximum((turn(STEP) - turn(-STEP)) / (2 * STEP), -0.5))
    slope = dice.normal(WIRE_SLOPE, WIRE_SLOPE_SIGMA, n) * shared
    slope += SHIELD * np.exp(dice.normal(0, SHIELD_SPREAD, n)) + dice.normal(0, REST_SIGMA, n)
    shorter = np.where(dice.random(n) < INSULATED, dice.uniform(*INSULATION, n), 0.0)
    if known.wire is not None:
        shorter = np.log(draw_wires(n, dice, known.wire).slowing(SPEED_OF_LIGHT_M_S / seen.f_hz))
    foretold = np.log(WIRE_LENGTH * angle / np.pi) - shorter
    gap = (np.log(seen.wavelengths) - foretold) / LENGTH_SIGMA
    log_weight = -(LENGTH_FREEDOM + 1) / 2 * np.log1p(gap**2 / LENGTH_FREEDOM)
    return LengthAnswer(slope, dice.normal(0, WIRE_CURVATURE_SIGMA, n), log_weight)


def _other_half(seen: Seen, known: Known, dice: np.random.Generator) -> Callable[[float], FloatArray]:
    """Reactance that the box works against, on every draw, over a step of ln f. [ohm]"""
    n, k = seen.f_hz.size, 2 * np.pi * seen.f_hz / SPEED_OF_LIGHT_M_S
    wire_m = np.exp(dice.uniform(np.log(COUNTERPOISE_M[0]), np.log(COUNTERPOISE_M[1]), n))
    if known.counterpoise_m:
        wire_m = np.full(n, known.counterpoise_m)
    coax_m = np.where(
        dice.random(n) < CHOKED, 0.0, np.exp(dice.uniform(np.log(COAX_M[0]), np.log(COAX_M[1]), n))
    )
    if known.choke_at_m is not None:
        coax_m = np.full(n, min(known.choke_at_m, COAX_M[1]))
    wire_ohm = COUNTERPOISE_OHM * np.exp(dice.normal(0, COUNTERPOISE_SPREAD, n))
    coax_ohm = COAX_OHM * np.exp(dice.normal(0, COAX_SPREAD, n))

    def x_ohm(step: float) -> FloatArray:
        at = k * np.exp(step)
        coax = np.tan(at * coax_m * (COAX_SLOWING - 1j * COAX_LOSS))
        return np.asarray((1 / (1j * (np.tan(at * wire_m * (1 - 0.02j)) / wire_ohm + coax / coax_ohm))).imag)

    return x_ohm


KIND = Kind(
    name="end-fed",
    title="an end-fed half wave",
    part="wire",
    parts=1,
    move="fold",
    where="at the far end of the wire",
    length_range=(0.34, 0.56),  # the winding's capacitance shortens the wire of a high band most
    length_usual=(0.458, 0.06),
    repeatability=0.004,  # as a dipole, with counterpoise and coax laid as before
    usual=Usual(
        r_ohm=(30.0, 115.0),
        q=(7.0, 30.0),
        bandwidth=(0.0, 0.092),
        resonance="parallel",
        overtones=(2.05, 3.11, 4.16),  # (n - 0.05) / 0.95: the end effect acts once per wire
    ),
    answer=answer,
    basis="the physics of wire and box",
)
