"""Which quantities of a table give the reflection coefficient."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray, gamma_from_z
from sweepkit.printed_quantities import MAGNITUDES, QUANTITIES, Size
from sweepkit.sweep import Phase

PIECE_ROWS = 1 << 14  # of a long table at a time: what is worked out beside it stays small; our own choice

Values = tuple[NDArray[Any], ...]
Formula = Callable[[Values, FloatArray, float], NDArray[Any]]


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


NEED_SIGN = frozenset(("gamma", "im", "s_phase", "z", "x", "z_phase", "xn", "y", "b", "y_phase", "xp"))
COMPARABLE = {
    "signed": frozenset(QUANTITIES),
    "unsigned": frozenset(QUANTITIES) - NEED_SIGN,
    "none": frozenset(MAGNITUDES),
}
