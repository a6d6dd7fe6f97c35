"""Delay in front of the resonances of a sweep, each fitted round its dip: one resonance, turned by a line.

Limits were set on modelled antennas, as those of :mod:`sweepkit.feedline.likely`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.many_resonances import (
    LINE_OHMS,
    WIDEST,
    Rows,
    fit_resonances,
    least_detuned,
    relative_to,
)
from sweepkit.feedline.weighed_delays import far_ends, stand_alone

LEAST_POINTS = 15
HALF_WIDTH = 0.12  # part of a sweep, round its dip, that one resonance describes
MOST_DIPS, MOST_LOWS = 3, 24  # dips that are fitted, and lowest points they are chosen from
FIT_POINTS = 60  # about so many points of a dip are fitted; more tell no more of a delay
FIT_LEAST_S = 55e-9  # shortest delay believed whatever its end; transformers and coils delay up to 50 ns
FIT_LONGEST_S = 800e-9
FIT_LEAST_GAIN = 3.0  # a delay must leave so many times less unexplained than no delay
FIT_LEAST_RISE = 0.1  # the reflection must rise by so much to each side of the dip
FIT_WORST = 0.05  # rms of the reflection left by the fit; above, one resonance does not describe it
FIT_WELL = 0.01  # rms with which a fit needs no other impedance of the line
# A wire of 40 m that is matched at its feed looks like a line with an open end: round its dips a third of its own
# round trip is taken for one. Shorter delays must stand in front of a clear and narrower resonance.
WIRE_S, WIRE_LEAST_GAIN, WIRE_WIDEST = 90e-9, 8.0, 0.092
# A delay longer than any choke's and shorter than a long wire's, less which the reflection ends about as that of an
# open, as no end-fed behind its box does.
OPEN_S, OPEN_LEAST_GAIN, OPEN_OFF = (20e-9, 40e-9), 5.0, 0.5
TRIALS = 96
TURN_BETWEEN = 0.05  # turns of a curve from one trial first made to the next
MOST_APART = 8  # trials left out between two
BLOCK_VALUES = 2**15  # delays × points that are fitted at once: half a MB an array


@dataclass(frozen=True)
class DelayFit:
    """One resonance behind a delay, fitted round a dip."""

    delay_s: float  # round trip that leaves least unexplained
    gain: float  # unexplained without a delay, over unexplained with it
    hides_s: float  # longest delay that would not leave clearly more unexplained
    width: float  # distance of the resonance's pole from the dip, over the frequency
    detuned: float  # size of the reflection far from the resonance, by the fit
    least_detuned: float  # the smallest that an antenna behind so much of the lossiest usual line shows
    ends_open: bool  # less the delay, about as an open, far from the resonance
    stands_alone: bool  # an antenna that reflects like an open beside its resonance without any delay

    @property
    def is_antenna(self) -> bool:
        """Whether it is an antenna's resonance: not too wide, and reflecting nearly all beside it."""
        return self.width <= WIDEST and self.detuned >= self.least_detuned

    @property
    def shows_line(self) -> bool:
        """Whether a delay stands in front of an antenna's resonance that neither it nor a long wire has by itself."""
        if not self.is_antenna:
            return False
        if self.delay_s < FIT_LEAST_S:
            is_sharp = self.gain >= OPEN_LEAST_GAIN and self.width <= WIRE_WIDEST
            return self.ends_open and is_sharp and OPEN_S[0] <= self.delay_s <= OPEN_S[1]
        if self.delay_s >= WIRE_S:
            return self.gain >= FIT_LEAST_GAIN
        return self.gain >= WIRE_LEAST_GAIN and self.width <= WIRE_WIDEST


