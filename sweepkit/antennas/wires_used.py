"""Wire as people use it: how thick, and how much thicker its insulation makes it act."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.quantities import parse_wire

# Radius of the conductor; of those with insulation, half of them, outer over inner radius and permittivity of PVC and
# polyethylene, 2.3 to 3.5. Common practice, no source.
RADIUS_M = (0.25e-3, 1.0e-3)
INSULATED, RATIO, PERMITTIVITY = 0.5, (1.4, 2.6), (2.2, 3.5)
# How far off the field of a resonant wire ends, in wavelengths: quarter waves by NEC-2, bare and insulated, follow to a
# fiftieth of the difference (tests/models/folds_study.py has the wires).
REACH = 0.1


@dataclass(frozen=True)
class ToldWire:
    """A wire that somebody told of: ``ratio`` is its outer over its inner radius, 1 without insulation."""

    radius_m: float | None = None  # of the conductor; None: not told
    ratio: float | None = None  # None: it is insulated, and not told how thickly

    @property
    def is_bare(self) -> bool:
        """Whether there is no insulation."""
        return self.ratio == 1

    @classmethod
    def of(cls, text: str) -> ToldWire:
        """As ``--wire`` takes it."""
        diameter_m, ratio = parse_wire(text)
        return cls(diameter_m and diameter_m / 2, ratio)


@dataclass(frozen=True, eq=False)
class Wires:
    """Wires, shape (n,) each. [m]"""

    radius_m: FloatArray  # of the conductor, by which it carries current
    outer_m: FloatArray  # with its insulation
    charge_m: FloatArray  # of the bare wire with as much capacitance, by which it holds charge

    def slowing(self, wavelength_m: FloatArray | float) -> FloatArray:
        """Length of a bare wire over that of this one, both half a wave long or a quarter, shape (n,)."""
        reach_m = REACH * wavelength_m
        return np.asarray(np.sqrt(np.log(reach_m / self.radius_m) / np.log(reach_m / self.charge_m)))


def draw_wires(n: int, dice: np.random.Generator, told: ToldWire | None = None) -> Wires:
    """Wires that it may be, ``n`` of them.

    A sleeve from a to b with permittivity e stands in series with the capacitance of the rest: together that of a bare
    wire with the radius a (b/a)^(1 - 1/e) (quasi-static; Popovic, CAD of Wire Antennas, 1991, from memory).
    """
    permittivity, radius_m = dice.uniform(*PERMITTIVITY, n), dice.uniform(*RADIUS_M, n)
    sleeved = dice.uniform(*RATIO, n)
    ratio = np.where(dice.random(n) < INSULATED, sleeved, 1.0)
    if told is not None:
        ratio = sleeved if told.ratio is None else np.full(n, told.ratio)
        radius_m = radius_m if told.radius_m is None else np.full(n, told.radius_m)
    return Wires(radius_m, radius_m * ratio, radius_m * ratio ** (1 - 1 / permittivity))
