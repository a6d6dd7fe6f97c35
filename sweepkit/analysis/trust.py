"""Which points of a sweep to believe: bursts of a nearby transmitter, jagged stretches and steps.

A point is suspect when every high difference through it is far above the noise: what is left of a smooth
curve shrinks with the order of the difference, a burst does not. What the sweep has too few points for looks
like that too, and must not be thrown away. A burst is told apart by three signs: no causal, passive resonance
goes through it; the curve round it is smooth; and it does not lie below its surroundings, as dips do.
"""

from __future__ import annotations

from math import comb, sqrt
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.local import IndexArray
from sweepkit.conversions import ComplexArray, FloatArray

ORDERS = (2, 4, 6)
SUSPECT_IN_NOISE = 7.0  # one point in a million is so far off by chance
LEAST_OFF = 0.01  # smaller errors of the reflection move no figure that matters [-]
GAP = 3  # suspects no farther apart than this belong together
SURROUNDINGS = 5  # points to each side that a resonance must explain too
BELIEVED_IN_NOISE = 4.0  # misfit of a believed resonance
PASSIVE = 1.02  # a resonance does not reflect more than this [-]
DIP_SHARE = 0.8  # of the points of a dip lie below its surroundings
LONGEST_STEP = 3  # suspects that one jump makes
MOST_DISTRUSTED = 0.3  # a sweep with more suspects is jagged all over
LEAST_POINTS = 20  # shorter sweeps show no bursts


class Stretch(NamedTuple):
    """Neighbouring points that do not go with the others.

    ``size`` is the largest error of the reflection, against a bridge between its neighbours.
    """

    kind: Literal["burst", "step"]
    points: IndexArray
    size: float


class Trust(NamedTuple):
    """Trust in each point, shape (n,), 0 or 1; the stretches it was taken from; jagged all over or not."""

    weights: FloatArray
    stretches: tuple[Stretch, ...]
    jagged: bool


def find_trust(f_hz: FloatArray, gamma: ComplexArray, noise: float) -> Trust:
    """Trust in each point of a sweep.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency, rising, above 0. [Hz]
    gamma : complex array, shape (n,)
        Reflection without its common delay. [-]
    noise : float
        Rms of the complex noise, from an estimate that bursts do not move. [-]
    """
    weights = np.ones(f_hz.shape)
    if f_hz.size < LEAST_POINTS:
        return Trust(weights, (), jagged=False)
    suspects = _suspects(gamma, noise)
    stretches = []
    for points in _together(suspects):
        stretch = _judge(f_hz, gamma, points, noise)
        if stretch is not None:
            stretches.append(stretch)
            if stretch.kind == "burst":
                weights[stretch.points] = 0.0
    if np.count_nonzero(weights == 0) > MOST_DISTRUSTED * f_hz.size:
        return Trust(np.ones(f_hz.shape), tuple(stretches), jagged=True)
    return Trust(weights, tuple(stretches), jagged=False)


def bridged(f_hz: FloatArray, gamma: ComplexArray, weights: FloatArray) -> ComplexArray:
    """The curve with straight lines across the points that are not believed.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency. [Hz]
    gamma : complex array, shape (n,)
        Reflection without its common delay. [-]
    weights : float array, shape (n,)
        Trust in each point.
    """
    good = weights > 0
    if good.all() or not good.any():
        return gamma
    real, imag = (np.interp(f_hz, f_hz[good], part[good]) for part in (gamma.real, gamma.imag))
    bridge: ComplexArray = np.where(good, gamma, real + 1j * imag)
    return bridge


def _suspects(gamma: ComplexArray, noise: float) -> IndexArray:
    """Points through which every difference is far above the noise."""
    least = np.full(gamma.shape, np.inf)
    for order in ORDERS:
        inner = np.abs(np.diff(gamma, order)) / sqrt(comb(2 * order, order))
        half = order // 2
        least[half : gamma.size - half] = np.minimum(least[half : gamma.size - half], inner)
    least[[0, -1]] = 0.0  # nothing to compare them with
    return np.flatnonzero(least > max(SUSPECT_IN_NOISE * noise, LEAST_OFF / sqrt(comb(4, 2))))


def _together(suspects: IndexArray) -> list[IndexArray]:
    """Suspects grouped with those nearby."""
    if not suspects.size:
        return []
    return np.split(suspects, np.flatnonzero(np.diff(suspects) > GAP) + 1)