def fit_all_delays(f_hz: FloatArray, gamma: ComplexArray, longest_s: float) -> list[tuple[DelayFit, ...]]:
    """Delay in front of the resonances at the lowest reflections of several sweeps on one grid, shape (sweeps, n).

    Deepest first. Γ = (p0 + p1·x)/(1 + q·x)·exp(-2jπf·delay) relative to the impedance of the line, 50 or 75 ohm, all
    trial delays at once by weighted least squares. Of both impedances the better one; the second is tried where the
    first does not describe the curve well. A dip that no resonance describes has no fit.
    """
    trials_s = np.linspace(0, min(FIT_LONGEST_S, longest_s), TRIALS)
    windows = [(k, points) for k, size in enumerate(np.abs(gamma)) for points in dip_windows(f_hz, size)]
    best: dict[int, tuple[float, DelayFit]] = {}
    rows = list(range(len(windows)))
    for line_ohm in LINE_OHMS:
        seen = (gamma[k][points] for k, points in (windows[row] for row in rows))
        curves = [relative_to(line_ohm, one) for one in seen]
        about = Rows.of([f_hz[windows[row][1]] for row in rows], curves)
        left = _left_behind(about, trials_s)
        worst = [best[row][0] / FIT_LEAST_GAIN if row in best else FIT_WORST for row in rows]
        better = np.flatnonzero(left.min(axis=1, initial=np.inf) <= worst)
        found = _described(about.rows(better), trials_s, left[better])
        for place, (least, fit) in zip(better.tolist(), found, strict=True):
            best[rows[place]] = least, fit
        rows = [row for row in rows if row not in best or best[row][0] > FIT_WELL]
    fits: list[list[DelayFit]] = [[] for _ in gamma]
    for row, (k, _) in enumerate(windows):
        if row in best:
            fits[k].append(best[row][1])
    return [tuple(each) for each in fits]


def dip_windows(
    f_hz: FloatArray,
    size: FloatArray,
    half: float = HALF_WIDTH,
    *,
    least: int = LEAST_POINTS,
    to_crests: bool = False,
) -> list[NDArray[np.intp]]:
    """Points round the deepest dips that rise to both sides, thinned where there are very many.

    ``to_crests``: no farther than where the reflection is highest on each side, since another dip lies beyond.
    """
    lows = np.flatnonzero((size[1:-1] <= size[:-2]) & (size[1:-1] <= size[2:])) + 1
    windows: list[NDArray[np.intp]] = []
    taken_hz: list[float] = []
    for dip in lows[np.argsort(size[lows], kind="stable")][:MOST_LOWS]:
        if any(abs(f_hz[dip] - other) < half * other for other in taken_hz):
            continue
        first, last = np.searchsorted(f_hz, [f_hz[dip] * (1 - half), f_hz[dip] * (1 + half)])
        crests = first + int(size[first : dip + 1].argmax()), dip + int(size[dip:last].argmax())
        rise = min(size[crests[0]], size[crests[1]]) - size[dip]
        if to_crests and last - first < f_hz.size:
            first, last = crests[0], crests[1] + 1
        if last - first < least or rise < FIT_LEAST_RISE:
            continue
        taken_hz.append(float(f_hz[dip]))
        windows.append(thinned(int(first), int(last)))
        if len(windows) == MOST_DIPS or max_apart(f_hz, f_hz[dip]) < half * f_hz[dip]:
            break  # no other dip lies beyond
    return windows


