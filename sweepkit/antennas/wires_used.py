"""Wire as people use it: how thick, and how much thicker its insulation makes it act."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import FloatArray

# Radius of the conductor; of those with insulation, half of them, outer over inner radius and permittivity of PVC and
# polyethylene, 2.3 to 3.5. Common practice, no source.
RADIUS_M = (0.25e-3, 1.0e-3)
INSULATED, RATIO, PERMITTIVITY = 0.5, (1.4, 2.6), (2.2, 3.5)


@dataclass(frozen=True)
class ToldWire:
    """A wire that somebody told of; ``outer_m`` with its insulation, the same as ``radius_m`` where it is bare."""

    radius_m: float
    outer_m: float

    def __post_init__(self) -> None:
        if not 0 < self.radius_m <= self.outer_m:
            raise ValueError(f"radius_m is {self.radius_m}, outer_m {self.outer_m}; 0 < radius_m <= outer_m")

    @property
    def is_bare(self) -> bool:
        """Whether there is no insulation."""
        return self.outer_m == self.radius_m


@dataclass(frozen=True, eq=False)
class Wires:
    """Wires, shape (n,) each. [m]"""

    radius_m: FloatArray  # of the conductor, by which it carries current
    outer_m: FloatArray  # with its insulation
    charge_m: FloatArray  # of the bare wire with as much capacitance, by which it holds charge

    def slowing(self, reach_m: FloatArray | float) -> FloatArray:
        """Wavelength along the bare wire over that along this one, shape (n,).

        ``reach_m``: how far off the field of a metre of it ends, about a quarter wave.
        """
        return np.asarray(np.sqrt(np.log(reach_m / self.radius_m) / np.log(reach_m / self.charge_m)))


def draw_wires(n: int, dice: np.random.Generator, told: ToldWire | None = None) -> Wires:
    """Wires that it may be, ``n`` of them.

    A sleeve from a to b with permittivity e stands in series with the capacitance of the rest: together that of a bare
    wire with the radius a (b/a)^(1 - 1/e) (quasi-static; Popovic, CAD of Wire Antennas, 1991, from memory).
    """
    permittivity = dice.uniform(*PERMITTIVITY, n)
    if told is None:
        radius_m = dice.uniform(*RADIUS_M, n)
        ratio = np.where(dice.random(n) < INSULATED, dice.uniform(*RATIO, n), 1.0)
    else:
        radius_m, ratio = np.full(n, told.radius_m), np.full(n, told.outer_m / told.radius_m)
    return Wires(radius_m, radius_m * ratio, radius_m * ratio ** (1 - 1 / permittivity))
