"""Which points of a sweep to believe: bursts of a nearby transmitter, single points off, steps.

A group of suspects is a burst when the curve round it is smooth and nothing an antenna does goes through
it. Of the group those points are off that lie far from the curve round it.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis import moebius
from sweepkit.analysis.local import IndexArray
from sweepkit.analysis.resonance_proof import is_resonance
from sweepkit.analysis.suspects import LEAST_OFF, SUSPECT_IN_NOISE, find_suspects, group
from sweepkit.conversions import ComplexArray, FloatArray

SURROUNDINGS = 5  # believed points to each side of a group, at least
BELIEVED_IN_NOISE = 4.0  # a point farther from the curve round it is off
STRAY_SHARE = 0.15  # of the points round a group may be off without being suspect: its weak ends
WEAK_ENDS = 2  # and lies within so many points and the length of the group of it
LEAP_SHARE = 0.5  # of its largest error a burst changes by so much from one point to the next
NOISE_LEAST = 1e-4  # misfit of a model that no figure notices [-]
LONGEST_STEP = 3  # suspects that one jump makes
MOST_DISTRUSTED = 0.3  # a sweep with more of them is jagged all over
COARSEST = 0.02  # step over frequency; a dipole is 3 to 5 % wide, so wider steps tell nothing of a curve
LEAST_POINTS = 20  # shorter sweeps show no bursts


class Stretch(NamedTuple):
    """Points near each other that do not go with the others.

    ``size`` is the largest error of the reflection, against the curve round them.
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
    everything = np.ones(f_hz.shape)
    if f_hz.size < LEAST_POINTS:
        return Trust(everything, (), jagged=False)
    suspect = find_suspects(gamma, noise)
    clean = np.flatnonzero(~_widened(suspect))
    believed_off = BELIEVED_IN_NOISE * max(noise, NOISE_LEAST)
    judged = [_judge(f_hz, gamma, points, clean, believed_off) for points in group(suspect)]
    stretches = tuple(stretch for stretch in judged if stretch is not None)
    weights = everything.copy()
    for stretch in stretches:
        if stretch.kind == "burst":
            weights[stretch.points] = 0.0
    jagged = np.count_nonzero(weights == 0) > MOST_DISTRUSTED * f_hz.size
    return Trust(everything if jagged else weights, stretches, jagged=bool(jagged))


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


def _widened(suspect: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Suspects and their neighbours: the ends of a burst need not be suspect themselves."""
    wide = suspect.copy()
    wide[1:] |= suspect[:-1]
    wide[:-1] |= suspect[1:]
    return wide


def _judge(
    f_hz: FloatArray, gamma: ComplexArray, points: IndexArray, clean: IndexArray, believed_off: float
) -> Stretch | None:
    """A burst, a step, or nothing where an antenna may be the reason."""
    first, last = int(points[0]), int(points[-1])
    length = last - first + 1
    if f_hz[last] - f_hz[first - 1] > COARSEST * f_hz[first] * length:
        return None
    if length <= LONGEST_STEP and _is_step(f_hz, gamma, first, last, believed_off):
        inside = np.arange(first, last + 1)
        return Stretch("step", inside, float(np.abs(np.diff(gamma[first - 1 : last + 2])).max()))
    for reach in sorted({SURROUNDINGS, length // 2, length}, reverse=True):
        if reach < SURROUNDINGS:
            break
        around = _around(clean, first, last, reach)
        if around.size < 2 * SURROUNDINGS:
            return None
        near = (around >= first - length - WEAK_ENDS) & (around <= last + length + WEAK_ENDS)
        model, centre_hz = _smooth_model(f_hz[around], gamma[around], near, believed_off)
        rough = _off(model, centre_hz, f_hz[around], gamma[around]) > believed_off
        if rough.mean() > STRAY_SHARE or rough[~near].any():
            continue
        window = np.arange(
            max(0, min(int(around[0]), first - 1)), min(f_hz.size, max(int(around[-1]), last + 1) + 1)
        )
        if is_resonance(f_hz[window], gamma[window], suspects=length, misfit=believed_off):
            return None
        return _burst(window, _error(model, centre_hz, f_hz[window], gamma[window]), believed_off)
    return None


def _burst(window: IndexArray, error: ComplexArray, believed_off: float) -> Stretch | None:
    """The points of a window that are off, where they begin and end all at once."""
    off = np.abs(error) > believed_off
    if not off.any() or _grows_slowly(error):
        return None
    return Stretch("burst", window[off], float(np.abs(error).max()))


def _grows_slowly(error: ComplexArray) -> bool:
    """Whether the error comes and goes gradually, as where a curve leaves its model, not by leaps."""
    size = float(np.abs(error).max())
    return bool(np.abs(np.diff(error)).max() < LEAP_SHARE * size)


def _around(clean: IndexArray, first: int, last: int, reach: int) -> IndexArray:
    """The nearest believed points to both sides; more of one side where the other runs out."""
    before, after = clean[clean < first], clean[clean > last]
    missing_before, missing_after = max(reach - before.size, 0), max(reach - after.size, 0)
    return np.concatenate(
        [before[max(0, before.size - reach - missing_after) :], after[: reach + missing_before]]
    )


def _smooth_model(
    f_hz: FloatArray, gamma: ComplexArray, near: NDArray[np.bool_], believed_off: float
) -> tuple[moebius.Moebius, float]:
    """One Möbius function through some points; a few near the group may stray and are left out."""
    centre_hz = float(f_hz[f_hz.size // 2])
    u = moebius.coordinate(f_hz, centre_hz)
    weights = np.ones(u.shape)
    while True:
        model = moebius.fit(u, gamma, moebius.settle_weights(u, gamma, weights))
        off = np.abs(moebius.value(model, u) - gamma) * weights * near
        worst = int(np.argmax(off))
        if off[worst] <= believed_off or np.count_nonzero(weights == 0) >= int(STRAY_SHARE * u.size):
            return model, centre_hz
        weights[worst] = 0.0


def _error(model: moebius.Moebius, centre_hz: float, f_hz: FloatArray, gamma: ComplexArray) -> ComplexArray:
    error: ComplexArray = gamma - moebius.value(model, moebius.coordinate(f_hz, centre_hz))
    return error


def _off(model: moebius.Moebius, centre_hz: float, f_hz: FloatArray, gamma: ComplexArray) -> FloatArray:
    return np.abs(_error(model, centre_hz, f_hz, gamma))


def _is_step(f_hz: FloatArray, gamma: ComplexArray, first: int, last: int, believed_off: float) -> bool:
    """Smooth before, smooth after, and a jump between."""
    if first < SURROUNDINGS or last + SURROUNDINGS >= f_hz.size:
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
        if misfit > believed_off:
            return False
        ends.append(complex(line[0, 0], line[0, 1]))
    return abs(ends[1] - ends[0]) > max(SUSPECT_IN_NOISE / BELIEVED_IN_NOISE * believed_off, LEAST_OFF)