def thinned(first: int, last: int) -> NDArray[np.intp]:
    """Of the points of a dip about ``FIT_POINTS``."""
    return np.arange(first, last)[:: max(1, (last - first) // FIT_POINTS)]


def _described(rows: Rows, trials_s: FloatArray, left: FloatArray) -> list[tuple[float, DelayFit]]:
    """What each leaves at least, and its fit there."""
    found_s = [max(vertex(trials_s, each**2), 0.0) for each in left]
    delays_s = np.array([[0.0, delay_s] for delay_s in found_s]).reshape(-1, 2)
    model, rms = fit_resonances(rows, delays_s)
    ends, pole = far_ends(model, rows, delays_s)
    alone = stand_alone(rows, delays_s, rms, ends)
    fits = []
    for k, delay_s in enumerate(found_s):
        least, middle_hz = float(left[k].min()), float(rows.middle_hz[k])
        fit = DelayFit(
            delay_s,
            float(left[k, 0]) / max(least, 1e-9),
            float(trials_s[left[k] < FIT_LEAST_GAIN * least].max()),
            width=float(rows.width_hz[k] / (2 * middle_hz * np.abs(pole[k, 1]))),
            detuned=float(np.abs(ends[k, 1])),
            least_detuned=least_detuned(middle_hz, delay_s),
            ends_open=bool(np.abs(ends[k, 1] - 1) <= OPEN_OFF),
            stands_alone=bool(alone[k]),
        )
        fits.append((least, fit))
    return fits


def _left_behind(rows: Rows, trials_s: FloatArray) -> FloatArray:
    """What one resonance leaves of each curve for each delay taken out, (rows, trials); ``inf`` where not needed.

    First some delays, so near each other that the curve turns little between two; then those about the best one, and
    those about the longest that leaves not clearly more.
    """
    left = np.full((rows.x.shape[0], trials_s.size), np.inf)
    turns = rows.width_hz * float(trials_s[1] - trials_s[0])
    apart = np.clip(TURN_BETWEEN / turns, 1, MOST_APART).astype(np.intp)
    for step in sorted(set(apart.tolist())):
        alike = np.flatnonzero(apart == step)
        left[alike] = _left_at_needed(rows.rows(alike), trials_s, step)
    return left


def _left_at_needed(rows: Rows, trials_s: FloatArray, apart: int) -> FloatArray:
    """What is left of rows of about one width, at every so many trials first."""
    left = np.full((rows.x.shape[0], trials_s.size), np.inf)
    every = np.array(sorted({*range(0, trials_s.size, apart), trials_s.size - 1}))
    _fill(left, rows, trials_s, np.broadcast_to(every, (left.shape[0], every.size)))
    if apart > 1:
        _fill(left, rows, trials_s, np.argmin(left, axis=1)[:, np.newaxis] + np.arange(1 - apart, apart))
        hidden = left < FIT_LEAST_GAIN * left.min(axis=1, keepdims=True)
        longest = trials_s.size - 1 - np.argmax(hidden[:, ::-1], axis=1)
        _fill(left, rows, trials_s, longest[:, np.newaxis] + np.arange(1, apart))
    return left


def _fill(left: FloatArray, rows: Rows, trials_s: FloatArray, chosen: NDArray[np.intp]) -> None:
    """Fill in what is left at some trials of each row, in blocks."""
    chosen = np.clip(chosen, 0, trials_s.size - 1)
    together = max(1, BLOCK_VALUES // (rows.x.shape[1] * chosen.shape[1]))
    for start in range(0, left.shape[0], together):
        some = slice(start, start + together)
        part = rows.rows(some)
        most = max(1, BLOCK_VALUES // (part.x.shape[0] * part.x.shape[1]))
        for first in range(0, chosen.shape[1], most):
            trials = chosen[some, first : first + most]
            found = fit_resonances(part, trials_s[trials])[1]
            np.put_along_axis(left[some], trials, found, axis=1)


def vertex(x: FloatArray, y: FloatArray) -> float:
    """Lowest point, by a parabola through the lowest sample and its neighbours."""
    k = int(y.argmin())
    if k in (0, y.size - 1):
        return float(x[k])
    a, b, c = y[k - 1 : k + 2]
    bend = a - 2 * b + c
    return float(x[k] + (0.5 * (a - c) / bend * (x[1] - x[0]) if bend > 0 else 0.0))


def max_apart(f_hz: FloatArray, dip_hz: FloatArray) -> FloatArray:
    """How far the ends of a grid are from frequencies in it, the farther one. [Hz]"""
    return np.asarray(np.maximum(dip_hz - f_hz[0], f_hz[-1] - dip_hz))
