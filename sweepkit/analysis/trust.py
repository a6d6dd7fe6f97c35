"""Which points of a sweep to believe: bursts of a nearby transmitter, single points off, steps."""

from __future__ import annotations

from math import comb, sqrt
from typing import Literal, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from sweepkit.analysis.bursts import SURROUNDINGS, Curve, find_burst, is_antenna
from sweepkit.conversions import ComplexArray, FloatArray, IndexArray

BELIEVED_IN_NOISE = 4.0  # a point farther from the curve round it is off
NOISE_LEAST = 1e-4  # misfit of a model that no figure notices [-]
LONGEST_STEP = 3  # suspects that one jump makes
LONGEST_BLOCK = 0.15  # two jumps with no more of the sweep between are one stretch that is off
BLOCK_SHARE = 0.8  # of the points between them must be off
MOST_DISTRUSTED = 0.3  # a sweep with more of them is jagged all over
COARSEST = 0.02  # step over frequency; a dipole is 3 to 5 % wide, so wider steps tell nothing of a curve
MEDIAN_OVER = 9
LEAST_POINTS = 20  # shorter sweeps show no bursts
SIDE = 5  # intervals to each side that a parabola must describe
ORDERS = (2, 4, 6)  # each two more than the one before
SUSPECT_IN_NOISE = 7.0  # one point in a million is so far off by chance
LEAST_OFF = 0.01  # smaller errors of the reflection move no figure that matters [-]
GAP = 5  # suspects no farther apart than this belong together


class Stretch(NamedTuple):
    """Points near each other that do not go with the others."""

    kind: Literal["burst", "step"]
    points: IndexArray
    size: float  # largest error of the reflection against the curve round them; of its square without phase


class Trust(NamedTuple):
    """Trust in each point, shape (n,), 0 or 1; the stretches it was taken from; jagged all over or not."""

    weights: FloatArray
    stretches: tuple[Stretch, ...]
    jagged: bool


def find_trusts(f_hz: FloatArray, gamma: ComplexArray, noise: FloatArray) -> list[Trust]:
    """Trust in each point of several sweeps, their reflection without its common delay, shape (sweeps, n).

    ``noise`` is the rms of the complex noise at each point, from an estimate that bursts do not move.
    """
    if f_hz.size < LEAST_POINTS:
        return [full_trust(f_hz.size)] * len(gamma)
    suspect, full = find_suspects(gamma, noise), full_trust(f_hz.size)
    return [
        _trust(f_hz, gamma[k], noise[k], suspect[k], has_phase=True) if some else full
        for k, some in enumerate(np.any(suspect, axis=1).tolist())
    ]


def full_trust(points: int) -> Trust:
    """All of a sweep believed; it cannot be changed, since many sweeps may share it."""
    weights = np.ones(points)
    weights.flags.writeable = False
    return Trust(weights, (), jagged=False)


def find_trust_of_magnitude(f_hz: FloatArray, magnitude: FloatArray, noise: FloatArray | float) -> Trust:
    """The same for a sweep without phase; its square is what resonances are ratios of polynomials in."""
    square = (magnitude * magnitude).astype(np.complex128)
    along = 2 * noise * np.hypot(_usual(magnitude), noise)
    if f_hz.size < LEAST_POINTS:
        return Trust(np.ones(f_hz.size), (), jagged=False)
    return _trust(f_hz, square, along, find_suspects(square, along), has_phase=False)


def bridged(f_hz: FloatArray, values: ComplexArray, weights: FloatArray) -> ComplexArray:
    """The curve with straight lines across the points that are not believed, by the trust in each."""
    good = weights > 0
    if good.all() or not good.any():
        return values
    real, imag = (np.interp(f_hz, f_hz[good], part[good]) for part in (values.real, values.imag))
    bridge: ComplexArray = np.where(good, values, real + 1j * imag)
    return bridge


def _usual(values: FloatArray) -> FloatArray:
    """Median of each point's surroundings."""
    if values.size < MEDIAN_OVER:
        return values
    half = MEDIAN_OVER // 2
    middle = np.sort(sliding_window_view(values, MEDIAN_OVER), axis=1)[:, half]
    return np.concatenate([np.full(half, middle[0]), middle, np.full(half, middle[-1])])


def _trust(
    f_hz: FloatArray, values: ComplexArray, noise: FloatArray, suspect: NDArray[np.bool_], *, has_phase: bool
) -> Trust:
    n = f_hz.size
    everything = np.ones(n)
    curve = Curve(f_hz, values, has_phase, BELIEVED_IN_NOISE * np.maximum(noise, NOISE_LEAST))
    clean = np.flatnonzero(~_widened(suspect))
    judged = [_judge(curve, int(points[0]), int(points[-1]), clean) for points in group(suspect)]
    stretches = _blocks(curve, [stretch for stretch in judged if stretch is not None], clean)
    weights = everything.copy()
    for stretch in stretches:
        if stretch.kind == "burst":
            weights[stretch.points] = 0.0
    jagged = np.count_nonzero(weights == 0) > MOST_DISTRUSTED * n
    return Trust(everything if jagged else weights, stretches, jagged=bool(jagged))


