"""Where a reflection curve dips: local minima that stand out, never the edge of the sweep."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.analysis.local import Ensemble, LocalFit, Measured, complex_normal, fit_near
from sweepkit.conversions import ComplexArray, FloatArray

PROMINENCE_IN_NOISE = 6.0  # a dip stands out by this many times the noise ...
PROMINENCE_LEAST = 0.02  # ... and by the ripple, trough to crest, of a 40 dB directivity error
FIT_REACH = 1.4  # half-width of the fit over the loaded half-width: about one SWR-2 bandwidth to each side
SETTLING = 3
HALF_OF_MATCHED = 2**0.5  # half of the loaded bandwidth over the matched SWR-2 width; exact for a resonator
SPREAD_DRAWS = 200  # curves that the noise of a fit is tried on
COVERAGE = (0.025, 0.975)
RESOLVED_SHARE = 0.1  # of its width a dip may be uncertain by, end to end; common practice, no source
SWR_2_POWER_LOST = 1 / 9  # |gamma|^2 at SWR 2 [-]
SWR_2_DETUNING = 8**0.5  # frequency over matched SWR-2 width and loaded Q; exact for a resonator


class Dip(NamedTuple):
    """A dip of the measured curve: its sample, the valley it lies in, the fit round it and its width.

    ``first`` and ``last`` are the indices of the highest points to its left and right. ``width_hz`` is the SWR 2
    width that it would have if it were matched at its bottom; where neither model nor curve rises so far, that of
    its valley.
    """

    sample: int
    first: int
    last: int
    fit: LocalFit
    width_hz: float

    @property
    def reach_hz(self) -> float:
        """Half of the loaded bandwidth: how far away the power taken in has fallen by half. [Hz]"""
        return HALF_OF_MATCHED * self.width_hz


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


def fit_dip(curve: Measured, place: tuple[int, int, int]) -> Dip:
    """Fit the curve round a dip, with a window about one SWR-2 bandwidth to each side.

    Parameters
    ----------
    curve : Measured
        The measured curve.
    place : (int, int, int)
        One entry of :func:`find_dip_samples`.

    Returns
    -------
    Dip
        The dip and its fit.
    """
    sample, first, last = place
    f_hz = curve.f_hz
    half_width_hz = _first_half_width_hz(f_hz, np.abs(curve.gamma), place)
    centre_hz = float(f_hz[sample])
    fit = fit_near(curve, centre_hz, half_width_hz)
    for _ in range(SETTLING):
        found_hz = float(moebius.frequency(moebius.smallest_magnitude(fit.model), centre_hz))
        reach_hz = float(np.max(np.abs(f_hz[fit.points] - centre_hz)))
        if not (f_hz[first] < found_hz < f_hz[last] and abs(found_hz - centre_hz) < reach_hz):
            break
        width_hz = FIT_REACH * HALF_OF_MATCHED * _width_hz(curve, place, fit)
        centre_hz = found_hz
        half_width_hz = min(width_hz, max(f_hz[last] - found_hz, found_hz - f_hz[first]))
        fit = fit_near(curve, centre_hz, half_width_hz)
    return Dip(sample, first, last, fit, _width_hz(curve, place, fit))


def matched_width_hz(fit: LocalFit) -> float | None:
    """SWR-2 width that a dip would have if it were matched at its bottom.

    Between the frequencies at which the power taken in has fallen by the ninth that SWR 2 costs. Only magnitudes
    tell: a delay in the sweep, or one taken out of it, makes the loaded width of the model anything.

    Parameters
    ----------
    fit : LocalFit
        Fit round a dip.

    Returns
    -------
    float or None
        Width; ``None`` where the model does not rise so far, or not within the frequency itself. [Hz]
    """
    width_hz = float(matched_widths_hz(fit.model, fit.centre_hz))
    return width_hz if width_hz < fit.centre_hz else None


def matched_widths_hz(model: moebius.Moebius, centre_hz: float) -> FloatArray:
    """The same on every draw of a model, shape (...,); NaN where there is none. [Hz]"""
    bottom = np.abs(moebius.value(model, moebius.smallest_magnitude(model)))
    ends = moebius.magnitude_crossings(model, _ninth_lost(bottom))
    return np.asarray(np.ptp(moebius.frequency(ends, centre_hz), axis=-1))


def _ninth_lost(bottom: FloatArray) -> FloatArray:
    """Magnitude at which the power taken in is a ninth less than where the reflection is ``bottom``."""
    taken = np.maximum(1 - bottom**2, 0.0)
    return np.asarray(np.sqrt(1 - (1 - SWR_2_POWER_LOST) * taken))


def _width_hz(curve: Measured, place: tuple[int, int, int], fit: LocalFit) -> float:
    """The matched width by the model, else by the curve itself, at most that of the valley."""
    width_hz = matched_width_hz(fit)
    if width_hz is not None:
        return width_hz
    sample, first, last = place
    magnitude = np.abs(curve.gamma[first : last + 1])
    above = np.flatnonzero(magnitude > _ninth_lost(magnitude.min())) + first
    low = max((int(k) for k in above if k < sample), default=first)
    high = min((int(k) for k in above if k > sample), default=last)
    return float(curve.f_hz[high] - curve.f_hz[low])


def is_resolved(fit: LocalFit, curve: Measured, width_hz: float) -> bool:
    """Whether the points of a fit tell where its dip is, by the noise and the misfit they show.

    Parameters
    ----------
    fit : LocalFit
        Fit round a dip.
    curve : Measured
        The curve it comes from.
    width_hz : float
        SWR 2 width of the dip if it were matched. [Hz]
    """
    drawn = np.repeat(curve.gamma[np.newaxis, fit.points], 1 + SPREAD_DRAWS, axis=0)
    size = np.hypot(curve.noise[fit.points], fit.excess)
    drawn[1:] += size * complex_normal((SPREAD_DRAWS, fit.points.size), seed=0)
    found_hz = moebius.frequency(
        moebius.smallest_magnitude(moebius.fit(fit.u, drawn, fit.weights)), fit.centre_hz
    )
    if np.isnan(found_hz).any():
        return False
    low_hz, high_hz = np.quantile(found_hz, COVERAGE)
    return bool(high_hz - low_hz <= RESOLVED_SHARE * width_hz)


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
