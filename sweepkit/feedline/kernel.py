"""The hot loop of moving a plane: one block of draws through one piece.

Fresh memory costs several times what the arithmetic does, so every array here is lent by :class:`Buffers`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.propagation import inverse_root, scales, series_root


class Buffers:
    """Memory for a block of frequencies and at most so many draws (rows)."""

    def __init__(self, f_hz: FloatArray, rows: int) -> None:
        self.f_hz = f_hz
        self.inverse_root = inverse_root(f_hz)
        self.complex = np.empty((4, rows, f_hz.size), dtype=np.complex128)
        self.real = np.empty((3, rows, f_hz.size))


@dataclass(frozen=True)
class PieceScales:
    """What one piece is in every draw, shape (draws, 1) each; see :func:`propagation.scales`."""

    a_at_1_hz: FloatArray
    gamma_per_series_hz: ComplexArray
    zc_per_series_ohm: ComplexArray
    length_m: FloatArray

    @classmethod
    def of(
        cls,
        *,
        z0_ohm: FloatArray,
        velocity_factor: FloatArray,
        k1: FloatArray,
        k2: FloatArray,
        length_m: FloatArray,
    ) -> PieceScales:
        """From constants of the line; arrays of shape (draws, 1)."""
        a_at_1_hz, shunt, slowness = scales(velocity_factor, k1, k2)
        return cls(a_at_1_hz, 1j * slowness * shunt, np.asarray(z0_ohm / shunt), length_m)

    def part(self, rows: slice) -> PieceScales:
        """Some of the draws."""
        return PieceScales(
            self.a_at_1_hz[rows],
            self.gamma_per_series_hz[rows],
            self.zc_per_series_ohm[rows],
            self.length_m[rows],
        )


class Crossing(NamedTuple):
    """One piece with the joints at its ends: ρ and exp(-2γl) of shape (draws, n), and r/2R of shape (draws, 1)."""

    rho: ComplexArray
    turn: ComplexArray
    near: FloatArray | None
    far: FloatArray | None


def rho_and_turn(
    buffers: Buffers, piece: PieceScales, reference_ohm: float
) -> tuple[ComplexArray, ComplexArray]:
    """ρ = (zc-R)/(zc+R) and exp(-2γl) of one piece, shape (draws, n); they live in the buffers until the next call."""
    rows = slice(piece.length_m.shape[0])
    series, turn = buffers.complex[0, rows], buffers.complex[1, rows]
    size = buffers.real[0, rows]
    np.multiply(piece.a_at_1_hz, buffers.inverse_root, out=buffers.real[2, rows])
    series_root(buffers.real[2, rows], out=series, work=buffers.real[:2, rows])
    np.multiply(series, piece.gamma_per_series_hz * (-2 * piece.length_m), out=turn)
    np.multiply(turn, buffers.f_hz, out=turn)  # -2γl
    np.exp(turn.real, out=size)
    angle, part = buffers.real[1, rows], buffers.real[2, rows]
    angle[...] = turn.imag
    np.cos(angle, out=part)
    np.multiply(size, part, out=turn.real)
    np.sin(angle, out=part)
    np.multiply(size, part, out=turn.imag)
    rho = np.multiply(series, piece.zc_per_series_ohm, out=series)
    below = np.add(rho, reference_ohm, out=buffers.complex[2, rows])
    np.subtract(rho, reference_ohm, out=rho)
    np.divide(rho, below, out=rho)
    return rho, turn


def through(
    buffers: Buffers, reflected: ComplexArray, incident: ComplexArray, piece: Crossing, *, towards_radio: bool
) -> None:
    """Both waves, shape (draws, n), to the other side of a piece and its joints, in place and up to a common factor.

    The reflected wave is turned on the way to the radio, the incident one on the way back.
    """
    first, last = (piece.far, piece.near) if towards_radio else (piece.near, piece.far)
    _join(buffers, reflected, incident, first, adds=towards_radio)
    rho, turn = piece.rho, piece.turn
    rows = slice(rho.shape[0])
    one, other = buffers.complex[2, rows], buffers.complex[3, rows]
    np.multiply(rho, incident, out=one)
    np.multiply(rho, reflected, out=other)
    np.subtract(reflected, one, out=reflected)
    np.subtract(incident, other, out=incident)
    turned = reflected if towards_radio else incident
    np.multiply(turned, turn, out=turned)
    np.multiply(rho, incident, out=one)
    np.multiply(rho, reflected, out=other)
    np.add(reflected, one, out=reflected)
    np.add(incident, other, out=incident)
    _join(buffers, reflected, incident, last, adds=towards_radio)


def _join(
    buffers: Buffers,
    reflected: ComplexArray,
    incident: ComplexArray,
    half_share: FloatArray | None,
    *,
    adds: bool,
) -> None:
    """A resistance r in series, r/2R given: both waves change by (incident - reflected)·r/2R, and back."""
    if half_share is None:
        return
    change = buffers.complex[2, : half_share.shape[0]]
    np.subtract(incident, reflected, out=change)
    np.multiply(change, half_share if adds else -half_share, out=change)
    np.add(reflected, change, out=reflected)
    np.add(incident, change, out=incident)
