"""A trap dipole's leg as open lines with traps between them: what a metre of each section does to each dip.

From the far end inwards X = -Z0 cot(kl); a trap adds its reactance in series; a line turns it,
X_in = Z0 (X + Z0 t) / (Z0 - X t), t = tan(kl) (Pozar 2012, section 2.3). A dip lies where X = 0. At a trap's resonance
the sections further out hardly count, and the trap holds the dip fast; below it the trap is a coil that loads them, so
that a metre out there is worth more than one inside.
"""

from __future__ import annotations

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

WIRE_OHM, WIRE_SPREAD = 520.0, 0.08  # of one leg, 60 (ln(2 l/a) - 1) of thin wire; logarithmic
# Reactance of a trap's capacitor at its resonance: 30 to 110 pF at 7 MHz, alike at other bands; trade, no one source.
TRAP_OHM = (200.0, 800.0)
TUNED_SIGMA = 0.02  # of how far a trap is tuned off the place of its section; common practice, no source
LONGER, LONGER_SIGMA = 1.035, 0.025  # electrical over told length: insulation along it, end effect at its end
REST_SIGMA = 0.03  # of a slope, beside all this: models of our own
CANDIDATES = 4000  # draws of wire and traps before the dips weigh them
LEAST_DRAWS, MOST_OFF = 40, 12.0  # that many must show the dips, within five sigma: fewer tell nothing
TRIED = np.linspace(0.93, 1.15, 56)  # of the same
STEP = 1e-4  # of frequency, and in metres, for slopes


def trap_slopes(
    length_m: FloatArray, dip_hz: FloatArray, place_hz: FloatArray, n: int, dice: np.random.Generator
) -> FloatArray | None:
    """d ln f of each dip per metre of each section, shape (n, places, sections), the middle one first [1/m].

    On draws of wire and traps that show the dips; ``None`` where none do. ``length_m`` is from feed to trap, the last
    to the far end, rising; ``place_hz`` is where each trap should be tuned.
    """
    tries = CANDIDATES
    wire = WIRE_OHM * np.exp(dice.normal(0, WIRE_SPREAD, tries))
    at_end = dice.random(tries)  # which part of what it acts longer by lies at the far end
    traps = place_hz.size - 1
    ohm = np.exp(dice.uniform(np.log(TRAP_OHM[0]), np.log(TRAP_OHM[1]), (tries, traps)))
    tuned_hz = place_hz[:-1] * np.exp(dice.normal(0, TUNED_SIGMA, (tries, traps)))
    sections = np.diff(length_m, prepend=0.0)
    log_weight = np.zeros(tries)
    longer = np.empty((tries, place_hz.size))
    for p, f_hz in enumerate(dip_hz):
        longer[:, p] = _resonant(f_hz, sections, at_end, wire, ohm, tuned_hz)
        off = (longer[:, p] - LONGER) / LONGER_SIGMA
        log_weight -= np.where(np.isfinite(off), 0.5 * np.nan_to_num(off) ** 2, np.inf)
    if np.count_nonzero(log_weight > -MOST_OFF) < LEAST_DRAWS:
        return None
    weight = np.exp(log_weight - log_weight.max())
    weight = weight ** (1 if weight.sum() ** 2 / (weight**2).sum() > LEAST_DRAWS else 0.25)
    taken = dice.choice(tries, n, p=weight / weight.sum())
    wire, ohm, tuned_hz, longer = wire[taken], ohm[taken], tuned_hz[taken], longer[taken]
    at_end = at_end[taken]
    slopes = np.empty((n, place_hz.size, sections.size))
    for p, f_hz in enumerate(dip_hz):
        acts = _acting(sections, longer[:, p], at_end)
        ends = [_leg_ohm(f_hz * (1 + step), acts, wire, ohm, tuned_hz) for step in (-STEP, STEP)]
        per_ln_f = (ends[1] - ends[0]) / (2 * STEP)
        slower = 1 + (1 - at_end) * (longer[:, p] - 1)
        for q in range(sections.size):
            more = acts + STEP * (np.arange(sections.size) == q)
            per_m = (
                _leg_ohm(f_hz, more, wire, ohm, tuned_hz) - _leg_ohm(f_hz, acts, wire, ohm, tuned_hz)
            ) / STEP
            slopes[:, p, q] = -per_m * slower / per_ln_f
    slopes *= 1 + dice.normal(0, REST_SIGMA, slopes.shape)
    slopes = np.clip(slopes, -MOST / sections, 0.0)
    slopes[0] = np.median(slopes, axis=0)
    return slopes


MOST = 2.0  # no section moves a dip by more than twice its share of itself


def _acting(sections: FloatArray, longer: FloatArray, at_end: FloatArray) -> FloatArray:
    """Lengths of the sections as they act, shape (draws, sections). [m]"""
    more = longer - 1
    acts = sections * (1 + (1 - at_end) * more)[:, np.newaxis]
    acts[:, -1] += at_end * more * sections.sum()
    return np.asarray(acts)


def _leg_ohm(
    f_hz: FloatArray | float, section_m: FloatArray, wire: FloatArray, ohm: FloatArray, tuned_hz: FloatArray
) -> FloatArray:
    """Reactance of one leg at the feed, shape (draws,). [ohm]"""
    k = 2 * np.pi * np.asarray(f_hz) / SPEED_OF_LIGHT_M_S
    x = -wire / np.tan(k * section_m[..., -1])
    for number in range(section_m.shape[-1] - 2, -1, -1):
        ratio = f_hz / tuned_hz[:, number]
        x = x + ohm[:, number] / (1 / ratio - ratio)  # parallel: X = X_C / (f0/f - f/f0)
        t = np.tan(k * section_m[..., number])
        x = wire * (x + wire * t) / (wire - x * t)
    return np.asarray(x)


def _resonant(
    f_hz: float,
    sections: FloatArray,
    at_end: FloatArray,
    wire: FloatArray,
    ohm: FloatArray,
    tuned_hz: FloatArray,
) -> FloatArray:
    """By how much longer the leg acts, for its reactance to pass zero at a dip; nearest to usual, NaN where none."""
    scales = [np.full(at_end.shape, scale) for scale in TRIED]
    x = np.stack(
        [_leg_ohm(f_hz, _acting(sections, one, at_end), wire, ohm, tuned_hz) for one in scales], axis=1
    )
    rises = (x[:, :-1] < 0) & (x[:, 1:] >= 0)
    at = TRIED[:-1] + (TRIED[1] - TRIED[0]) * np.where(
        rises, -x[:, :-1] / np.where(rises, x[:, 1:] - x[:, :-1], 1), 0
    )
    gap = np.where(rises, np.abs(at - LONGER), np.inf)
    nearest = gap.argmin(axis=1)
    rows = np.arange(len(x))
    return np.where(np.isfinite(gap[rows, nearest]), at[rows, nearest], np.nan)
