"""Where the reactance passes zero, with R and Q there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.dips import FIT_REACH
from sweepkit.analysis.fits import Ensemble, Fits, is_settled
from sweepkit.analysis.local import fits_near
from sweepkit.analysis.windows import Stack
from sweepkit.conversions import FloatArray, IndexArray, z_from_gamma

HYSTERESIS_IN_NOISE = 3.0  # a crossing counts when both sides get this far from zero
WIDEST_WINDOW = 0.15  # first half-width of the fit over the frequency; the fit narrows it [-]
Q_REACH = 0.45  # half-width of a second, narrower window for Q, which is a slope, over the first [-]
NARROWED_ENOUGH = 0.7  # windows nearer in width than this tell noise, not what the model leaves out [-]


class Resonances(NamedTuple):
    """Zeros of the reactance of measured curves, in rising order in each: fits round them, narrower ones for Q.

    Of the zeros, ``is_series`` are of a series resonance, the others of a parallel one.
    """

    fits: Fits
    slope_fits: Fits
    is_series: NDArray[np.bool_]


class ResonanceDraws(NamedTuple):
    """Frequency [Hz], resistance [ohm] and Q [-] on every draw, (rows, draws); NaN where a draw has no zero there."""

    f_hz: FloatArray
    r_ohm: FloatArray
    q: FloatArray


def find_resonances(stack: Stack) -> Resonances:
    """Zeros of the reactance that measured curves at the feedpoint cross with more than noise."""
    f_hz = stack.f_hz
    which, start_hz = _crossings_hz(f_hz, stack.gamma.imag, HYSTERESIS_IN_NOISE * stack.noise)
    fits = _settled_fits(stack, which, start_hz)
    u = moebius.nearest(moebius.reactance_zeros(fits.model), 0.0)
    found_hz = moebius.frequency(u, fits.centre_hz)
    there = (found_hz >= f_hz[0]) & (found_hz <= f_hz[-1])
    fits, u = fits.rows(there), u[there]
    with np.errstate(divide="ignore", invalid="ignore"):
        x_slope = (moebius.slope(fits.model, u) / (1 - moebius.value(fits.model, u)) ** 2).imag
    slope_fits = fits_near(stack, fits.which, fits.centre_hz, Q_REACH * fits.width_hz / 2)
    return Resonances(fits, slope_fits, x_slope > 0)


def resonance_draws(
    resonances: Resonances, reference_ohm: float, stack: Stack, ensembles: Sequence[Ensemble] | None
) -> ResonanceDraws:
    """Frequency, R and Q = f/(2R) |dZ/df| on every draw, shape (rows, draws).

    Q is Q_Z of Yaghjian and Best, IEEE Trans. Antennas Propag. 53(4), 1298-1324, 2005, eq. 96, at resonance. What the
    model leaves out grows with the square of the window, so Q of two windows is carried on to a window of no width.
    """
    fits, narrow = resonances.fits, resonances.slope_fits
    model, centre_hz = fits.on(stack, ensembles), fits.centre_hz[:, np.newaxis]
    nominal = moebius.nearest(moebius.reactance_zeros(fits.model), 0.0)[:, np.newaxis]
    u = moebius.nearest(moebius.reactance_zeros(model), nominal)
    reach = 2 * np.abs(fits.u_ends).max(axis=0)[:, np.newaxis]
    u = np.where(np.abs(u) <= reach, u, np.nan)
    r_ohm = z_from_gamma(moebius.value(model, u), reference_ohm).real
    q_wide, q_narrow = (_q(m, u, centre_hz) for m in (model, narrow.on(stack, ensembles)))
    share = (np.ptp(narrow.u_ends, axis=0) / np.ptp(fits.u_ends, axis=0))[:, np.newaxis]
    with np.errstate(divide="ignore", invalid="ignore"):
        carried = q_narrow + (q_narrow - q_wide) * share**2 / (1 - share**2)
    return ResonanceDraws(
        moebius.frequency(u, centre_hz), r_ohm, np.where(share < NARROWED_ENOUGH, carried, q_narrow)
    )


def _q(model: moebius.Moebius, u: FloatArray, centre_hz: FloatArray) -> FloatArray:
    """Q of fits at their coordinates u, shape (rows, draws)."""
    f_hz = moebius.frequency(u, centre_hz)
    du_df = 1 / centre_hz + centre_hz / f_hz**2
    gamma = moebius.value(model, u)
    with np.errstate(divide="ignore", invalid="ignore"):  # NaN stays NaN, an open has no Q
        dz_df = 2 * moebius.slope(model, u) / (1 - gamma) ** 2 * du_df  # over the reference, as is R below
        return np.asarray(f_hz / (2 * z_from_gamma(gamma, 1.0).real) * np.abs(dz_df))


def _crossings_hz(
    f_hz: FloatArray, values: FloatArray, hysteresis: FloatArray
) -> tuple[IndexArray, FloatArray]:
    """Where the values of each row change sign for good: the row, and the frequency."""
    row, at = np.nonzero(np.abs(values) > hysteresis)
    above = values[row, at] > 0
    changes = np.flatnonzero((above[1:] != above[:-1]) & (row[1:] == row[:-1]))
    crossings_hz = np.empty(changes.size)
    for k, change in enumerate(changes.tolist()):
        last, here = int(at[change]), int(at[change + 1])
        between = values[row[change], last : here + 1]
        reached = between > 0 if above[change + 1] else between < 0
        crossing = last + int(np.argmax(reached))
        crossings_hz[k] = (f_hz[max(crossing - 1, 0)] + f_hz[crossing]) / 2
    return row[changes], crossings_hz


def _settled_fits(stack: Stack, which: IndexArray, start_hz: FloatArray) -> Fits:
    """Fits no wider than one SWR-2 bandwidth to each side, centred on the zeros."""
    fits = fits_near(stack, which, start_hz, WIDEST_WINDOW * start_hz)
    active = np.arange(which.size)
    for _ in range(3):
        now, first_hz = fits.rows(active), start_hz[active]
        own_hz = FIT_REACH * moebius.loaded_half_width(now.model) * now.centre_hz / 2
        used_hz = now.width_hz / 2
        u = moebius.nearest(moebius.reactance_zeros(now.model), 0.0)
        found_hz = moebius.frequency(u, now.centre_hz)
        centre_hz = np.where(np.abs(found_hz - first_hz) <= 2 * used_hz, found_hz, first_hz)
        half_hz = np.minimum(own_hz, np.maximum(used_hz, 1.0))
        moves = np.flatnonzero(~is_settled(stack, now, centre_hz, half_hz))
        if not moves.size:
            break
        active = active[moves]
        moved = fits_near(stack, which[active], centre_hz[moves], half_hz[moves])
        fits = fits.replaced(active, moved)
    return fits
