"""End-fed half wave through its transformer: the whole wire is trimmed, at its far end.

The wire is a parallel resonance: near it the end of an open line of impedance Zw has the susceptance
(kL - pi) / Zw. The box lies across it with its winding capacitance C and magnetising inductance M, so that
kL = pi - Zw (wC - 1/(wM)) at the dip, and

    d ln f / d ln L = -kL / (kL + Zw (wC + 1/(wM))).

The capacitance acts like Zw c C of wire that nobody trims: a metre or so on every band, which is little of a long
wire and much of a short one. It also makes the wire of a dip shorter, so that the told length tells of it.
"""

from __future__ import annotations

import numpy as np

from sweepkit.antennas.kind import Kind, Known, LengthAnswer, Seen, Usual

# Bare wire through an ideal box over real ground, models of our own (tests/data/models/length_answers.csv):
WIRE_SLOPE, WIRE_SLOPE_SIGMA = -1.012, 0.013  # d ln f / d ln L
WIRE_LENGTH = 0.474  # wavelengths at the dip
LENGTH_SIGMA, LENGTH_FREEDOM = (
    0.018,
    4,
)  # of its logarithm, Student's t: counterpoise and coax move it by 5 %, trade
WIRE_CURVATURE_SIGMA = 0.065
WIRE_OHM, WIRE_OHM_SPREAD = 560.0, 0.10  # 60 ln(2 h/a) of thin wire 3 to 15 m up; logarithmic spread
# Winding capacitance of a 49:1 transformer, 3 to 12 pF; its inductance as that of 2 or 3 turns on a ferrite ring.
# Common practice, no source.
WINDING_F, WINDING_SPREAD = 6e-12, 0.45
MAGNETISING_H, MAGNETISING_SPREAD = 6e-6, 0.5  # at the 50 ohm side
USUAL_RATIO = 49.0
# Current on the coax brings the slope towards zero, by 0.02 or so (half-normal); leakage and compensation of the
# box move it either way: models of our own.
SHIELD, REST_SIGMA = 0.03, 0.012
INSULATED, INSULATION = 0.5, (0.0, 0.04)  # chance, and by how much the wire dips shorter; common practice


def answer(seen: Seen, known: Known, dice: np.random.Generator) -> LengthAnswer:
    """Slope and curvature for each draw of a dip; the told length weighs what the box may be like."""
    n, w = seen.f_hz.size, 2 * np.pi * seen.f_hz
    ratio = known.transformer or USUAL_RATIO
    boxed = float(ratio != 1)  # without a transformer nothing lies across the wire
    wire_ohm = WIRE_OHM * np.exp(dice.normal(0, WIRE_OHM_SPREAD, n))
    winding_f = WINDING_F * np.exp(dice.normal(0, WINDING_SPREAD, n))
    magnetising_h = ratio * MAGNETISING_H * np.exp(dice.normal(0, MAGNETISING_SPREAD, n))
    capacitive, inductive = boxed * wire_ohm * w * winding_f, boxed * wire_ohm / (w * magnetising_h)
    angle = np.maximum(np.pi - capacitive + inductive, 0.5)
    shared = angle / (angle + capacitive + inductive)
    slope = dice.normal(WIRE_SLOPE, WIRE_SLOPE_SIGMA, n) * shared
    slope += np.abs(dice.normal(0, SHIELD, n)) + dice.normal(0, REST_SIGMA, n)
    insulation = np.where(dice.random(n) < INSULATED, dice.uniform(*INSULATION, n), 0.0)
    foretold = np.log(WIRE_LENGTH * angle / np.pi) - insulation
    gap = (np.log(seen.wavelengths) - foretold) / LENGTH_SIGMA
    log_weight = -(LENGTH_FREEDOM + 1) / 2 * np.log1p(gap**2 / LENGTH_FREEDOM)
    return LengthAnswer(slope, dice.normal(0, WIRE_CURVATURE_SIGMA, n), log_weight)


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