def _widened(suspect: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Suspects and their neighbours: the ends of a burst need not be suspect themselves."""
    wide = suspect.copy()
    wide[1:] |= suspect[:-1]
    wide[:-1] |= suspect[1:]
    return wide


def _judge(curve: Curve, first: int, last: int, clean: IndexArray) -> Stretch | None:
    """A burst, a step, or nothing where an antenna may be the reason."""
    length = last - first + 1
    if curve.f_hz[last] - curve.f_hz[first - 1] > COARSEST * curve.f_hz[first] * length:
        return None
    if length <= LONGEST_STEP:
        misfit = float(curve.misfit[first])
        least = max(SUSPECT_IN_NOISE / BELIEVED_IN_NOISE * misfit, LEAST_OFF)
        size = step_size(curve.f_hz, curve.values, first, last, misfit=misfit, least=least)
        around = np.arange(max(0, first - SURROUNDINGS), min(curve.f_hz.size, last + SURROUNDINGS + 1))
        if size is not None and not is_antenna(curve, around, length):
            return Stretch("step", np.arange(first, last + 1), size)
    burst = find_burst(curve, first, last, clean)
    return None if burst is None else Stretch("burst", *burst)


def _blocks(curve: Curve, stretches: list[Stretch], clean: IndexArray) -> tuple[Stretch, ...]:
    """Two jumps, there and back, made one burst where the curve goes on after them as before."""
    whole: list[Stretch] = []
    for stretch in stretches:
        if whole and whole[-1].kind == stretch.kind == "step":
            block = _block(curve, int(whole[-1].points[0]), int(stretch.points[-1]), clean)
            if block is not None:
                whole[-1] = block
                continue
        whole.append(stretch)
    return tuple(whole)


def _block(curve: Curve, first: int, last: int, clean: IndexArray) -> Stretch | None:
    if last - first + 1 > LONGEST_BLOCK * curve.f_hz.size:
        return None
    burst = find_burst(curve, first, last, clean[(clean < first) | (clean > last)])
    if burst is None or np.count_nonzero((burst[0] >= first) & (burst[0] <= last)) < BLOCK_SHARE * (
        last - first
    ):
        return None
    return Stretch("burst", *burst)


def step_size(
    f_hz: FloatArray, values: ComplexArray, first: int, last: int, *, misfit: float, least: float
) -> float | None:
    """How far the curve jumps at a group of suspects, first to last.

    ``misfit`` is the distance from a curve beyond which a point is off, ``least`` the smallest jump that counts.
    ``None`` where it does not jump, or a side is too short or not smooth.
    """
    if first < SIDE or last + SIDE >= f_hz.size:
        return None
    at = first - 1 + int(np.argmax(np.abs(np.diff(values[first - 1 : last + 2]))))
    middle_hz = float(f_hz[at] + f_hz[at + 1]) / 2
    sides = (np.arange(at - SIDE, at + 1), np.arange(at + 1, at + 2 + SIDE))
    if sides[0][0] < 0 or sides[1][-1] >= f_hz.size:
        return None
    ends = [_end(f_hz, values, side, middle_hz, misfit) for side in sides]
    if ends[0] is None or ends[1] is None:
        return None
    size = abs(ends[1] - ends[0])
    return size if size > least else None


def _end(
    f_hz: FloatArray, values: ComplexArray, side: IndexArray, middle_hz: float, misfit: float
) -> complex | None:
    """Value of a parabola through one side at the jump; ``None`` where it does not fit."""
    x = (f_hz[side] - middle_hz) / (f_hz[side[-1]] - f_hz[side[0]])
    powers = np.stack([np.ones_like(x), x, x * x], axis=1)
    parabola = np.linalg.lstsq(powers, values[side], rcond=None)[0]
    off = np.abs(powers @ parabola - values[side]).max()
    return None if off > misfit else complex(parabola[0])


def find_suspects(values: ComplexArray, noise: FloatArray) -> NDArray[np.bool_]:
    """Which points are suspect, of reflections without common delay or squared magnitudes, shape (..., n).

    ``noise`` is the rms at each point, from an estimate that bursts do not move.
    """
    least = np.full(values.shape, np.inf)
    rest = values
    for order in ORDERS:
        rest = np.diff(rest, 2)
        half = order // 2
        inner = least[..., half : values.shape[-1] - half]
        np.minimum(inner, np.abs(rest) / sqrt(comb(2 * order, order)), out=inner)
    least[..., [0, -1]] = 0.0  # nothing to compare them with
    suspect: NDArray[np.bool_] = least > np.maximum(SUSPECT_IN_NOISE * noise, LEAST_OFF / sqrt(comb(4, 2)))
    return suspect


def group(suspect: NDArray[np.bool_]) -> list[IndexArray]:
    """Suspects together with those nearby, groups in rising order."""
    points = np.flatnonzero(suspect)
    return np.split(points, np.flatnonzero(np.diff(points) > GAP) + 1) if points.size else []
