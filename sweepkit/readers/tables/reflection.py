"""Which quantities give the reflection coefficient, and what the reflection predicts for all the others."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
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
from sweepkit.sweep import Phase

PIECE_ROWS = 1 << 14  # of a long table at a time: what is worked out beside it stays small; our own choice

Values = tuple[NDArray[Any], ...]
Formula = Callable[[Values, FloatArray, float], NDArray[Any]]
Size = Callable[[NDArray[Any]], FloatArray]


@dataclass(frozen=True)
class Recipe:
    """How some quantities give the reflection."""

    needs: tuple[str, ...]  # names of the quantities
    phase: Phase  # what they tell of it
    # from the quantities, frequency [Hz] and reference [ohm] to the reflection; every reactance positive for
    # unsigned, the magnitude for none
    gamma: Formula

    def reflection(self, values: Values, f_hz: FloatArray, reference_ohm: float) -> NDArray[Any]:
        """Of all rows, worked out by pieces: a long table stays small in memory."""
        found = self.gamma(tuple(one[:PIECE_ROWS] for one in values), f_hz[:PIECE_ROWS], reference_ohm)
        if f_hz.size <= PIECE_ROWS:
            return found
        whole = np.empty(f_hz.size, dtype=found.dtype)
        for start in range(0, f_hz.size, PIECE_ROWS):
            rows = slice(start, start + PIECE_ROWS)
            whole[rows] = self.gamma(tuple(one[rows] for one in values), f_hz[rows], reference_ohm)
        return whole

    @property
    def gives_impedance(self) -> bool:
        """Whether the quantities give an impedance without any reference."""
        return not set(self.needs) & {*MAGNITUDES, "gamma", "re", "im", "s_phase", "rn", "xn"}


def _complex(real: FloatArray, imaginary: FloatArray) -> ComplexArray:
    whole = np.empty(real.shape, dtype=np.complex128)
    whole.real, whole.imag = real, imaginary
    return whole


def _polar(size: NDArray[Any], angle: NDArray[Any]) -> ComplexArray:
    return np.asarray(size * np.exp(1j * angle), dtype=np.complex128)


def _folded_x(r: FloatArray, gamma_abs: FloatArray, z0: float) -> ComplexArray:
    """R with the positive X that has this magnitude of reflection; X = 0 where rounding leaves none."""
    g2 = np.minimum(gamma_abs, 1 - 1e-9) ** 2
    x2 = (g2 * (r + z0) ** 2 - (r - z0) ** 2) / (1 - g2)
    return np.asarray(r + 1j * np.sqrt(np.maximum(x2, 0)), dtype=np.complex128)


def _folded_z(z_abs: FloatArray, gamma_abs: FloatArray, z0: float) -> ComplexArray:
    """|Z| with the R >= 0 and positive X that have this magnitude of reflection."""
    g2 = np.minimum(gamma_abs, 1 - 1e-9) ** 2
    r = np.clip((z_abs**2 + z0**2) * (1 - g2) / (2 * z0 * (1 + g2)), 0, z_abs)
    return np.asarray(r + 1j * _x_from_sizes(r, z_abs), dtype=np.complex128)


MAGNITUDES: dict[str, Size] = {
    "mag": lambda v: np.asarray(v, dtype=np.float64),
    "db": lambda v: gamma_abs_from_return_loss_db(-v),
    "rl": gamma_abs_from_return_loss_db,
    "swr": gamma_abs_from_swr,
}


def _with_phase(size: Size) -> Formula:
    return lambda v, f_hz, z0: _polar(size(v[0]), v[1])


def _z_and_size(size: Size) -> Formula:
    return lambda v, f_hz, z0: gamma_from_z(_folded_z(v[0], size(v[1]), z0), z0)


def _r_and_size(size: Size) -> Formula:
    return lambda v, f_hz, z0: gamma_from_z(_folded_x(v[0], size(v[1]), z0), z0)


def _size_alone(size: Size) -> Formula:
    return lambda v, f_hz, z0: size(v[0])


def _by_z(impedance: Callable[[Values, FloatArray], NDArray[Any]]) -> Formula:
    return lambda v, f_hz, z0: gamma_from_z(impedance(v, f_hz), z0)


def _by_y(admittance: Callable[[Values], NDArray[Any]]) -> Formula:
    return lambda v, f_hz, z0: -gamma_from_z(np.asarray(admittance(v)) * z0, 1.0)


def _x_from_sizes(r: FloatArray, z_abs: FloatArray) -> FloatArray:
    return np.asarray(np.sqrt(np.maximum(z_abs**2 - r**2, 0)), dtype=np.float64)


def _recipes() -> tuple[Recipe, ...]:
    """Every way, the one that says most first."""
    signed: tuple[tuple[tuple[str, ...], Formula], ...] = (
        (("gamma",), lambda v, f_hz, z0: v[0]),
        (("re", "im"), lambda v, f_hz, z0: _complex(v[0], v[1])),
        (("z",), _by_z(lambda v, f_hz: v[0])),
        (("r", "x"), _by_z(lambda v, f_hz: _complex(v[0], v[1]))),
        (("z_abs", "z_phase"), _by_z(lambda v, f_hz: _polar(v[0], v[1]))),
        *(((name, "s_phase"), _with_phase(size)) for name, size in MAGNITUDES.items()),
        (("rn", "xn"), lambda v, f_hz, z0: gamma_from_z(v[0] + 1j * v[1], 1.0)),
        (("rp", "xp"), _by_y(lambda v: 1 / v[0] - 1j / v[1])),
        (("y",), _by_y(lambda v: v[0])),
        (("g", "b"), _by_y(lambda v: v[0] + 1j * v[1])),
        (("y_abs", "y_phase"), _by_y(lambda v: _polar(v[0], v[1]))),
        (("r", "l"), _by_z(lambda v, f_hz: v[0] + 2j * np.pi * f_hz * v[1])),
        (("r", "c"), _by_z(lambda v, f_hz: v[0] - 1j / (2 * np.pi * f_hz * v[1]))),
    )
    unsigned: tuple[tuple[tuple[str, ...], Formula], ...] = (
        (("r", "x_abs"), _by_z(lambda v, f_hz: v[0] + 1j * v[1])),
        (("z_abs", "z_phase_abs"), _by_z(lambda v, f_hz: _polar(v[0], v[1]))),
        (("r", "z_abs"), _by_z(lambda v, f_hz: v[0] + 1j * _x_from_sizes(v[0], v[1]))),
        *((("z_abs", name), _z_and_size(size)) for name, size in MAGNITUDES.items()),
        *((("r", name), _r_and_size(size)) for name, size in MAGNITUDES.items()),
    )
    return (
        *(Recipe(needs, "signed", formula) for needs, formula in signed),
        *(Recipe(needs, "unsigned", formula) for needs, formula in unsigned),
        *(Recipe((name,), "none", _size_alone(size)) for name, size in MAGNITUDES.items()),
    )


RECIPES = _recipes()


def choose_recipe(names: set[str]) -> Recipe | None:
    """The recipe that says most with these quantities, or none."""
    return next((recipe for recipe in RECIPES if set(recipe.needs) <= names), None)


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
NEED_SIGN = frozenset(("gamma", "im", "s_phase", "z", "x", "z_phase", "xn", "y", "b", "y_phase", "xp"))
COMPARABLE = {
    "signed": frozenset(QUANTITIES),
    "unsigned": frozenset(QUANTITIES) - NEED_SIGN,
    "none": frozenset(MAGNITUDES),
}
