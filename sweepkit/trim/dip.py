"""One dip of one sweep as the trim answer needs it: an ensemble, measured member first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sweepkit.conversions import FloatArray, IndexArray

PLENTY = 1000  # points inside a dip where nobody counted


@dataclass(frozen=True, eq=False)
class DipEnsemble:
    """A dip at the feedpoint relative to 50 ohm, on every draw, shape (1 + draws,), the measured one first."""

    f_hz: FloatArray  # NaN where a draw has no dip; the first is finite
    swr: FloatArray  # there
    r_ohm: FloatArray  # there; NaN where the phase is not known
    loaded_q: FloatArray  # with the 50 ohm of the line across the dip; NaN where it is not known
    # whether the reactance rises or falls through the dip; None where that is not known
    resonance: Literal["series", "parallel"] | None = None
    # of SWR 2, over the frequency; NaN where there is none or it is not known
    bandwidth: float = float("nan")
    extrapolated: float = 0.0  # how far outside the sweep the dip lies, over its frequency; 0 inside
    points_inside: int = PLENTY  # of the sweep inside the SWR-2 width it would have when matched
    # what of the spread of ln f is this sweep's alone: noise and misfit, not line and analyzer
    own_sigma: float = 0.0

    def __post_init__(self) -> None:
        sizes = {self.f_hz.shape, self.swr.shape, self.r_ohm.shape, self.loaded_q.shape}
        if len(sizes) != 1 or self.f_hz.ndim != 1 or self.f_hz.size < 1:
            raise ValueError(f"f_hz, swr, r_ohm and loaded_q have shapes {sizes}; they need one common axis")
        if not (np.isfinite(self.f_hz[0]) and self.f_hz[0] > 0):
            raise ValueError(f"the measured dip is at {self.f_hz[0]} Hz; it must be above 0")

    @property
    def measured_hz(self) -> float:
        """Frequency on the measured curve. [Hz]"""
        return float(self.f_hz[0])

    def spread(self) -> float:
        """Standard deviation of ln f over the draws, 0 without draws. [-]"""
        drawn = self.f_hz[1:]
        drawn = drawn[np.isfinite(drawn)]
        return float(np.std(np.log(drawn))) if drawn.size > 1 else 0.0

    def without_shape(self) -> DipEnsemble:
        """The dip seen through a line nobody told of: its width, resistance and direction mean nothing."""
        unknown = np.full(self.f_hz.shape, np.nan)
        return replace(self, loaded_q=unknown, r_ohm=unknown, resonance=None)

    def members(self, n: int) -> IndexArray:
        """Numbers of ``n`` members that have the dip, draws repeated in turn; the measured one where none has."""
        usable = np.flatnonzero(np.isfinite(self.f_hz[1:])) + 1
        return np.resize(usable, n) if usable.size else np.zeros(n, dtype=np.intp)

    def ln_f_of(self, members: IndexArray) -> FloatArray:
        """Logarithm of the frequency on some members; on those without the dip, and beyond, the measured one."""
        known = np.where(np.isfinite(self.f_hz), self.f_hz, self.f_hz[0])
        return np.asarray(np.log(known[np.where(members < known.size, members, 0)]))
