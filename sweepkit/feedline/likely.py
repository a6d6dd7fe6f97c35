"""Is there a line in front of the antenna that nobody told of, and about how long?

An antenna stores energy and so delays the wave by itself; three ways tell it from a line. Round a dip the sweep is
fitted: an antenna near one resonance is a ratio of two linear functions of frequency that reflects nearly all beside
it, a line turns it on top of that. Where that is not clear, each delay is weighed by what it leaves of an antenna. A
wide sweep without such a dip shows in time where most of the wave comes back from: antennas reflect most of it at
their connector. Long wires matched at their feed delay the wave by themselves; what tells them from a line stands
beside its limit below. Limits were set on modelled antennas of 8 kinds swept without a line and behind 5 to 30 m of
it, and on 18 wires swept over 1 to 30 MHz (docs/feedline.md has the tables).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.analysis.quantile import quantiles
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.many_resonances import LINE_OHMS, Rows, fit_resonances, relative_to, residues
from sweepkit.feedline.one_resonance import USUAL_VELOCITY_FACTOR, WIDEST, least_detuned
from sweepkit.feedline.over_delays import sum_over_delays
from sweepkit.feedline.weighed_delays import ends_as_antenna, far_ends, stand_alone, weigh_delays
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

LONGEST_S = 1.5e-6  # round trip: 150 m of solid-dielectric coax, longer than a portable station carries
LEAST_POINTS = 15

WIDE_SHARE = 0.5  # a sweep is wide if it spans this share of its middle frequency ...
WIDE_HZ = 5e6  # ... and so much
WIDE_SPREAD, WIDE_LEAST = 0.5, 0.8  # error and shortest believed delay of a wide sweep, in units of 1/span

HALF_WIDTH = 0.12  # part of a sweep, round its dip, that one resonance describes
MOST_DIPS, MOST_LOWS = 3, 24  # dips that are fitted, and lowest points they are chosen from
FIT_POINTS = 60  # about so many points of a dip are fitted; more tell no more of a delay
FIT_SPREAD_S, FIT_SPREAD_SHARE = 25e-9, 0.15  # error of the fit, and what comes on top with the delay
FIT_LEAST_S = 55e-9  # shortest delay ever believed: transformers and coils delay up to 50 ns by themselves
FIT_LONGEST_S = 800e-9
FIT_LEAST_GAIN = 3.0  # a delay must leave so many times less unexplained than no delay
FIT_LEAST_RISE = 0.1  # the reflection must rise by so much to each side of the dip
FIT_WORST = 0.05  # rms of the reflection left by the fit; above, one resonance does not describe it
FIT_WELL = 0.01  # rms with which a fit needs no other impedance of the line
FIT_HIDES_S = 100e-9  # a fit that leaves room for more than this cannot say that there is no line
# A wire of 40 m that is matched at its feed looks like a line with an open end: round its dips a third of its own
# round trip is taken for one. Shorter delays must stand in front of a clear and narrower resonance.
WIRE_S, WIRE_LEAST_GAIN, WIRE_WIDEST = 90e-9, 8.0, 0.092
PROMPT_SHARE = 0.1  # more than this of the main echo at the connector itself is an antenna there, not a line
PROMPT_CELLS = 4.0  # shortest main echo that can be told from one at the connector, in units of 1/span
LEAST_WEIGHT = 2.6  # of a delay over none; 1 % of modelled sweeps at the feedpoint reach it
WEIGHED_HALF = 0.15  # part of a sweep, round its dip, by which delays are weighed
WEIGHED_SPREAD_S, WEIGHED_SPREAD_SHARE = 8e-9, 0.15  # error of such a delay
TRIALS = 96
TURN_BETWEEN, MOST_APART = (
    0.05,
    8,
)  # turns of a curve from one trial first made to the next, and trials left out
# A narrow sweep shows no line where one resonance without a delay describes each dip (FIT_WELL), ends as an antenna
# does, and so much of the power it leaves is noise, different at each point: no delay can then leave FIT_LEAST_GAIN
# times less. [-]
LEFT_IS_NOISE = 0.5
BLOCK_VALUES = 2**15  # delays × points that are fitted at once: half a MB an array


@dataclass(frozen=True)
class LineGuess:
    """What a sweep says about a line in front; ``none seen`` excludes none shorter than what it resolves."""

    answer: Literal["likely", "none seen", "cannot say"]
    one_way_s: Figure  # no value unless the answer is likely
    hidden_s: float  # longest one-way delay that the sweep could still hide; inf where it cannot show any

    @property
    def in_words(self) -> str:
        """The delay, and the coax that makes it."""
        length = self.one_way_s.scaled(SPEED_OF_LIGHT_M_S * USUAL_VELOCITY_FACTOR)
        low, high = length.low or 0.0, length.high or 0.0
        delay_ns, length_m = (self.one_way_s.value or 0.0) * 1e9, length.value or 0.0
        return f"about {delay_ns:.0f} ns one way, as by {length_m:.0f} m ({low:.0f} to {high:.0f} m) of solid coax"

    def finding(self) -> Finding | None:
        """What to tell the operator; nothing unless a line is likely."""
        delay = self.one_way_s
        if self.answer != "likely" or delay.value is None:
            return None
        return Finding(
            "line-likely",
            "note",
            f"the sweep is delayed by {self.in_words}: a line is likely in front",
            "tell the line with --line, or sweep again at the feedpoint; X = 0 in this sweep is no resonance",
        )


def guess_line(f_hz: ArrayLike, gamma: ArrayLike) -> LineGuess:
    """Delay of a line in front of an antenna, where a sweep (reflection as measured, frequencies rising) shows one."""
    return guess_lines(f_hz, np.asarray(gamma, dtype=np.complex128)[np.newaxis])[0]


def guess_lines(f_hz: ArrayLike, gamma: ArrayLike) -> list[LineGuess]:
    """The same for several sweeps on one grid, shape (sweeps, n)."""
    f, g = np.asarray(f_hz, dtype=np.float64), np.asarray(gamma, dtype=np.complex128)
    if f.size < LEAST_POINTS:
        return [_cannot_say(f"{f.size} points do not show a delay; {LEAST_POINTS} are needed")] * len(g)
    longest_s = min(LONGEST_S, 0.5 / float(np.diff(f).max()))
    fits = fit_all_delays(f, g, longest_s)
    return [_guess(f, one, found, longest_s) for one, found in zip(g, fits, strict=True)]


def surely_no_lines(f_hz: FloatArray, gamma: ComplexArray) -> NDArray[np.bool_]:
    """Of each sweep, shape (sweeps, n), whether no more than a fit without a delay says that no line is likely.

    A small part of the work of :func:`guess_lines`, which says "none seen" or "cannot say" of these.
    """
    answer = np.zeros(len(gamma), dtype=bool)
    if f_hz.size < LEAST_POINTS or _is_wide(f_hz):
        return answer
    rows = np.flatnonzero(_has_one_window(f_hz, np.abs(gamma)))
    points = _thinned(0, f_hz.size)
    answer[rows] = _leaves_noise(f_hz[points], gamma[rows][:, points])
    return answer


def _has_one_window(f_hz: FloatArray, size: FloatArray) -> NDArray[np.bool_]:
    """Whether the one window of :func:`_dip_windows` is all of the sweep, round its lowest point; shape (sweeps,)."""
    lowest, rows = np.argmin(size, axis=1), np.arange(len(size))
    before = np.maximum.accumulate(size, axis=1)[rows, lowest]
    after = np.maximum.accumulate(size[:, ::-1], axis=1)[rows, size.shape[1] - 1 - lowest]
    rises = np.minimum(before, after) - size[rows, lowest] >= FIT_LEAST_RISE
    dip_hz = f_hz[lowest]
    return np.asarray(rises & (_max_apart(f_hz, dip_hz) < HALF_WIDTH * dip_hz))


def _max_apart(f_hz: FloatArray, dip_hz: FloatArray) -> FloatArray:
    """How far the ends of a grid are from frequencies in it, the farther one. [Hz]"""
    return np.asarray(np.maximum(dip_hz - f_hz[0], f_hz[-1] - dip_hz))


def _leaves_noise(f_hz: FloatArray, gamma: ComplexArray) -> NDArray[np.bool_]:
    """Whether an antenna's resonance without a delay describes each curve, (curves, m), but for noise."""
    answer = np.zeros(len(gamma), dtype=bool)
    together = max(1, BLOCK_VALUES // f_hz.size)
    for start in range(0, answer.size, together):
        some = gamma[start : start + together]
        rows, none_s = Rows.on_one_grid(f_hz, some), np.zeros((len(some), 1))
        model, left = residues(rows, none_s)
        off, ends = left[:, 0], far_ends(model, rows, none_s)[0][:, 0]
        power = (off.real**2 + off.imag**2).mean(axis=1)
        bend = off[:, 2:] - 2 * off[:, 1:-1] + off[:, :-2]
        usual = quantiles(bend.real**2 + bend.imag**2, 0.5)
        noise = usual / (
            6 * np.log(2)
        )  # second differences have six times the power, its median log 2 of its mean
        answer[start : start + together] = (
            (power <= FIT_WELL**2) & (noise >= LEFT_IS_NOISE * power) & ends_as_antenna(ends)
        )
    return answer


def _is_wide(f_hz: FloatArray) -> bool:
    return bool(f_hz[-1] - f_hz[0] >= max(WIDE_HZ, WIDE_SHARE * (f_hz[0] + f_hz[-1]) / 2))


def _guess(f: FloatArray, g: ComplexArray, fits: tuple[DelayFit, ...], longest_s: float) -> LineGuess:
    """By the fits round its dips, else by where most of the wave comes back from."""
    cell_s = 1 / float(f[-1] - f[0])
    is_wide = _is_wide(f)
    seen = [fit for fit in fits if fit.shows_line]
    if seen:
        delay_s = max(seen, key=lambda fit: fit.gain).delay_s
        spread_s = FIT_SPREAD_S + FIT_SPREAD_SHARE * delay_s
        echo_s = main_echo_s(f, g, longest_s) if is_wide else -np.inf
        return (
            _likely(echo_s, WIDE_SPREAD * cell_s)
            if abs(echo_s - delay_s) < spread_s
            else _likely(delay_s, spread_s)
        )
    plain = bool(fits) and all(fit.stands_alone for fit in fits)
    weighed_s = None if plain else _weighed_s(f, g, longest_s)
    if weighed_s is not None:
        return _likely(weighed_s, WEIGHED_SPREAD_S + WEIGHED_SPREAD_SHARE * weighed_s)
    hidden_s = min((fit.hides_s for fit in fits if fit.is_antenna), default=np.inf)
    if hidden_s <= FIT_HIDES_S:
        return _none_seen(max(hidden_s, FIT_LEAST_S))
    if not is_wide:
        return _cannot_say(
            f"{(f[-1] - f[0]) / 1e6:.2f} MHz are too narrow to tell an antenna from a line; sweep 10 MHz or more"
        )
    peak_s = main_echo_s(f, g, longest_s)
    if peak_s < max(WIDE_LEAST * cell_s, FIT_LEAST_S):
        return _none_seen(max(WIDE_LEAST * cell_s, FIT_LEAST_S))
    if peak_s >= PROMPT_CELLS * cell_s and _prompt_share(f, g, peak_s) <= PROMPT_SHARE:
        return _likely(peak_s, WIDE_SPREAD * cell_s)
    return _cannot_say(
        "a line, or a long wire that delays the wave by itself; no dip in the sweep tells which"
    )


def _weighed_s(f_hz: FloatArray, gamma: ComplexArray, longest_s: float) -> float | None:
    """Delay that explains the sweep clearly better than none, by its dips, or its lowest reflection if it has none."""
    size = np.abs(gamma)
    windows = _dip_windows(f_hz, size, WEIGHED_HALF) or _round_lowest(f_hz, size)
    found = weigh_delays(f_hz, gamma, windows, longest_s)
    return found.delay_s if found is not None and found.gain >= LEAST_WEIGHT else None


def _round_lowest(f_hz: FloatArray, size: FloatArray) -> list[NDArray[np.intp]]:
    """Points round the lowest one, where they are enough and not all alike."""
    near = np.flatnonzero(np.abs(f_hz / f_hz[int(size.argmin())] - 1) < HALF_WIDTH)
    if near.size < LEAST_POINTS or np.ptp(size[near]) < FIT_LEAST_RISE:
        return []
    return [near[:: max(1, near.size // FIT_POINTS)]]


def _prompt_share(f_hz: FloatArray, gamma: ComplexArray, peak_s: float) -> float:
    """Reflection at the connector over the main echo, relative to the line's impedance where that leaves less."""
    shares = []
    for line_ohm in LINE_OHMS:
        seen = relative_to(line_ohm, gamma)
        weight = np.hanning(f_hz.size + 2)[1:-1] * np.gradient(f_hz) * seen
        at_s = np.array([0.0, peak_s])
        sums = np.abs(np.exp(2j * np.pi * np.outer(at_s, f_hz)) @ weight)
        shares.append(float(sums[0] / sums[1]))
    return min(shares)


def main_echo_s(f_hz: FloatArray, gamma: ComplexArray, longest_s: float) -> float:
    """Round-trip delay of the strongest reflection, a little below 0 at most, on any grid."""
    step_s = 0.1 / float(f_hz[-1] - f_hz[0])
    trials_s = np.arange(-5 * step_s, longest_s, step_s)
    weight = np.hanning(f_hz.size + 2)[1:-1] * np.gradient(f_hz)
    sums = sum_over_delays((f_hz - f_hz[0]) * step_s, weight * gamma, -5, trials_s.size)
    return _vertex(trials_s, -np.abs(sums))


@dataclass(frozen=True)
class DelayFit:
    """One resonance behind a delay, fitted round a dip."""

    delay_s: float  # round trip that leaves least unexplained
    gain: float  # unexplained without a delay, over unexplained with it
    hides_s: float  # longest delay that would not leave clearly more unexplained
    width: float  # distance of the resonance's pole from the dip, over the frequency
    detuned: float  # size of the reflection far from the resonance, by the fit
    least_detuned: float  # the smallest that an antenna behind so much of the lossiest usual line shows
    stands_alone: (
        bool  # whether it is an antenna that reflects like an open beside its resonance without any delay
    )

    @property
    def is_antenna(self) -> bool:
        """Whether it is an antenna's resonance: not too wide, and reflecting nearly all beside it."""
        return self.width <= WIDEST and self.detuned >= self.least_detuned

    @property
    def shows_line(self) -> bool:
        """Whether a delay stands in front of an antenna's resonance that neither it nor a long wire has by itself."""
        if not self.is_antenna or self.delay_s < FIT_LEAST_S:
            return False
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
    windows = [(k, points) for k, size in enumerate(np.abs(gamma)) for points in _dip_windows(f_hz, size)]
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


def _dip_windows(f_hz: FloatArray, size: FloatArray, half: float = HALF_WIDTH) -> list[NDArray[np.intp]]:
    """Points round the deepest dips that rise to both sides, thinned where there are very many."""
    lows = np.flatnonzero((size[1:-1] <= size[:-2]) & (size[1:-1] <= size[2:])) + 1
    windows: list[NDArray[np.intp]] = []
    taken_hz: list[float] = []
    for dip in lows[np.argsort(size[lows], kind="stable")][:MOST_LOWS]:
        if any(abs(f_hz[dip] - other) < half * other for other in taken_hz):
            continue
        first, last = np.searchsorted(f_hz, [f_hz[dip] * (1 - half), f_hz[dip] * (1 + half)])
        rise = min(size[first : dip + 1].max(), size[dip:last].max()) - size[dip]
        if last - first < LEAST_POINTS or rise < FIT_LEAST_RISE:
            continue
        taken_hz.append(float(f_hz[dip]))
        windows.append(_thinned(int(first), int(last)))
        if len(windows) == MOST_DIPS or _max_apart(f_hz, f_hz[dip]) < half * f_hz[dip]:
            break  # no other dip lies beyond
    return windows


def _thinned(first: int, last: int) -> NDArray[np.intp]:
    return np.arange(first, last)[:: max(1, (last - first) // FIT_POINTS)]


def _described(rows: Rows, trials_s: FloatArray, left: FloatArray) -> list[tuple[float, DelayFit]]:
    """What each leaves at least, and its fit there."""
    found_s = [max(_vertex(trials_s, each**2), 0.0) for each in left]
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
    for step in np.unique(apart).tolist():
        alike = np.flatnonzero(apart == step)
        left[alike] = _left_at_needed(rows.rows(alike), trials_s, step)
    return left


def _left_at_needed(rows: Rows, trials_s: FloatArray, apart: int) -> FloatArray:
    """What is left of rows of about one width, at every so many trials first."""
    left = np.full((rows.x.shape[0], trials_s.size), np.inf)
    every = np.unique(np.append(np.arange(0, trials_s.size, apart), trials_s.size - 1))
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


def _vertex(x: FloatArray, y: FloatArray) -> float:
    """Lowest point, by a parabola through the lowest sample and its neighbours."""
    k = int(y.argmin())
    if k in (0, y.size - 1):
        return float(x[k])
    a, b, c = y[k - 1 : k + 2]
    bend = a - 2 * b + c
    return float(x[k] + (0.5 * (a - c) / bend * (x[1] - x[0]) if bend > 0 else 0.0))


def _likely(delay_s: float, spread_s: float) -> LineGuess:
    """A line, from round-trip figures."""
    low_s, high_s = max(delay_s - spread_s, 0.0), delay_s + spread_s
    return LineGuess("likely", Figure(delay_s / 2, low_s / 2, high_s / 2), 0.0)


def _none_seen(least_s: float) -> LineGuess:
    """No line longer than that, from a round-trip figure."""
    text = f"no line of more than {least_s / 2 * 1e9:.0f} ns shows in the sweep"
    return LineGuess("none seen", Figure.none(text), least_s / 2)


def _cannot_say(reason: str) -> LineGuess:
    """No answer, and why."""
    return LineGuess("cannot say", Figure.none(reason), float("inf"))
