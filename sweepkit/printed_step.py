"""The step in which a file prints what was measured, and what that leaves of the reflection at each point."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import FloatArray, renormalise_gamma
from sweepkit.printed_quantities import QUANTITIES, blur


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
                if name in QUANTITIES:
                    moved = blur(name, printed, self.reference_ohm, step.of)
                    variance += np.where(np.isfinite(moved), moved, 0.0) ** 2 / 12
            k = (reference_ohm - self.reference_ohm) / (reference_ohm + self.reference_ohm)
            carried = np.abs((1 - k**2) / (1 - k * printed) ** 2)  # derivative of the change of reference
        return np.asarray(np.sqrt(variance) * carried)
