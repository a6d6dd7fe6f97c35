"""The step in which a file prints what was measured, and what that leaves of the reflection at each point."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray, renormalise_gamma, z_from_gamma


@dataclass(frozen=True)
class Step:
    """Smallest step of printed numbers: ``absolute``, or ``relative`` times the power of ten of the number."""

    absolute: float  # of numbers with a fixed count of decimals, in the unit they are printed in
    relative: float = 0.0  # of the mantissa of numbers with a fixed count of digits
    scale: float = 1.0  # what turns the printed unit into the SI unit (radians for angles)
    decimals: int = 0  # digits printed behind the decimal mark

    def scaled(self, factor: float) -> Step:
        """The same step in a unit ``factor`` times smaller."""
        return self if factor == 1 else replace(self, scale=self.scale * factor)

    def of(self, values: NDArray[Any]) -> FloatArray:
        """Step at each value, in the unit of the values."""
        step = np.full(np.shape(values), self.absolute)
        if self.relative:
            printed = np.abs(values) / abs(self.scale)
            power = np.floor(np.log10(np.where(printed > 0, printed, 1.0)))
            step = step + np.where(printed > 0, self.relative * 10.0**power, 0.0)
        return np.asarray(step * abs(self.scale), dtype=np.float64)


# How far the reflection g at reference z0 moves with a step s of each quantity, by its derivative.
_Moved = Callable[[ComplexArray, float, Step], FloatArray]


def _by_z(z0: float, g: ComplexArray) -> FloatArray:
    return np.asarray(np.abs(1 - g) ** 2 / (2 * z0))


def _by_y(z0: float, g: ComplexArray) -> FloatArray:
    return np.asarray(np.abs(1 + g) ** 2 * z0 / 2)


def _z_move(value: Callable[[ComplexArray], NDArray[Any]]) -> _Moved:
    return lambda g, z0, s: _by_z(z0, g) * s.of(value(z_from_gamma(g, z0)))


def _y_move(value: Callable[[ComplexArray], NDArray[Any]]) -> _Moved:
    return lambda g, z0, s: _by_y(z0, g) * s.of(value(z_from_gamma(-g, 1 / z0)))


def _parallel_move(part: Callable[[ComplexArray], NDArray[Any]]) -> _Moved:
    """Of a parallel resistance or reactance, the reciprocal of a part of the admittance."""

    def move(g: ComplexArray, z0: float, s: Step) -> FloatArray:
        y = part(z_from_gamma(-g, 1 / z0))
        return np.asarray(_by_y(z0, g) * s.of(1 / y) * y**2)

    return move


def _swr_move(g: ComplexArray, z0: float, s: Step) -> FloatArray:
    less = np.maximum(1 - np.abs(g), 1e-9)  # SWR without end at total reflection
    return np.asarray(less**2 / 2 * s.of(2 / less - 1))


def _db_move(g: ComplexArray, z0: float, s: Step) -> FloatArray:
    size = np.maximum(np.abs(g), 1e-9)
    return np.asarray(size * np.log(10) / 20 * s.of(20 * np.log10(size)))


def _angle_move(g: ComplexArray, z0: float, s: Step) -> FloatArray:
    return np.asarray(np.abs(1 - g**2) / 2 * s.of(np.angle(z_from_gamma(g, z0))))


_MOVED: dict[str, _Moved] = {
    "re": lambda g, z0, s: s.of(g.real),
    "im": lambda g, z0, s: s.of(g.imag),
    "gamma": lambda g, z0, s: np.hypot(s.of(g.real), s.of(g.imag)),
    "mag": lambda g, z0, s: s.of(np.abs(g)),
    "db": _db_move,
    "rl": _db_move,
    "swr": _swr_move,
    "s_phase": lambda g, z0, s: np.abs(g) * s.of(np.angle(g)),
    "r": _z_move(lambda z: z.real),
    "x": _z_move(lambda z: z.imag),
    "x_abs": _z_move(lambda z: z.imag),
    "z": lambda g, z0, s: np.sqrt(2) * _z_move(np.abs)(g, z0, s),
    "z_abs": _z_move(np.abs),
    "z_phase": _angle_move,
    "z_phase_abs": _angle_move,
    "rn": lambda g, z0, s: _z_move(lambda z: z.real)(g, 1.0, s),
    "xn": lambda g, z0, s: _z_move(lambda z: z.imag)(g, 1.0, s),
    "g": _y_move(lambda y: y.real),
    "b": _y_move(lambda y: y.imag),
    "y": lambda g, z0, s: np.sqrt(2) * _y_move(np.abs)(g, z0, s),
    "y_abs": _y_move(np.abs),
    "rp": _parallel_move(lambda y: y.real),
    "xp": _parallel_move(lambda y: y.imag),
    "y_phase": _angle_move,
}


@dataclass(frozen=True)
class PrintedStep:
    """What a file prints of a sweep, and in which steps."""

    # what the reflection was made from: "r x", "re im", "mag s_phase", "db s_phase", "swr", ...
    quantities: tuple[str, ...]
    steps: tuple[Step, ...]  # of each
    reference_ohm: float  # of the printed numbers

    def rounding(self, gamma: NDArray[Any], reference_ohm: float) -> FloatArray:
        """Standard deviation of the reflection from rounding alone, real and imaginary part together, shape (n,).

        A number rounded to a step is off by up to half of it, evenly spread: ``step / sqrt(12)``. Without phase
        ``gamma`` is its magnitude.
        """
        at = np.asarray(gamma, dtype=np.complex128)
        with np.errstate(all="ignore"):
            printed = renormalise_gamma(at, reference_ohm, self.reference_ohm)
            variance = np.zeros(at.shape)
            for name, step in zip(self.quantities, self.steps, strict=True):
                if name in _MOVED:
                    moved = _MOVED[name](printed, self.reference_ohm, step)
                    variance += np.where(np.isfinite(moved), moved, 0.0) ** 2 / 12
            k = (reference_ohm - self.reference_ohm) / (reference_ohm + self.reference_ohm)
            carried = np.abs((1 - k**2) / (1 - k * printed) ** 2)  # derivative of the change of reference
        return np.asarray(np.sqrt(variance) * carried)
