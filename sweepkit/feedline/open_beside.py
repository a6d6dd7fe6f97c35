"""A delay behind which an antenna reflects like an open, far from its resonance.

Reactance of dipole, vertical, whip and loop grows without end beside the resonance, so that the reflection there
tends to +1. A line turns this by 2π·f·delay, many times what the antenna itself does. The delay that the shape of the
sweep shows and one that ends at +1 meet by chance only, so both together show lines that are too short for the shape
alone: it can be that of a transformer or of a long wire, whose reflection ends anywhere.
"""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.one_resonance import WIDEST, behind_delays, least_detuned

LEAST_S = 20e-9  # round trip; 2 m of solid coax: a pigtail and a balun's own windings are shorter; our choice
LEAST_GAIN = 3.0  # a delay must leave so many times less unexplained than no delay
NEAR = 2.0  # and at most so many times what the best delay leaves: that is mostly noise
FIT_WELL = 0.01  # rms that it may leave: two resonances or a long wire leave more
TRIED = 3  # delays that end at an open, next to the best


def delay_to_open(f_hz: FloatArray, gamma: ComplexArray, delays_s: FloatArray) -> float | None:
    """Round-trip delay with an open at its end beside the resonance; ``None`` where none describes the sweep.

    The reflection round a dip is relative to the impedance of the line; the delays to try rise from 0.
    """
    behind = behind_delays(f_hz, gamma, delays_s)
    if not np.isfinite(behind.left).all():
        return None
    best = int(behind.left.argmin())
    ends_s = _ends_at_open(f_hz, delays_s, behind.detuned)
    if not ends_s.size or behind.left[0] < LEAST_GAIN * behind.left[best]:
        return None
    tried_s = ends_s[np.argsort(np.abs(ends_s - delays_s[best]))[:TRIED]]
    at = behind_delays(f_hz, gamma, tried_s)
    k = int(at.left.argmin())
    near = at.left[k] <= NEAR * behind.left[best] and behind.left[0] >= LEAST_GAIN * at.left[k]
    reflects = np.abs(at.detuned[k]) >= least_detuned(float(f_hz.mean()), float(tried_s[k]))
    good = near and reflects and at.left[k] <= FIT_WELL and at.width[k] <= WIDEST
    return float(tried_s[k]) if good else None


def _ends_at_open(f_hz: FloatArray, delays_s: FloatArray, detuned: ComplexArray) -> FloatArray:
    """Delays at which the phase of the detuned reflection is a whole number of turns."""
    turn = 2 * np.pi * float(f_hz.mean()) * delays_s
    turns = (np.unwrap(np.angle(detuned * np.exp(-1j * turn))) + turn) / (2 * np.pi)
    whole = np.arange(np.ceil(turns.min()), turns.max())[:, None]
    before, after = turns[:-1] - whole, turns[1:] - whole
    _, step = np.nonzero(before * after < 0)
    part = before[before * after < 0] / (before - after)[before * after < 0]
    ends_s = delays_s[step] + part * (delays_s[step + 1] - delays_s[step])
    return np.asarray(ends_s[ends_s >= LEAST_S])
