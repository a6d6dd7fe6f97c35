"""What an antenna reflects beside its resonance, at least, behind a line."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import FloatArray
from sweepkit.feedline.propagation import DB_PER_NEPER
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

# Distance of the pole over the frequency, one over twice the loaded Q: wider, it is no resonance
WIDEST = 0.2
# Beside its resonance an antenna reflects at least so much; a long wire at its surge impedance less.
DETUNED_SHARE = 0.9
LOSSIEST_DB_M = 0.0264  # matched loss at 1 MHz of the lossiest usual line (RG-174, as in the table of lines)
USUAL_VELOCITY_FACTOR = 0.66  # solid polyethylene, 1/sqrt(2.3); foam is up to 0.88


def most_lost_np(f_hz: ArrayLike, delay_s: ArrayLike) -> FloatArray:
    """What the lossiest usual line with a round-trip delay takes of a reflection. [Np]"""
    length_m = np.asarray(delay_s) / 2 * SPEED_OF_LIGHT_M_S * USUAL_VELOCITY_FACTOR
    return np.asarray(2 * LOSSIEST_DB_M * np.sqrt(np.asarray(f_hz) / 1e6) * length_m / DB_PER_NEPER)


def least_detuned(f_hz: float, delay_s: float) -> float:
    """The smallest detuned reflection of an antenna behind a round-trip delay, of the lossiest usual line. [-]"""
    return float(DETUNED_SHARE * np.exp(-most_lost_np(f_hz, delay_s)))
