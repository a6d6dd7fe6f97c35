"""Is there a line in front of the antenna that nobody told of, and about how long?

An antenna stores energy and so delays the wave by itself; two ways tell it from a line. A wide sweep shows in
time where most of the wave comes back from: antennas reflect most of it at their connector. A narrow sweep
round one dip is fitted: an antenna near one resonance is a ratio of two linear functions of frequency, a line
turns it on top of that. Limits below were set on 24 modelled antennas of 8 kinds swept without a line and
behind 5 to 30 m of it (docs/feedline.md has the table of errors).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.over_delays import sum_over_delays
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

USUAL_VELOCITY_FACTOR = 0.66  # solid polyethylene, 1/sqrt(2.3); foam is up to 0.88
LONGEST_S = 1.5e-6  # round trip: 150 m of solid-dielectric coax, longer than a portable station carries
LEAST_POINTS = 15

WIDE_SHARE = 0.5  # a sweep is wide if it spans this share of its middle frequency ...
WIDE_HZ = 5e6  # ... and so much
WIDE_SPREAD, WIDE_LEAST = 0.5, 0.8  # error and shortest believed delay of a wide sweep, in units of 1/span
NARROW_LEAST = 3.0  # shortest delay believed from the time domain of a narrow sweep, in units of 1/span

HALF_WIDTH = 0.12  # part of a sweep, round its dip, that one resonance describes
FIT_SPREAD_S, FIT_SPREAD_SHARE = 25e-9, 0.15  # error of the fit, and what comes on top with the delay
FIT_LEAST_S = 55e-9  # shortest delay ever believed: transformers and coils delay up to 50 ns by themselves
FIT_LONGEST_S = 800e-9
FIT_LEAST_GAIN = 2.0  # a delay must leave so many times less unexplained than no delay
FIT_LEAST_RISE = 0.1  # the reflection must rise by so much to each side of the dip
FIT_WORST = 0.05  # rms of the reflection left by the fit; above, one resonance does not describe it
FIT_HIDES_S = 100e-9  # a fit that leaves room for more than this cannot say that there is no line
AGREE = 1.5  # time domain and fit may differ by so many 1/span
TRIALS = 96
BLOCK_VALUES = 2**17  # delays × points that are fitted at once: 2 MB an array


@dataclass(frozen=True)
class LineGuess:
    """What a sweep says about a line in front.

    Parameters
    ----------
    answer : {"likely", "none seen", "cannot say"}
        ``none seen`` does not exclude a line shorter than what the sweep resolves.
    one_way_s : Figure
        One-way delay; no value unless the answer is ``likely``. [s]
    hidden_s : float
        Longest one-way delay that the sweep could still hide; ``inf`` where it cannot show any. [s]
    """

    answer: Literal["likely", "none seen", "cannot say"]
    one_way_s: Figure
    hidden_s: float

    def finding(self) -> Finding | None:
        """What to tell the operator; nothing unless a line is likely."""
        delay = self.one_way_s
        if self.answer != "likely" or delay.value is None:
            return None
        length = delay.scaled(SPEED_OF_LIGHT_M_S * USUAL_VELOCITY_FACTOR)
        low, high = length.low or 0.0, length.high or 0.0
        return Finding(
            "line-likely",
            "note",
            f"the sweep is delayed by about {delay.value * 1e9:.0f} ns one way, as by {length.value:.0f} m "
            f"({low:.0f} to {high:.0f} m) of coax of velocity factor {USUAL_VELOCITY_FACTOR}: "
            "a line is likely in front",
            "tell the line with --line, or sweep again at the feedpoint; X = 0 in this sweep is no resonance",
        )


def guess_line(f_hz: ArrayLike, gamma: ArrayLike) -> LineGuess:
    """Delay of a line in front of an antenna, where the sweep shows one.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency, rising. [Hz]
    gamma : complex array, shape (n,)
        Reflection as measured. [-]

    Returns
    -------
    LineGuess
        Likely with its delay, none seen, or cannot say with the reason.
    """
    f, g = np.asarray(f_hz, dtype=np.float64), np.asarray(gamma, dtype=np.complex128)
    if f.size < LEAST_POINTS:
        return _cannot_say(f"{f.size} points do not show a delay; {LEAST_POINTS} are needed")
    longest_s = min(LONGEST_S, 0.5 / float(np.diff(f).max()))
    cell_s = 1 / float(f[-1] - f[0])
    is_wide = f[-1] - f[0] >= max(WIDE_HZ, WIDE_SHARE * (f[0] + f[-1]) / 2)
    least_s = (WIDE_LEAST if is_wide else NARROW_LEAST) * cell_s
    peak_s = main_echo_s(f, g, longest_s)
    if peak_s >= max(least_s, FIT_LEAST_S):
        return _likely(peak_s, WIDE_SPREAD * cell_s)
    fit = fit_delay(f, g, longest_s)
    if fit is not None:
        agrees = abs(fit.delay_s - peak_s) <= (WIDE_LEAST if is_wide else AGREE) * cell_s
        if fit.gain >= FIT_LEAST_GAIN and fit.delay_s >= FIT_LEAST_S and agrees:
            return _likely(fit.delay_s, FIT_SPREAD_S + FIT_SPREAD_SHARE * fit.delay_s)
        if fit.hides_s <= FIT_HIDES_S:
            return _none_seen(max(fit.hides_s, FIT_LEAST_S))
    if is_wide:
        return _none_seen(max(least_s, FIT_LEAST_S))
    return _cannot_say(
        f"{(f[-1] - f[0]) / 1e6:.2f} MHz are too narrow to tell an antenna from a line; sweep 10 MHz or more"
    )


def main_echo_s(f_hz: FloatArray, gamma: ComplexArray, longest_s: float) -> float:
    """Round-trip delay of the strongest reflection, on any grid.

    Parameters
    ----------
    f_hz, gamma
        As in :func:`guess_line`.
    longest_s : float
        How far to look. [s]

    Returns
    -------
    float
        Delay; a little below 0 at most. [s]
    """
    step_s = 0.1 / float(f_hz[-1] - f_hz[0])
    trials_s = np.arange(-5 * step_s, longest_s, step_s)
    weight = np.hanning(f_hz.size + 2)[1:-1] * np.gradient(f_hz)
    sums = sum_over_delays((f_hz - f_hz[0]) * step_s, weight * gamma, -5, trials_s.size)
    return _vertex(trials_s, -np.abs(sums))


@dataclass(frozen=True)
class DelayFit:
    """One resonance behind a delay, fitted round the dip.

    Parameters
    ----------
    delay_s : float
        Round-trip delay that leaves least unexplained. [s]
    gain : float
        Unexplained without a delay, over unexplained with it. [-]
    hides_s : float
        Longest delay that would not leave clearly more unexplained. [s]
    """

    delay_s: float
    gain: float
    hides_s: float


def fit_delay(f_hz: FloatArray, gamma: ComplexArray, longest_s: float) -> DelayFit | None:
    """Delay in front of the resonance at the lowest reflection of a sweep.

    Γ = (p0 + p1·x)/(1 + q·x)·exp(-2jπf·delay), all trial delays at once by weighted least squares.

    Parameters
    ----------
    f_hz, gamma, longest_s
        As in :func:`main_echo_s`.

    Returns
    -------
    DelayFit or None
        ``None`` without a dip that rises on both sides, with too few points, or where the fit is poor.
    """
    size = np.abs(gamma)
    dip = int(size.argmin())
    first, last = np.searchsorted(f_hz, [f_hz[dip] * (1 - HALF_WIDTH), f_hz[dip] * (1 + HALF_WIDTH)])
    f, g = f_hz[first:last], gamma[first:last]
    rise = min(size[first : dip + 1].max(), size[dip:last].max()) - size[dip] if last > dip else 0.0
    if f.size < LEAST_POINTS or rise < FIT_LEAST_RISE:
        return None
    trials_s = np.linspace(0, min(FIT_LONGEST_S, longest_s), TRIALS)
    left = _left_behind(f - f.mean(), g, trials_s)
    least = float(left.min())
    if least > FIT_WORST:
        return None
    return DelayFit(
        max(_vertex(trials_s, left**2), 0.0),
        float(left[0]) / max(least, 1e-9),
        float(trials_s[left < FIT_LEAST_GAIN * least].max()),
    )


def _left_behind(f_hz: FloatArray, gamma: ComplexArray, trials_s: FloatArray) -> FloatArray:
    """What one resonance leaves of a curve, its frequencies relative to their mean, for each delay taken out."""
    x = f_hz * (2 / (f_hz[-1] - f_hz[0]))
    rows = max(1, BLOCK_VALUES // f_hz.size)
    blocks = [trials_s[k : k + rows] for k in range(0, trials_s.size, rows)]
    turned = (gamma * np.exp(2j * np.pi * np.outer(block, f_hz)) for block in blocks)
    return np.concatenate([resonance_residuals(x, curves) for curves in turned])


def resonance_residuals(x: FloatArray, gamma: ComplexArray) -> FloatArray:
    """Rms of what a ratio of two linear functions leaves of each curve.

    Parameters
    ----------
    x : float array, shape (n,)
        Frequency, shifted and scaled to -1..1. [-]
    gamma : complex array, shape (curves, n)
        Reflections. [-]

    Returns
    -------
    float array, shape (curves,)
        Rms. The linear problem p0 + p1·x - q·x·Γ = Γ is solved three times, weighted by 1/|1 + q·x|². [-]
    """
    weight, square = np.ones(gamma.shape), np.abs(gamma) ** 2
    for _ in range(3):
        s0 = weight.sum(axis=1)
        u = x - ((weight @ x) / s0)[:, None]
        wu, wuu = weight * u, weight * u * u
        s2, a0, a1, a2 = wuu.sum(1), (weight * gamma).sum(1), (wu * gamma).sum(1), (wuu * gamma).sum(1)
        b1, b2 = (wu * square).sum(1), (wuu * square).sum(1)
        below = b2 - np.abs(a1) ** 2 / s0 - np.abs(a2) ** 2 / s2
        q = (-b1 + a1.conj() * a0 / s0 + a2.conj() * a1 / s2) / np.maximum(below, np.finfo(float).tiny)
        p0, p1 = (a0 + q * a1) / s0, (a1 + q * a2) / s2
        denominator = 1 + q[:, None] * u
        weight = 1 / np.maximum(np.abs(denominator) ** 2, 1e-6)
    left = gamma - (p0[:, None] + p1[:, None] * u) / denominator
    return np.asarray(np.sqrt((np.abs(left) ** 2).mean(axis=1)))


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