def _judge(f_hz: FloatArray, gamma: ComplexArray, points: IndexArray, noise: float) -> Stretch | None:
    """A burst, a step, or nothing where a resonance explains it."""
    first, last = int(points[0]), int(points[-1])
    window = np.arange(max(0, first - SURROUNDINGS), min(f_hz.size, last + SURROUNDINGS + 1))
    if _is_resonance(f_hz[window], gamma[window], noise):
        return None
    inside = np.arange(first, last + 1)
    if _is_step(f_hz, gamma, first, last, noise):
        return Stretch("step", inside, float(np.abs(np.diff(gamma[first - 1 : last + 2])).max()))
    around = np.setdiff1d(window, np.arange(first - 1, last + 2))
    if not _is_smooth(f_hz[around], gamma[around], noise) or _lies_below(gamma, first, last):
        return None
    return Stretch("burst", inside, float(_off_the_bridge(gamma, first, last)[0].max()))


def _is_resonance(f_hz: FloatArray, gamma: ComplexArray, noise: float) -> bool:
    """Whether one causal, passive resonance goes through all points of a window."""
    centre_hz = float(f_hz[f_hz.size // 2])
    u = moebius.coordinate(f_hz, centre_hz)
    weights = moebius.settle_weights(u, gamma, np.ones(u.shape))
    model = moebius.fit(u, gamma, weights)
    misfit = np.abs(moebius.value(model, u) - gamma).max()
    fine = np.linspace(u[0], u[-1], 10 * u.size)
    return bool(
        misfit <= BELIEVED_IN_NOISE * max(noise, 1e-4)
        and model.q.imag > 0
        and np.abs(moebius.value(model, fine)).max() <= PASSIVE
    )


def _is_smooth(f_hz: FloatArray, gamma: ComplexArray, noise: float) -> bool:
    """Whether one Möbius function describes the curve round a stretch."""
    if f_hz.size < SURROUNDINGS:
        return False
    u = moebius.coordinate(f_hz, float(f_hz[f_hz.size // 2]))
    model = moebius.fit(u, gamma, moebius.settle_weights(u, gamma, np.ones(u.shape)))
    misfit = np.abs(moebius.value(model, u) - gamma).max()
    return bool(misfit <= BELIEVED_IN_NOISE * max(noise, 1e-4))


def _lies_below(gamma: ComplexArray, first: int, last: int) -> bool:
    """Whether nearly all points reflect less than a bridge between their neighbours, as in a dip."""
    off, below = _off_the_bridge(gamma, first, last)
    far = off > 0.3 * off.max()
    return bool(below[far].mean() >= DIP_SHARE)


def _is_step(f_hz: FloatArray, gamma: ComplexArray, first: int, last: int, noise: float) -> bool:
    """Smooth before, smooth after, and a jump between."""
    if last - first > LONGEST_STEP or first < SURROUNDINGS or last + SURROUNDINGS >= f_hz.size:
        return False
    jumps = np.abs(np.diff(gamma[first - 1 : last + 2]))
    at = first - 1 + int(np.argmax(jumps))
    sides = (np.arange(at - SURROUNDINGS, at + 1), np.arange(at + 1, at + 2 + SURROUNDINGS))
    middle_hz = (f_hz[at] + f_hz[at + 1]) / 2
    ends = []
    for side in sides:
        if side[0] < 0 or side[-1] >= f_hz.size:
            return False
        x = (f_hz[side] - middle_hz) / (f_hz[side[-1]] - f_hz[side[0]])
        line = np.polynomial.polynomial.polyfit(x, np.stack([gamma[side].real, gamma[side].imag], axis=1), 2)
        model = np.polynomial.polynomial.polyval(x, line)
        misfit = np.hypot(gamma[side].real - model[0], gamma[side].imag - model[1]).max()
        if misfit > BELIEVED_IN_NOISE * max(noise, 1e-4):
            return False
        ends.append(complex(line[0, 0], line[0, 1]))
    return abs(ends[1] - ends[0]) > max(SUSPECT_IN_NOISE * noise, LEAST_OFF)


def _off_the_bridge(gamma: ComplexArray, first: int, last: int) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Distance of each point from a line between the neighbours of a stretch, and whether it reflects less."""
    before, after = max(0, first - 2), min(gamma.size - 1, last + 2)
    share = (np.arange(first, last + 1) - before) / max(after - before, 1)
    line = gamma[before] + share * (gamma[after] - gamma[before])
    inside = gamma[first : last + 1]
    return np.abs(inside - line), np.abs(inside) < np.abs(line)
