"""Where a reflection curve dips: local minima that stand out, never the edge of the sweep."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.fits import Ensemble, Fits, LocalFit, blocks_of_rows, complex_normal, is_settled
from sweepkit.analysis.local import fits_near
from sweepkit.analysis.windows import Measured, Stack
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

PROMINENCE_IN_NOISE = 6.0  # a dip stands out by this many times the noise ...
PROMINENCE_LEAST = 0.02  # ... and by the ripple, trough to crest, of a 40 dB directivity error
FIT_REACH = 1.4  # half-width of the fit over the loaded half-width: about one SWR-2 bandwidth to each side
SETTLING = 3
FEWEST_SIDE_BY_SIDE = 16  # curves; of fewer each is walked by itself in less time
HALF_OF_MATCHED = 2**0.5  # half of the loaded bandwidth over the matched SWR-2 width; exact for a resonator
SPREAD_DRAWS = 200  # curves that the noise of a fit is tried on
COVERAGE = (0.025, 0.975)
RESOLVED_SHARE = 0.1  # of its width a dip may be uncertain by, end to end; common practice, no source
SWR_2_POWER_LOST = 1 / 9  # |gamma|^2 at SWR 2 [-]
SWR_2_DETUNING = 8**0.5  # frequency over matched SWR-2 width and loaded Q; exact for a resonator


class Dip(NamedTuple):
    """A dip of the measured curve: its sample, the valley it lies in, the fit round it and its width."""

    sample: int
    first: int  # index of the highest point to its left
    last: int  # and to its right
    fit: LocalFit
    # of SWR 2, if it were matched at its bottom; where neither model nor curve rises so far, of its valley
    width_hz: float


class Dips(NamedTuple):
    """Dips of a stack side by side, arrays of shape (rows,); ``which`` is the curve of each."""

    which: IndexArray
    sample: IndexArray
    first: IndexArray
    last: IndexArray
    fits: Fits
    width_hz: FloatArray

    @property
    def reach_hz(self) -> FloatArray:
        """Half of the loaded bandwidth: how far away the power taken in has fallen by half. [Hz]"""
        return HALF_OF_MATCHED * self.width_hz

    def rows(self, chosen: IndexArray | NDArray[np.bool_]) -> Dips:
        """Some of them."""
        which, sample, first, last, fits, width_hz = self
        return Dips(
            which[chosen], sample[chosen], first[chosen], last[chosen], fits.rows(chosen), width_hz[chosen]
        )

    def one(self, row: int, stack: Stack) -> Dip:
        """One by itself."""
        sample, first, last = (int(part[row]) for part in (self.sample, self.first, self.last))
        return Dip(sample, first, last, self.fits.one(row, stack), float(self.width_hz[row]))


def find_dip_samples(
    magnitude: FloatArray, noise: FloatArray, *, least: float = PROMINENCE_LEAST
) -> list[tuple[int, int, int]]:
    """Minima from which the curve rises on both sides by more than noise, and by more than ``least``.

    Index of each minimum, and of the highest points to its left and right, in rising order; ``noise`` is the rms of
    the complex noise at each point.
    """
    rise = np.maximum(PROMINENCE_IN_NOISE * noise, least)
    return _lows(magnitude, _turning_points(magnitude, rise))


def find_all_dip_samples(magnitude: FloatArray, noise: FloatArray) -> list[list[tuple[int, int, int]]]:
    """The same for each of several curves, shape (sweeps, n)."""
    if len(magnitude) < FEWEST_SIDE_BY_SIDE:
        return [find_dip_samples(*rows) for rows in zip(magnitude, noise, strict=True)]
    rise = np.maximum(PROMINENCE_IN_NOISE * noise, PROMINENCE_LEAST)
    turns = _turning_points_of_all(magnitude, rise)
    return [_lows(*rows) for rows in zip(magnitude, turns, strict=True)]


def _lows(magnitude: FloatArray, turns: list[int]) -> list[tuple[int, int, int]]:
    """Those of the turning points that are minima, with their neighbours."""
    dips = []
    for before, here, after in zip(turns, turns[1:], turns[2:], strict=False):
        if magnitude[here] < magnitude[before] and magnitude[here] < magnitude[after]:
            dips.append((here, before, after))
    return dips


def fit_dip(curve: Measured, place: tuple[int, int, int]) -> Dip:
    """Fit the curve round a dip of :func:`find_dip_samples`, with a window about one SWR-2 bandwidth to each side."""
    stack = curve.alone
    return fit_dips(stack, [0], [place]).one(0, stack)


def fit_dips(stack: Stack, which: ArrayLike, places: Sequence[tuple[int, int, int]]) -> Dips:
    """The same for dips of a stack, each of the curve ``which``, all of them side by side."""
    f_hz, sweep = stack.f_hz, np.asarray(which, dtype=np.intp)
    sample, first, last = np.array(places, dtype=np.intp).reshape(-1, 3).T
    fits = fits_near(stack, sweep, f_hz[sample], _first_half_widths_hz(stack, sweep, sample, first, last))
    dips = Dips(sweep, sample, first, last, fits, np.empty(sweep.size))
    active = np.arange(sweep.size)
    for _ in range(SETTLING):
        now = dips.rows(active)
        fit, low_hz, high_hz = now.fits, f_hz[now.first], f_hz[now.last]
        found_hz = moebius.frequency(moebius.smallest_magnitude(fit.model), fit.centre_hz)
        reach_hz = np.maximum(fit.centre_hz - fit.low_hz, fit.high_hz - fit.centre_hz)
        on = (low_hz < found_hz) & (found_hz < high_hz) & (np.abs(found_hz - fit.centre_hz) < reach_hz)
        if not on.any():
            break
        active, now, found_hz = active[on], now.rows(on), found_hz[on]
        half_hz = np.minimum(
            FIT_REACH * HALF_OF_MATCHED * _widths_hz(stack, now),
            np.maximum(high_hz[on] - found_hz, found_hz - low_hz[on]),
        )
        moves = np.flatnonzero(~is_settled(stack, now.fits, found_hz, half_hz))
        if not moves.size:
            break
        active = active[moves]
        fits = fits_near(stack, now.which[moves], found_hz[moves], half_hz[moves])
        dips = dips._replace(fits=dips.fits.replaced(active, fits))
    return dips._replace(width_hz=_widths_hz(stack, dips))


def matched_width_hz(fit: LocalFit) -> float | None:
    """SWR-2 width that a dip would have if it were matched at its bottom.

    Between the frequencies at which the power taken in has fallen by the ninth that SWR 2 costs. Only magnitudes
    tell: a delay in the sweep, or one taken out of it, makes the loaded width of the model anything. ``None`` where
    the model does not rise so far, or not within the frequency itself.
    """
    width_hz = float(matched_widths_hz(fit.model, fit.centre_hz))
    return width_hz if width_hz < fit.centre_hz else None


def matched_widths_hz(model: moebius.Moebius, centre_hz: float | FloatArray) -> FloatArray:
    """The same on every draw of a model, or for each of several, shape (...,); NaN where there is none. [Hz]"""
    bottom = np.abs(moebius.value(model, moebius.smallest_magnitude(model)))
    ends = moebius.magnitude_crossings(model, _ninth_lost(bottom))
    return np.asarray(np.ptp(moebius.frequency(ends, np.asarray(centre_hz)[..., np.newaxis]), axis=-1))


def _ninth_lost(bottom: FloatArray) -> FloatArray:
    """Magnitude at which the power taken in is a ninth less than where the reflection is ``bottom``."""
    taken = np.maximum(1 - bottom**2, 0.0)
    return np.asarray(np.sqrt(1 - (1 - SWR_2_POWER_LOST) * taken))


def _widths_hz(stack: Stack, dips: Dips) -> FloatArray:
    """The matched width by the model, else by the curve itself, at most that of the valley. [Hz]"""
    width_hz = matched_widths_hz(dips.fits.model, dips.fits.centre_hz)
    for row in np.flatnonzero(~(width_hz < dips.fits.centre_hz)):
        width_hz[row] = _seen_width_hz(stack, dips, int(row))
    return width_hz


def _seen_width_hz(stack: Stack, dips: Dips, row: int) -> float:
    sample, first, last = (int(part[row]) for part in (dips.sample, dips.first, dips.last))
    magnitude = stack.magnitude[dips.which[row], first : last + 1]
    above = np.flatnonzero(magnitude > _ninth_lost(magnitude.min())) + first
    low = max((int(k) for k in above if k < sample), default=first)
    high = min((int(k) for k in above if k > sample), default=last)
    return float(stack.f_hz[high] - stack.f_hz[low])


def is_resolved(fit: LocalFit, curve: Measured, width_hz: float) -> bool:
    """Whether noise and misfit of a fit tell where its dip is, of this width of SWR 2 if it were matched."""
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


def dip_frequencies(
    dips: Dips, stack: Stack, ensembles: Sequence[Ensemble] | None
) -> tuple[FloatArray, ComplexArray]:
    """Frequency of the smallest reflection [Hz], and that reflection, on every draw, shape (rows, draws).

    NaN where a draw's minimum leaves the valley. Without ensembles the measured curve alone.
    """
    model = dips.fits.on(stack, ensembles)
    u = moebius.smallest_magnitude(model)
    f_dip_hz = moebius.frequency(u, dips.fits.centre_hz[:, np.newaxis])
    low_hz, high_hz = (stack.f_hz[end][:, np.newaxis] for end in (dips.first, dips.last))
    inside = (f_dip_hz > low_hz) & (f_dip_hz < high_hz)
    gamma = np.where(inside, moebius.value(model, u), np.nan)
    return np.where(inside, f_dip_hz, np.nan), gamma


def _turning_points(values: FloatArray, rise: FloatArray) -> list[int]:
    """Alternating highs and lows that differ by at least ``rise``, and the extremes at both ends."""
    turns: list[int] = []
    low = high = 0
    lowest = highest = float(values[0])
    direction = 0  # 0: not known yet, 1: rising since the last low, -1: falling since the last high
    for i, (value, least) in enumerate(zip(values.tolist(), rise.tolist(), strict=True)):
        if value > highest:
            high, highest = i, value
        elif value < lowest:
            low, lowest = i, value
        if direction >= 0 and highest - value >= least:
            turns.append(high)
            direction, low, high = -1, i, i
            lowest = highest = value
        elif direction <= 0 and value - lowest >= least:
            turns.append(low)
            direction, low, high = 1, i, i
            lowest = highest = value
    if direction:
        turns.append(high if direction > 0 else low)
    return turns


def _turning_points_of_all(values: FloatArray, rise: FloatArray) -> list[list[int]]:
    """The same of many short curves side by side, shape (sweeps, n), point by point."""
    turns: list[list[int]] = [[] for _ in values]
    lowest, highest = values[:, 0].copy(), values[:, 0].copy()
    low, high, direction = np.zeros((3, len(values)), dtype=np.intp)
    columns = zip(np.ascontiguousarray(values.T), np.ascontiguousarray(rise.T), strict=True)
    for i, (value, least) in enumerate(columns):
        above, below = value > highest, value < lowest
        np.copyto(high, i, where=above)
        np.copyto(low, i, where=below)
        np.maximum(highest, value, out=highest)
        np.minimum(lowest, value, out=lowest)
        falls, rises = highest - value >= least, value - lowest >= least
        turned = np.flatnonzero((falls & (direction >= 0)) | (rises & (direction <= 0)))
        for row in turned.tolist():
            down = bool(falls[row]) and direction[row] >= 0
            turns[row].append(int(high[row] if down else low[row]))
            direction[row], low[row], high[row] = -1 if down else 1, i, i
            lowest[row] = highest[row] = value[row]
    for row in np.flatnonzero(direction).tolist():
        turns[row].append(int(high[row] if direction[row] > 0 else low[row]))
    return turns


def _first_half_widths_hz(
    stack: Stack, which: IndexArray, sample: IndexArray, first: IndexArray, last: IndexArray
) -> FloatArray:
    """Half the width of each valley below a level a little above its bottom. [Hz]"""
    f_hz, widths_hz = stack.f_hz, np.empty(which.size)
    bottom, left, right = (stack.magnitude[which, at] for at in (sample, first, last))
    level = bottom + 0.5 * (np.minimum(left, right) - bottom)
    place = np.arange(f_hz.size)
    for some in blocks_of_rows(which.size, f_hz.size):
        below = stack.magnitude[which[some]] <= level[some, np.newaxis]
        below &= (place >= first[some, np.newaxis]) & (place <= last[some, np.newaxis])
        low, high = np.argmax(below, axis=1), f_hz.size - 1 - np.argmax(below[:, ::-1], axis=1)
        widths_hz[some] = f_hz[high] - f_hz[low]
    return np.asarray(np.maximum(widths_hz, f_hz[last] - f_hz[last - 1]) / 2)
