"""Move the plane of a reflection along a chain of line, for all draws at once.

A reflection is carried as two waves, reflected over incident, so that opens, shorts and half waves are no
special case. Into a piece of characteristic impedance zc, with ρ = (zc-R)/(zc+R):
reflected' = reflected - ρ·incident and incident' = incident - ρ·reflected. Along it the reflected wave
takes exp(-2γl). Out of it as into it, with -ρ. A joint of resistance r in series changes both by
(incident - reflected)·r/2R.
Pozar, Microwave Engineering, 4th ed., Wiley 2012, sections 2.3 and 2.7, with a complex zc.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.kernel import Buffers, Crossing, PieceScales, rho_and_turn, through
from sweepkit.feedline.propagation import group_slowness_s_per_m, propagation

# Draws × frequencies worked on at once, so that the arrays stay in the processor's cache
BLOCK_VALUES = 16_384


def add_chain(
    f_hz: ArrayLike, gamma_feedpoint: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> ComplexArray:
    """Reflection at the radio of what is connected to the far end of a chain.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency, 0 or more; at 0 the line is transparent. [Hz]
    gamma_feedpoint : complex array, shape (n,) or (draws, n)
        Reflection coefficient at the feedpoint. [-]
    draws : ChainDraws
        The chain; its draws go along the first axis.
    reference_ohm : float
        Reference resistance of both, above 0. [ohm]

    Returns
    -------
    complex array, shape (draws, n)
        Reflection coefficient at the radio. [-]
    """
    return _move(f_hz, gamma_feedpoint, draws, reference_ohm, towards_radio=True)


def remove_chain(
    f_hz: ArrayLike, gamma_radio: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> ComplexArray:
    """Reflection at the feedpoint from that at the radio: the inverse of :func:`add_chain`, arguments as there.

    Nothing is clipped: a magnitude above 1 means noise, or a line that is not the one that was told.
    """
    return _move(f_hz, gamma_radio, draws, reference_ohm, towards_radio=False)


def chain_matrix(
    f_hz: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> tuple[ComplexArray, ComplexArray, ComplexArray, ComplexArray]:
    """The chain as a matrix: (reflected, incident) at the radio = [[a, b], [c, d]] of those at the feedpoint.

    Waves are normalised to the real reference, so that |incident|² - |reflected|² is the power at each end. Each of
    a, b, c, d has shape (draws, n); Γ at the radio is (aΓ + b)/(cΓ + d) and ad - bc is 1.
    """
    f = np.asarray(f_hz, dtype=np.float64)
    matrix = np.zeros((4, draws.size, f.size), dtype=np.complex128)
    a, b, c, d = matrix
    a[...] = d[...] = 1
    for rows, buffers, piece in _steps(f, draws, reference_ohm, towards_radio=True):
        through(buffers, a[rows], c[rows], piece, towards_radio=True)
        through(buffers, b[rows], d[rows], piece, towards_radio=True)
        matrix[:, rows] /= (1 - piece.rho * piece.rho) * np.sqrt(piece.turn)
    return a, b, c, d


def noise_growth(
    f_hz: ArrayLike, gamma_radio: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> FloatArray:
    """How much a small error of the reflection at the radio grows without the chain, |dΓf/dΓr|, shape (draws, n).

    10^(2·loss/20) behind a line matched to the reference.
    """
    f = np.asarray(f_hz, dtype=np.float64)
    reflected, incident = _waves(gamma_radio, (draws.size, f.size))
    determinant = np.ones_like(incident)
    for rows, buffers, piece in _steps(f, draws, reference_ohm, towards_radio=False):
        through(buffers, reflected[rows], incident[rows], piece, towards_radio=False)
        determinant[rows] *= piece.turn * (1 - piece.rho * piece.rho) ** 2
    return np.asarray(np.abs(determinant) / np.abs(incident) ** 2, dtype=np.float64)


def _move(
    f_hz: ArrayLike, gamma: ArrayLike, draws: ChainDraws, reference_ohm: float, *, towards_radio: bool
) -> ComplexArray:
    """One way or the other."""
    f = np.asarray(f_hz, dtype=np.float64)
    reflected, incident = _waves(gamma, (draws.size, f.size))
    for rows, buffers, piece in _steps(f, draws, reference_ohm, towards_radio=towards_radio):
        through(buffers, reflected[rows], incident[rows], piece, towards_radio=towards_radio)
    return np.divide(reflected, incident, out=reflected)


def _waves(gamma: ArrayLike, shape: tuple[int, int]) -> tuple[ComplexArray, ComplexArray]:
    """Reflected and incident wave of a reflection; those of all draws are copies."""
    reflected = np.empty(shape, dtype=np.complex128)
    reflected[...] = np.asarray(gamma, dtype=np.complex128)
    return reflected, np.ones(shape, dtype=np.complex128)


def _steps(
    f_hz: FloatArray, draws: ChainDraws, reference_ohm: float, *, towards_radio: bool
) -> Iterator[tuple[slice, Buffers, Crossing]]:
    """Rows, memory and a piece: every block of draws through all pieces, in the order of the way."""
    height = max(1, min(draws.size, BLOCK_VALUES // max(f_hz.size, 1)))
    buffers = Buffers(f_hz, height)
    count = len(draws.chain.pieces)
    scales = [_scales(draws, k) for k in range(count)]
    has_joints = bool(draws.joint_ohm.any())
    joints = draws.joint_ohm / (2 * reference_ohm)
    for start in range(0, draws.size, height):
        rows = slice(start, min(start + height, draws.size))
        for k in reversed(range(count)) if towards_radio else range(count):
            near = joints[rows, k, None] if has_joints else None
            far = joints[rows, count, None] if has_joints and k == count - 1 else None
            yield (
                rows,
                buffers,
                Crossing(*rho_and_turn(buffers, scales[k].part(rows), reference_ohm), near, far),
            )


def _scales(draws: ChainDraws, piece: int) -> PieceScales:
    """One piece in every draw."""
    told = draws.chain.pieces[piece]
    loss_factor = draws.loss_factor[:, piece, None]
    return PieceScales.of(
        z0_ohm=draws.z0_ohm[:, piece, None],
        velocity_factor=draws.velocity_factor[:, piece, None],
        k1=told.k1_db_per_100m * loss_factor,
        k2=told.k2_db_per_100m * loss_factor,
        length_m=draws.length_m[:, piece, None],
    )


def piece_propagation(f_hz: FloatArray, draws: ChainDraws, piece: int) -> tuple[ComplexArray, ComplexArray]:
    """Propagation constant and characteristic impedance of one piece (0 at the radio), shape (draws, n)."""
    told = draws.chain.pieces[piece]
    loss_factor = draws.loss_factor[:, piece, None]
    return propagation(
        f_hz,
        z0_ohm=draws.z0_ohm[:, piece, None],
        velocity_factor=draws.velocity_factor[:, piece, None],
        k1=told.k1_db_per_100m * loss_factor,
        k2=told.k2_db_per_100m * loss_factor,
    )


def group_delay_s(f_hz: ArrayLike, draws: ChainDraws) -> FloatArray:
    """One-way group delay dβ/dω·l, shape (draws, n): what a pulse, or a phase slope, shows."""
    f = np.asarray(f_hz, dtype=np.float64)
    delay = np.zeros((draws.size, f.size))
    for k, piece in enumerate(draws.chain.pieces):
        loss_factor = draws.loss_factor[:, k, None]
        slowness = group_slowness_s_per_m(
            f,
            velocity_factor=draws.velocity_factor[:, k, None],
            k1=piece.k1_db_per_100m * loss_factor,
            k2=piece.k2_db_per_100m * loss_factor,
        )
        delay += slowness * draws.length_m[:, k, None]
    return delay
