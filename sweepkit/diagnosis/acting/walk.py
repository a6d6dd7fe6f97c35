"""Voltage and current along a told line, from the far end towards the radio, with anything in between.

Both are over the reference: an open is (1, 0), a short (0, 1), and neither is a special case. Over a stretch of
length l: V' = V cosh γl + zI sinh γl, I' = I cosh γl + (V/z) sinh γl (Pozar, Microwave Engineering, 4th ed., Wiley
2012, section 2.7). Columns of a batch are its members, so that all of them walk at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import piece_propagation

Values = NDArray[np.inexact[Any]]  # real or complex
Pair = tuple[ComplexArray, ComplexArray]  # voltage and current, shape (members, n)


@dataclass(frozen=True, eq=False)
class Walk:
    """A line of pieces from the radio, or none at all."""

    gamma_per_m: ComplexArray  # propagation constant, shape (pieces, n)
    z: ComplexArray  # over the reference, shape (pieces, n)
    starts_m: FloatArray  # where each begins
    lengths_m: FloatArray

    @property
    def length_m(self) -> float:
        """Of all pieces. [m]"""
        return float(self.lengths_m.sum())

    def carry(
        self,
        pair: Pair,
        near_m: FloatArray | float,
        far_m: FloatArray | float,
        *,
        turns: Values | float = 1.0,
        z_factor: Values | float = 1.0,
    ) -> Pair:
        """The pair at ``near_m`` from that at ``far_m``, both measured from the radio, shape (members, 1).

        ``turns`` and ``z_factor``, (members, n) or (members, 1), multiply propagation constant and impedance of what
        lies between.
        """
        for k in reversed(range(self.lengths_m.size)):
            start = self.starts_m[k]
            metres = np.clip(
                np.minimum(far_m, start + self.lengths_m[k]) - np.maximum(near_m, start), 0.0, None
            )
            if np.any(metres > 0):
                pair = through(pair, self.gamma_per_m[k] * turns * metres, self.z[k] * z_factor)
        return pair

    def carry_back(
        self, pair: Pair, far_m: FloatArray | float, *, turns: Values | float, z_factor: Values | float
    ) -> Pair:
        """The pair at ``far_m`` from that at the radio; the rest as in :meth:`carry`."""
        for k in range(self.lengths_m.size):
            metres = np.clip(np.minimum(far_m - self.starts_m[k], self.lengths_m[k]), 0.0, None)
            pair = through(pair, -self.gamma_per_m[k] * turns * metres, self.z[k] * z_factor)
        return pair


def through(pair: Pair, gamma_l: Values, z: Values) -> Pair:
    """The pair on the radio's side of a stretch: propagation constant times length, impedance over the reference."""
    voltage, current = pair
    e = np.exp(gamma_l)
    cosh, sinh = (e + 1 / e) / 2, (e - 1 / e) / 2
    return voltage * cosh + z * current * sinh, current * cosh + voltage / z * sinh


def in_series(pair: Pair, z: Values) -> Pair:
    """With an impedance in series, over the reference."""
    return pair[0] + z * pair[1], pair[1]


def across(pair: Pair, y: Values) -> Pair:
    """With an admittance across the line, times the reference."""
    return pair[0], pair[1] + y * pair[0]


def reflection(pair: Pair) -> ComplexArray:
    """Reflection coefficient against the reference. [-]"""
    return np.asarray((pair[0] - pair[1]) / (pair[0] + pair[1]))


def lay_walk(f_hz: FloatArray, chain: LineChain | None, *, reference_ohm: float) -> Walk:
    """The line as told, from the radio on; no pieces where none was."""
    if chain is None or not chain.pieces:
        none = np.zeros((0, f_hz.size), dtype=np.complex128)
        return Walk(none, none, np.zeros(0), np.zeros(0))
    nominal = chain.nominal
    rows = [piece_propagation(f_hz, nominal, k) for k in range(len(chain.pieces))]
    lengths_m = nominal.length_m[0]
    return Walk(
        np.array([row[0][0] for row in rows]),
        np.array([row[1][0] for row in rows]) / complex(reference_ohm),
        np.concatenate([[0.0], np.cumsum(lengths_m)[:-1]]),
        np.asarray(lengths_m),
    )
