"""What sliding the curve of a wire leaves out: box, soil and the other half stay where they are.

Near a dip it is a change of the resistance there, so that it lies along the real axis of the reflection at the
feedpoint; across, the slope of the dip takes care of it. All here is per ln f of the slide, positive upwards.
"""

from __future__ import annotations

import numpy as np

from sweepkit.analysis.fits import complex_normal
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S
from sweepkit.several_bands.middle import middle_first

# Where no half wave is near, any direction, one sigma.
RESHAPED = 1.0
# An end-fed. A half wave up to a third of a wavelength high radiates more with frequency, so that its parallel
# resistance falls, but against coax that is as long as a good part of a quarter wave; with more half waves it goes
# either way. By how far down the coax the choke sits, over the wavelength; own models of 17 wires.
SHORT_COAX = 0.14
LOWEST_SHORT, LOWEST_LONG, LOWEST_UNTOLD = (-0.26, 0.13), (0.0, 0.15), (-0.15, 0.18)
WIRE_SIGMA = 0.13
# Leakage of the box and the capacitor across it, at 28 MHz: both step the resistance up, in proportion to frequency,
# and what boxes there are spreads with its square. Own draws of usual boxes, wire as a parallel resonance of 35 to 75
# ohm: 0.04, 0.07, 0.1 and 0.0, give or take 0.03, 0.05, 0.1 and 0.3, at 7, 14, 21 and 28 MHz.
BOX, BOX_SIGMA, BOX_HZ, ACROSS_SIGMA = 0.12, 0.25, 28e6, 0.1
# Where the other half takes a share t of the slope, its resonance also changes the resistance, by so much of t^2, and
# no more where wire and coax share a dip by halves; across, the dip goes with neither. The same wire models: 0.05 to
# 0.1 for a tenth, 0.5 to 1.2 for 0.19, 1.3 to 3.8 for 0.32, 0.8 to 6.8 for 0.4 and more.
TAKEN_SQUARED, TAKEN_SPREAD, MOST_TAKEN, ACROSS_TAKEN = -15.0, 0.8, 0.45, 2.5
# Right at that resonance the slope is hardly changed and the resistance is: one dip in eight of a wire against coax,
# never one of the lowest two. The same models.
AT_RESONANCE, AT_RESONANCE_SIGMA = 0.12, 0.6
# Overtones of dipoles, verticals and loops: no box, other heights in wavelengths; common practice, no source.
PLAIN_SIGMA, PLAIN_SIGMA_PER_ORDER = 0.2, 0.1


def anyhow(members: int, seed: int) -> ComplexArray:
    """Far from all dips: nothing in the middle, and any direction."""
    left_out = RESHAPED * complex_normal((members,), seed=seed)
    left_out[0] = 0.0
    return left_out


def end_fed_dip(
    order: int, f_hz: float, taken: FloatArray, seed: int, *, choke_m: float | None
) -> ComplexArray:
    """At a dip of ``order`` half waves, whose slope the other half takes ``taken`` of on every draw.

    ``choke_m``: how far down the coax a choke sits; ``None``: none, or nobody told.
    """
    dice, n, share = np.random.default_rng([seed, 47]), taken.size, f_hz / BOX_HZ
    along = dice.normal(*(_lowest(f_hz, choke_m) if order == 1 else (0.0, WIRE_SIGMA)), n)
    along += dice.normal(BOX * share, BOX_SIGMA * share**2, n)
    taken = np.clip(taken, 0.0, MOST_TAKEN)
    along += TAKEN_SQUARED * taken**2 * np.exp(dice.normal(0, TAKEN_SPREAD, n))
    if choke_m != 0 and order > 2:
        along += np.where(dice.random(n) < AT_RESONANCE, dice.normal(0, AT_RESONANCE_SIGMA, n), 0.0)
    across = dice.normal(0, ACROSS_SIGMA + ACROSS_TAKEN * taken, n)
    return middle_first(along) + 1j * middle_first(across)


def _lowest(f_hz: float, choke_m: float | None) -> tuple[float, float]:
    """Of the lowest half wave, middle and one sigma."""
    if choke_m is None:
        return LOWEST_UNTOLD
    return LOWEST_SHORT if choke_m * f_hz / SPEED_OF_LIGHT_M_S < SHORT_COAX else LOWEST_LONG


def plain_dip(order: int, members: int, seed: int) -> ComplexArray:
    """At the first dip of an antenna without a box (order 1), or at an overtone."""
    dice = np.random.default_rng([seed, 47])
    along = dice.normal(0, PLAIN_SIGMA + PLAIN_SIGMA_PER_ORDER * (order - 1), members)
    return middle_first(along) + 1j * middle_first(dice.normal(0, ACROSS_SIGMA, members))


def turned_anyhow(stray: ComplexArray, seed: int) -> ComplexArray:
    """The same at a plane whose phase tells nothing of the feedpoint: as much towards the match, in any direction."""
    turn = np.random.default_rng([seed, 53]).uniform(0, 2 * np.pi, stray.size)
    turned = np.sqrt(2) * np.abs(stray) * np.exp(1j * turn)
    turned[0] = 0.0
    return np.asarray(turned)
