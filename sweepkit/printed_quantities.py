"""What a printed quantity says of the reflection: its value there, the reflection with another value, and its blur."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import (
    ComplexArray,
    FloatArray,
    gamma_abs_from_return_loss_db,
    gamma_abs_from_swr,
    gamma_from_z,
    return_loss_db_from_gamma_abs,
    swr_from_gamma_abs,
    z_from_gamma,
)

NUDGE = 1e-6  # of a value, for its derivative: rounding and curvature stay far below any blur; our own choice

Size = Callable[[NDArray[Any]], FloatArray]
MAGNITUDES: dict[str, Size] = {
    "mag": lambda v: np.asarray(v, dtype=np.float64),
    "db": lambda v: gamma_abs_from_return_loss_db(-v),
    "rl": gamma_abs_from_return_loss_db,
    "swr": gamma_abs_from_swr,
}


Value = Callable[[ComplexArray, float], NDArray[Any]]
Says = Callable[[ComplexArray, NDArray[Any], float], NDArray[Any]]


def _replacing(part: str, *, y: bool = False, unit: float | None = None) -> tuple[Value, Says]:
    """A part of the impedance (or admittance) at a reflection, and the reflection with that part replaced."""
    sign = -1 if y else 1  # the admittance of a reflection is the impedance of its negative
    take = _PARTS[part][0]

    def base(z0: float) -> float:
        return unit or (1 / z0 if y else z0)

    def value(g: ComplexArray, z0: float) -> NDArray[Any]:
        return np.asarray(take(z_from_gamma(sign * g, base(z0))))

    def says(g: ComplexArray, v: NDArray[Any], z0: float) -> NDArray[Any]:
        return sign * gamma_from_z(_PARTS[part][1](z_from_gamma(sign * g, base(z0)), v), base(z0))

    return value, says


_PARTS: dict[str, tuple[Callable[[Any], Any], Callable[[Any, Any], Any]]] = {
    "whole": (lambda z: z, lambda z, v: v),
    "re": (np.real, lambda z, v: v + 1j * z.imag),
    "im": (np.imag, lambda z, v: z.real + 1j * v),
    "im size": (lambda z: np.abs(z.imag), lambda z, v: z.real + 1j * np.copysign(v, z.imag)),
    "size": (np.abs, lambda z, v: v * np.exp(1j * np.angle(z))),
    "angle": (np.angle, lambda z, v: np.abs(z) * np.exp(1j * v)),
    "angle size": (
        lambda z: np.abs(np.angle(z)),
        lambda z, v: np.abs(z) * np.exp(1j * np.copysign(v, z.imag)),
    ),
    "1 / re": (lambda z: 1 / z.real, lambda z, v: 1 / v + 1j * z.imag),
    "-1 / im": (lambda z: -1 / z.imag, lambda z, v: z.real - 1j / v),
}


def _of_gamma(part: str) -> tuple[Value, Says]:
    take, replaced = _PARTS[part]
    return (lambda g, z0: take(g)), (lambda g, v, z0: replaced(g, v))


def _sized(size: Size, value: Callable[[FloatArray], FloatArray]) -> tuple[Value, Says]:
    return (lambda g, z0: value(np.abs(g))), (lambda g, v, z0: size(v) * np.exp(1j * np.angle(g)))


# Of each quantity: its value at a reflection, and the reflection nearest in meaning that has the printed value.
QUANTITIES: dict[str, tuple[Value, Says]] = {
    "gamma": _of_gamma("whole"),
    "re": _of_gamma("re"),
    "im": _of_gamma("im"),
    "s_phase": _of_gamma("angle"),
    "s_phase_abs": _of_gamma("angle size"),
    "mag": _sized(MAGNITUDES["mag"], lambda v: v),
    "db": _sized(MAGNITUDES["db"], lambda v: -return_loss_db_from_gamma_abs(v)),
    "rl": _sized(MAGNITUDES["rl"], return_loss_db_from_gamma_abs),
    "swr": _sized(MAGNITUDES["swr"], swr_from_gamma_abs),
    "z": _replacing("whole"),
    "r": _replacing("re"),
    "x": _replacing("im"),
    "x_abs": _replacing("im size"),
    "z_abs": _replacing("size"),
    "z_phase": _replacing("angle"),
    "z_phase_abs": _replacing("angle size"),
    "rn": _replacing("re", unit=1.0),
    "xn": _replacing("im", unit=1.0),
    "y": _replacing("whole", y=True),
    "g": _replacing("re", y=True),
    "b": _replacing("im", y=True),
    "y_abs": _replacing("size", y=True),
    "y_phase": _replacing("angle", y=True),
    "rp": _replacing("1 / re", y=True),
    "xp": _replacing("-1 / im", y=True),
}


def blur(
    name: str, gamma: ComplexArray, reference_ohm: float, step: Callable[[NDArray[Any]], FloatArray]
) -> FloatArray:
    """How far a *step* of a printed quantity, told at its values, moves the reflection, by the derivative.

    Of a complex number both parts are printed, each with its step.
    """
    value, says = QUANTITIES[name]
    values = value(gamma, reference_ohm)
    nudge = NUDGE * (np.abs(values) + _usual_size(name, reference_ohm))
    moved = np.abs(says(gamma, values + nudge, reference_ohm) - gamma)
    is_complex = np.iscomplexobj(values)
    return np.asarray(
        moved / nudge * (np.hypot(step(values.real), step(values.imag)) if is_complex else step(values))
    )


@lru_cache(maxsize=128)
def _usual_size(name: str, reference_ohm: float) -> float:
    """Of a quantity, at a reflection of 0.5."""
    return float(np.abs(QUANTITIES[name][0](np.array([0.3 + 0.4j]), reference_ohm))[0])
