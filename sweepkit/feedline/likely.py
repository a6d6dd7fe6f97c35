"""Is there a line in front of the antenna that nobody told of, and about how long?

An antenna stores energy and so delays the wave by itself; three ways tell it from a line. Round a dip the sweep is
fitted: an antenna near one resonance is a ratio of two linear functions of frequency that reflects nearly all beside
it, a line turns it on top of that. Where that is not clear, each delay is weighed by what it leaves of an antenna. A
wide sweep shows in time where most of the wave comes back from: antennas reflect most of it at their connector, and
behind a short line nothing comes back before its end. Long wires matched at their feed delay the wave by themselves;
what tells them from a line stands beside its limit below. Limits were set on modelled antennas of 8 kinds swept without
a line and behind 1 to 30 m of it, on 18 wires swept over 1 to 30 MHz, and on 24 antennas over all spans
(docs/feedline.md has the tables).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.analysis.quantile import quantiles
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.delay_fits import (
    BLOCK_VALUES,
    FIT_LEAST_RISE,
    FIT_LEAST_S,
    FIT_POINTS,
    FIT_WELL,
    HALF_WIDTH,
    LEAST_POINTS,
    DelayFit,
    dip_windows,
    fit_all_delays,
    max_apart,
    thinned,
    vertex,
)
from sweepkit.feedline.many_resonances import (
    LINE_OHMS,
    REFERENCE_OHM,
    USUAL_VELOCITY_FACTOR,
    Rows,
    relative_to,
    residues,
)
from sweepkit.feedline.over_delays import sum_over_delays
from sweepkit.feedline.weighed_delays import ends_as_antenna, far_ends, weigh_delays
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

SOLID_COAX_M_S = SPEED_OF_LIGHT_M_S * USUAL_VELOCITY_FACTOR
LONGEST_S = 1.5e-6  # round trip: 150 m of solid-dielectric coax, longer than a portable station carries

WIDE_SHARE = 0.5  # a sweep is wide if it spans this share of its middle frequency ...
WIDE_HZ = 5e6  # ... and so much
WIDE_SPREAD, WIDE_LEAST = 0.5, 0.8  # error and shortest believed delay of a wide sweep, in units of 1/span

FIT_SPREAD_S, FIT_SPREAD_SHARE = 25e-9, 0.15  # error of the fit, and what comes on top with the delay
FIT_HIDES_S = 100e-9  # a fit that leaves room for more than this cannot say that there is no line
PROMPT_SHARE = 0.1  # more than this of the main echo at the connector itself is an antenna there, not a line
PROMPT_CELLS = 4.0  # shortest main echo that can be told from one at the connector, in units of 1/span
# A sweep so wide tells a short line by the place of its main echo alone, since that of a wire's far end stands apart:
# an antenna that is not matched to the line reflects most at its connector, behind a choke or a box a little later.
# Shortest delay that no choke has, of an echo as of an open end to so many degrees, in a sweep from so low up that a
# box would show as none. Then, for lines of the reference's impedance and of 75 ohm, the shortest that no box has, and
# the least size of the echo: a wire behind a transformer of 4:1 is itself a line of about 100 ohm, but radiates.
ECHO_WIDE_HZ = 20e6
ECHO_OPEN_S, ECHO_OPEN_DEG, ECHO_DOWN = 18e-9, 25.0, 5.0
ECHO_BOX_S, ECHO_SIZES = (28e-9, 35e-9), (0.4, 0.7)
LEAST_WEIGHT = 2.3  # of a delay over none; 1 % of modelled sweeps at the feedpoint reach it
WEIGHED_HALF, WEIGHED_POINTS = (
    0.15,
    9,
)  # part of a sweep, round its dip, by which delays are weighed, and points of it
WEIGHED_SPREAD_S, WEIGHED_SPREAD_SHARE = 8e-9, 0.15  # error of such a delay
# A narrow sweep shows no line where one resonance without a delay describes each dip (FIT_WELL), ends as an antenna
# does, and so much of the power it leaves is noise, different at each point: no delay can then leave FIT_LEAST_GAIN
# times less. [-]
LEFT_IS_NOISE = 0.5


@dataclass(frozen=True)
class LineGuess:
    """What a sweep says about a line in front; ``none seen`` excludes none shorter than what it resolves."""

    answer: Literal["likely", "none seen", "cannot say"]
    one_way_s: Figure  # no value unless the answer is likely
    hidden_s: float  # longest one-way delay that the sweep could still hide; inf where it cannot show any

    @property
    def in_words(self) -> str:
        """The delay, and the coax that makes it."""
        length = self.one_way_s.scaled(SOLID_COAX_M_S)
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
    points = thinned(0, f_hz.size)
    answer[rows] = _leaves_noise(f_hz[points], gamma[rows][:, points])
    return answer


def _has_one_window(f_hz: FloatArray, size: FloatArray) -> NDArray[np.bool_]:
    """Whether the one window of :func:`dip_windows` is all of the sweep, round its lowest point; shape (sweeps,)."""
    lowest, rows = np.argmin(size, axis=1), np.arange(len(size))
    before = np.maximum.accumulate(size, axis=1)[rows, lowest]
    after = np.maximum.accumulate(size[:, ::-1], axis=1)[rows, size.shape[1] - 1 - lowest]
    rises = np.minimum(before, after) - size[rows, lowest] >= FIT_LEAST_RISE
    dip_hz = f_hz[lowest]
    return np.asarray(rises & (max_apart(f_hz, dip_hz) < HALF_WIDTH * dip_hz))


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
    cell_s, is_wide = 1 / float(f[-1] - f[0]), _is_wide(f)
    peak_s = main_echo_s(f, g, longest_s) if is_wide else -np.inf
    shown = _shown_by_fits(fits, peak_s, cell_s)
    if shown is not None:
        return shown
    plain = bool(fits) and all(fit.stands_alone for fit in fits)
    weighed_s = None if plain else _weighed_s(f, g, longest_s)
    if weighed_s is not None:
        return _likely(weighed_s, WEIGHED_SPREAD_S + WEIGHED_SPREAD_SHARE * weighed_s)
    single_s = _single_echo_s(f, g, peak_s, longest_s)
    if single_s is not None:
        return _likely(single_s, hypot(WIDE_SPREAD * cell_s, WEIGHED_SPREAD_S))
    hidden_s = min((fit.hides_s for fit in fits if fit.is_antenna), default=np.inf)
    if hidden_s <= FIT_HIDES_S:
        return _none_seen(max(hidden_s, FIT_LEAST_S))
    if not is_wide:
        return _cannot_say(
            f"{(f[-1] - f[0]) / 1e6:.2f} MHz are too narrow to tell an antenna from a line; sweep 10 MHz or more"
        )
    if peak_s < max(WIDE_LEAST * cell_s, FIT_LEAST_S):
        return _none_seen(max(WIDE_LEAST * cell_s, FIT_LEAST_S))
    if peak_s >= PROMPT_CELLS * cell_s and _prompt_share(f, g, peak_s) <= PROMPT_SHARE:
        return _likely(peak_s, WIDE_SPREAD * cell_s)
    return _cannot_say(
        "a line, or a long wire that delays the wave by itself; no dip in the sweep tells which"
    )


def _shown_by_fits(fits: tuple[DelayFit, ...], peak_s: float, cell_s: float) -> LineGuess | None:
    """A line that the shape of a dip shows, at the main echo where that is near; a short one not before the echo."""
    is_prompt = cell_s * ECHO_WIDE_HZ <= 1 and peak_s < ECHO_OPEN_S
    seen = [fit for fit in fits if fit.shows_line and not (is_prompt and fit.delay_s < FIT_LEAST_S)]
    if not seen:
        return None
    delay_s = max(seen, key=lambda fit: fit.gain).delay_s
    spread_s = (FIT_SPREAD_S if delay_s >= FIT_LEAST_S else WEIGHED_SPREAD_S) + FIT_SPREAD_SHARE * delay_s
    if abs(peak_s - delay_s) < spread_s:
        return _likely(peak_s, WIDE_SPREAD * cell_s)
    return _likely(delay_s, spread_s)


def _weighed_s(f_hz: FloatArray, gamma: ComplexArray, longest_s: float) -> float | None:
    """Delay that explains the sweep clearly better than none, by its dips, or its lowest reflection if it has none."""
    size = np.abs(gamma)
    windows = dip_windows(f_hz, size, WEIGHED_HALF, least=WEIGHED_POINTS, to_crests=True)
    windows = windows or _round_lowest(f_hz, size)
    found = weigh_delays(f_hz, gamma, windows, longest_s, is_wide=_is_wide(f_hz))
    return found.delay_s if found is not None and found.gain >= LEAST_WEIGHT else None


def _round_lowest(f_hz: FloatArray, size: FloatArray) -> list[NDArray[np.intp]]:
    """Points round the lowest one, where they are enough."""
    near = np.flatnonzero(np.abs(f_hz / f_hz[int(size.argmin())] - 1) < HALF_WIDTH)
    if near.size < LEAST_POINTS:
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


def _single_echo_s(f_hz: FloatArray, gamma: ComplexArray, peak_s: float, longest_s: float) -> float | None:
    """Round-trip delay of a line in front by the main echo, where nothing comes back before it."""
    if peak_s < ECHO_OPEN_S or f_hz[-1] - f_hz[0] < ECHO_WIDE_HZ:
        return None
    weight = np.hanning(f_hz.size + 2)[1:-1] * np.gradient(f_hz)
    weight /= weight.sum()
    reaches_down = f_hz[-1] >= ECHO_DOWN * f_hz[0]
    for line_ohm, box_s, least_size in zip(LINE_OHMS, ECHO_BOX_S, ECHO_SIZES, strict=True):
        seen = relative_to(line_ohm, gamma)
        echo_s = peak_s if line_ohm == REFERENCE_OHM else main_echo_s(f_hz, seen, longest_s)
        turn = np.exp(2j * np.pi * echo_s * f_hz)
        echo, prompt, leaked = complex(turn @ (weight * seen)), abs(weight @ seen), abs(turn @ weight)
        is_open = reaches_down and abs(np.degrees(np.angle(echo))) <= ECHO_OPEN_DEG
        least_s = ECHO_OPEN_S if is_open else box_s
        if echo_s >= least_s and abs(echo) >= least_size and prompt / abs(echo) - leaked <= PROMPT_SHARE:
            return echo_s
    return None


def main_echo_s(f_hz: FloatArray, gamma: ComplexArray, longest_s: float) -> float:
    """Round-trip delay of the strongest reflection, a little below 0 at most, on any grid."""
    step_s = 0.1 / float(f_hz[-1] - f_hz[0])
    trials_s = np.arange(-5 * step_s, longest_s, step_s)
    weight = np.hanning(f_hz.size + 2)[1:-1] * np.gradient(f_hz)
    sums = sum_over_delays((f_hz - f_hz[0]) * step_s, weight * gamma, -5, trials_s.size)
    return vertex(trials_s, -np.abs(sums))


def _likely(delay_s: float, spread_s: float) -> LineGuess:
    """A line, from round-trip figures."""
    low_s, high_s = max(delay_s - spread_s, 0.0), delay_s + spread_s
    return LineGuess("likely", Figure(delay_s / 2, low_s / 2, high_s / 2), 0.0)


def _none_seen(least_s: float) -> LineGuess:
    """No line longer than that, from a round-trip figure."""
    text = f"no line of more than {least_s / 2 * 1e9:.0f} ns shows in the sweep"
    return LineGuess("none seen", Figure.none(text), least_s / 2)


def _cannot_say(reason: str) -> LineGuess:
    return LineGuess("cannot say", Figure.none(reason), float("inf"))
