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

Values = tuple[NDArray[Any], ...]
Formula = Callable[[Values, FloatArray, float], NDArray[Any]]
Size = Callable[[NDArray[Any]], FloatArray]


@dataclass(frozen=True)
class Recipe:
    """How some quantities give the reflection.

    Parameters
    ----------
    needs : tuple of str
        Names of the quantities.
    phase : {"signed", "unsigned", "none"}
        What they tell of the phase.
    gamma : callable
        From the quantities, frequency [Hz] and reference [ohm] to the reflection; every reactance positive
        for ``unsigned``, the magnitude for ``none``.
    """

    needs: tuple[str, ...]
    phase: Phase
    gamma: Formula

    @property
    def gives_impedance(self) -> bool:
        """Whether the quantities give an impedance without any reference."""
        return not set(self.needs) & {*MAGNITUDES, "gamma", "re", "im", "s_phase", "rn", "xn"}


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
        (("re", "im"), lambda v, f_hz, z0: v[0] + 1j * v[1]),
        (("z",), _by_z(lambda v, f_hz: v[0])),
        (("r", "x"), _by_z(lambda v, f_hz: v[0] + 1j * v[1])),
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


PREDICTIONS: dict[str, Callable[[ComplexArray, float], NDArray[Any]]] = {
    "re": lambda g, z0: g.real,
    "im": lambda g, z0: g.imag,
    "gamma": lambda g, z0: g,
    "mag": lambda g, z0: np.abs(g),
    "db": lambda g, z0: -return_loss_db_from_gamma_abs(np.abs(g)),
    "rl": lambda g, z0: return_loss_db_from_gamma_abs(np.abs(g)),
    "swr": lambda g, z0: swr_from_gamma_abs(np.abs(g)),
    "s_phase": lambda g, z0: np.angle(g),
    "s_phase_abs": lambda g, z0: np.abs(np.angle(g)),
    "z": z_from_gamma,
    "r": lambda g, z0: z_from_gamma(g, z0).real,
    "x": lambda g, z0: z_from_gamma(g, z0).imag,
    "x_abs": lambda g, z0: np.abs(z_from_gamma(g, z0).imag),
    "z_abs": lambda g, z0: np.abs(z_from_gamma(g, z0)),
    "z_phase": lambda g, z0: np.angle(z_from_gamma(g, z0)),
    "z_phase_abs": lambda g, z0: np.abs(np.angle(z_from_gamma(g, z0))),
    "rn": lambda g, z0: z_from_gamma(g, 1.0).real,
    "xn": lambda g, z0: z_from_gamma(g, 1.0).imag,
    "rp": lambda g, z0: 1 / z_from_gamma(-g, 1 / z0).real,
    "xp": lambda g, z0: -1 / z_from_gamma(-g, 1 / z0).imag,
    "y": lambda g, z0: z_from_gamma(-g, 1 / z0),
    "g": lambda g, z0: z_from_gamma(-g, 1 / z0).real,
    "b": lambda g, z0: z_from_gamma(-g, 1 / z0).imag,
    "y_abs": lambda g, z0: np.abs(z_from_gamma(-g, 1 / z0)),
    "y_phase": lambda g, z0: np.angle(z_from_gamma(-g, 1 / z0)),
}
NEED_NO_SIGN = (
    "mag",
    "db",
    "rl",
    "swr",
    "r",
    "x_abs",
    "z_abs",
    "z_phase_abs",
    "s_phase_abs",
    "g",
    "rp",
    "rn",
    "y_abs",
)
NEED_NO_PHASE = ("mag", "db", "rl", "swr")
