"""Where a reflection curve dips: local minima that stand out, never the edge of the sweep."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.local import Ensemble, LocalFit, fit_near
from sweepkit.conversions import ComplexArray, FloatArray

PROMINENCE_IN_NOISE = 6.0  # a dip stands out by this many times the noise ...
PROMINENCE_LEAST = 0.02  # ... and by the ripple, trough to crest, of a 40 dB directivity error
FIT_REACH = 1.4  # half-width of the fit over the loaded half-width: about one SWR-2 bandwidth to each side
SETTLING = 3
HALF_OF_MATCHED = 2**0.5  # half of the loaded bandwidth over the matched SWR-2 width; exact for a resonator
SWR_2_POWER_LOST = 1 / 9  # |gamma|^2 at SWR 2 [-]
SWR_2_DETUNING = 8**0.5  # frequency over matched SWR-2 width and loaded Q; exact for a resonator


class Dip(NamedTuple):
    """A dip of the measured curve: its sample, the valley it lies in and the fit round it.

    ``first`` and ``last`` are the indices of the highest points to its left and right.
    """

    sample: int
    first: int
    last: int
    fit: LocalFit


def find_dip_samples(
    magnitude: FloatArray, *, noise: FloatArray, least: float = PROMINENCE_LEAST
) -> list[tuple[int, int, int]]:
    """Minima from which the curve rises on both sides by more than noise can.

    Parameters
    ----------
    magnitude : float array, shape (n,)
        Magnitude of the reflection. [-]
    noise : float array, shape (n,)
        Rms of the complex noise at each point. [-]
    least : float
        Smallest rise that counts. [-]

    Returns
    -------
    list of (int, int, int)
        Index of each minimum, and of the highest points to its left and right, in rising order.
    """
    rise = np.maximum(PROMINENCE_IN_NOISE * noise, least)
    turns = _turning_points(magnitude, rise)
    dips = []
    for before, here, after in zip(turns, turns[1:], turns[2:], strict=False):
        if magnitude[here] < magnitude[before] and magnitude[here] < magnitude[after]:
            dips.append((here, before, after))
    return dips


def fit_dip(
    f_hz: FloatArray,
    gamma: ComplexArray,
    trust: FloatArray,
    place: tuple[int, int, int],
    noise: FloatArray,
) -> Dip:
    """Fit the curve round a dip, with a window about one SWR-2 bandwidth to each side.

    Parameters
    ----------
    f_hz, gamma, trust
        As for :func:`sweepkit.analysis.local.fit_window`.
    place : (int, int, int)
        One entry of :func:`find_dip_samples`.
    noise : float array, shape (n,)
        Rms of the complex noise at each point. [-]

    Returns
    -------
    Dip
        The dip and its fit.
    """
    sample, first, last = place
    half_width_hz = _first_half_width_hz(f_hz, np.abs(gamma), place)
    centre_hz = float(f_hz[sample])
    fit = fit_near(f_hz, gamma, trust, centre_hz, half_width_hz, noise)
    for _ in range(SETTLING):
        found_hz = float(moebius.frequency(moebius.smallest_magnitude(fit.model), centre_hz))
        reach_hz = float(np.max(np.abs(f_hz[fit.points] - centre_hz)))
        if not (f_hz[first] < found_hz < f_hz[last] and abs(found_hz - centre_hz) < reach_hz):
            break
        width_hz = FIT_REACH * loaded_reach_hz(fit)
        centre_hz = found_hz
        half_width_hz = min(width_hz, max(f_hz[last] - found_hz, found_hz - f_hz[first]))
        fit = fit_near(f_hz, gamma, trust, centre_hz, half_width_hz, noise)
    return Dip(sample, first, last, fit)


def matched_width_hz(fit: LocalFit) -> float:
    """SWR-2 width that a dip would have if it were matched at its bottom.

    Between the frequencies at which the power taken in has fallen by the ninth that SWR 2 costs. Only magnitudes
    tell: a delay in the sweep, or one taken out of it, makes the loaded width of the model anything.

    Parameters
    ----------
    fit : LocalFit
        Fit round a dip.

    Returns
    -------
    float
        Width, at most the frequency itself. [Hz]
    """
    width_hz = float(matched_widths_hz(fit.model, fit.centre_hz))
    return min(width_hz, fit.centre_hz) if np.isfinite(width_hz) else fit.centre_hz


def matched_widths_hz(model: moebius.Moebius, centre_hz: float) -> FloatArray:
    """The same on every draw of a model, shape (...,); NaN where there is none. [Hz]"""
    bottom = np.abs(moebius.value(model, moebius.smallest_magnitude(model)))
    taken = np.maximum(1 - bottom**2, 0.0)
    ends = moebius.magnitude_crossings(model, np.sqrt(1 - (1 - SWR_2_POWER_LOST) * taken))
    return np.asarray(np.ptp(moebius.frequency(ends, centre_hz), axis=-1))


def loaded_reach_hz(fit: LocalFit) -> float:
    """Half of the loaded bandwidth of a dip: how far from it the power taken in has fallen by half.

    Parameters
    ----------
    fit : LocalFit
        Fit round a dip.
    """
    return HALF_OF_MATCHED * matched_width_hz(fit)


def dip_frequencies(dip: Dip, f_hz: FloatArray, ensemble: Ensemble) -> tuple[FloatArray, ComplexArray]:
    """Frequency of the smallest reflection, and that reflection, on every draw.

    Parameters
    ----------
    dip : Dip
        A dip of the measured curve.
    f_hz : float array, shape (n,)
        Frequency of the sweep. [Hz]
    ensemble : Ensemble
        Reflection of every draw.

    Returns
    -------
    f_dip_hz : float array, shape (draws,)
        NaN where a draw's minimum leaves the valley. [Hz]
    gamma : complex array, shape (draws,)
        Reflection there. [-]
    """
    model = dip.fit.on(ensemble)
    u = moebius.smallest_magnitude(model)
    f_dip_hz = moebius.frequency(u, dip.fit.centre_hz)
    inside = (f_dip_hz > f_hz[dip.first]) & (f_dip_hz < f_hz[dip.last])
    gamma = np.where(inside, moebius.value(model, u), np.nan)
    return np.where(inside, f_dip_hz, np.nan), gamma


def _turning_points(values: FloatArray, rise: FloatArray) -> list[int]:
    """Alternating highs and lows that differ by at least ``rise``, and the extremes at both ends."""
    turns: list[int] = []
    low = high = 0
    direction = 0  # 0: not known yet, 1: rising since the last low, -1: falling since the last high
    for i, (value, least) in enumerate(zip(values.tolist(), rise.tolist(), strict=True)):
        if value > values[high]:
            high = i
        if value < values[low]:
            low = i
        if direction >= 0 and values[high] - value >= least:
            turns.append(high)
            direction, low, high = -1, i, i
        elif direction <= 0 and value - values[low] >= least:
            turns.append(low)
            direction, low, high = 1, i, i
    if direction:
        turns.append(high if direction > 0 else low)
    return turns


def _first_half_width_hz(f_hz: FloatArray, magnitude: FloatArray, place: tuple[int, int, int]) -> float:
    """Half the width of the valley below a level a little above its bottom."""
    sample, first, last = place
    bottom = magnitude[sample]
    shoulder = min(magnitude[first], magnitude[last])
    level = bottom + 0.5 * (shoulder - bottom)
    valley = slice(first, last + 1)
    below = np.flatnonzero(magnitude[valley] <= level) + first
    return float(max(f_hz[below[-1]] - f_hz[below[0]], f_hz[last] - f_hz[last - 1])) / 2
