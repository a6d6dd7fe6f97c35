"""Move the plane of a reflection along a chain of line, for all draws at once.

A reflection is carried as two waves, reflected over incident, so that opens, shorts and half waves are no
special case. Into a piece of characteristic impedance zc, with ρ = (zc-R)/(zc+R):
reflected' = reflected - ρ·incident and incident' = incident - ρ·reflected. Along it the reflected wave
takes exp(-2γl). Out of it as into it, with -ρ.
Pozar, Microwave Engineering, 4th ed., Wiley 2012, sections 2.3 and 2.7, with complex characteristic impedance.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.propagation import propagation

BLOCK_VALUES = (
    16_384  # draws × frequencies worked on at once, so that the arrays stay in the processor's cache
)


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
    """Reflection at the feedpoint from that at the radio: the inverse of :func:`add_chain`, same arguments.

    Nothing is clipped: a magnitude above 1 means noise, or a line that is not the one that was told.

    Parameters
    ----------
    f_hz, gamma_radio, draws, reference_ohm
        As in :func:`add_chain`, with the reflection coefficient at the radio.

    Returns
    -------
    complex array, shape (draws, n)
        Reflection coefficient at the feedpoint. [-]
    """
    return _move(f_hz, gamma_radio, draws, reference_ohm, towards_radio=False)


def chain_matrix(
    f_hz: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> tuple[ComplexArray, ComplexArray, ComplexArray, ComplexArray]:
    """The chain as a matrix: (reflected, incident) at the radio = [[a, b], [c, d]] of those at the feedpoint.

    Waves are normalised to the real reference, so that |incident|² - |reflected|² is the power at each end.

    Parameters
    ----------
    f_hz, draws, reference_ohm
        As in :func:`add_chain`.

    Returns
    -------
    four complex arrays, shape (draws, n)
        a, b, c, d; Γ at the radio is (aΓ + b)/(cΓ + d) and ad - bc is 1. [-]
    """
    f = np.asarray(f_hz, dtype=np.float64)
    one, none = np.ones((draws.size, f.size), dtype=complex), np.zeros((draws.size, f.size), dtype=complex)
    first, second = (one, none), (none, one)
    scale = one.copy()
    for rho, turn in _steps(f, draws, reference_ohm, towards_radio=True):
        first = _through(*first, rho, turn, towards_radio=True)
        second = _through(*second, rho, turn, towards_radio=True)
        scale /= (1 - rho * rho) * np.sqrt(turn)
    return first[0] * scale, second[0] * scale, first[1] * scale, second[1] * scale


def noise_factor(
    f_hz: ArrayLike, gamma_radio: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> FloatArray:
    """How much a small error of the reflection at the radio grows when the chain is removed, |dΓf/dΓr|.

    Parameters
    ----------
    f_hz, gamma_radio, draws, reference_ohm
        As in :func:`remove_chain`.

    Returns
    -------
    float array, shape (draws, n)
        Factor; 10^(2·loss/20) behind a line matched to the reference. [-]
    """
    f = np.asarray(f_hz, dtype=np.float64)
    gamma = np.broadcast_to(np.asarray(gamma_radio, dtype=np.complex128), (draws.size, f.size))
    factor = np.empty((draws.size, f.size))
    for rows in _blocks(draws.size, f.size):
        reflected, incident = gamma[rows].copy(), np.ones_like(gamma[rows])
        determinant = np.ones_like(incident)
        part = draws.part(rows)
        for rho, turn in _steps(f, part, reference_ohm, towards_radio=False):
            reflected, incident = _through(reflected, incident, rho, turn, towards_radio=False)
            determinant *= turn * (1 - rho * rho) ** 2
        factor[rows] = np.abs(determinant) / np.abs(incident) ** 2
    return factor


def _move(
    f_hz: ArrayLike, gamma: ArrayLike, draws: ChainDraws, reference_ohm: float, *, towards_radio: bool
) -> ComplexArray:
    """One way or the other, block by block."""
    f = np.asarray(f_hz, dtype=np.float64)
    start = np.broadcast_to(np.asarray(gamma, dtype=np.complex128), (draws.size, f.size))
    moved = np.empty(start.shape, dtype=np.complex128)
    for rows in _blocks(draws.size, f.size):
        reflected, incident = start[rows].copy(), np.ones_like(start[rows])
        for rho, turn in _steps(f, draws.part(rows), reference_ohm, towards_radio=towards_radio):
            reflected, incident = _through(reflected, incident, rho, turn, towards_radio=towards_radio)
        moved[rows] = reflected / incident
    return moved


def _blocks(draws: int, points: int) -> Iterator[slice]:
    """Rows that fit into the cache together."""
    height = max(1, BLOCK_VALUES // max(points, 1))
    for start in range(0, draws, height):
        yield slice(start, min(start + height, draws))


def _steps(
    f_hz: FloatArray, draws: ChainDraws, reference_ohm: float, *, towards_radio: bool
) -> Iterator[tuple[ComplexArray, ComplexArray]]:
    """(ρ, exp(-2γl)) of each piece in the order in which the wave is moved."""
    order = range(len(draws.chain.pieces))
    for k in reversed(order) if towards_radio else order:
        gamma_per_m, zc_ohm = piece_propagation(f_hz, draws, k)
        rho = (zc_ohm - reference_ohm) / (zc_ohm + reference_ohm)
        yield rho, _exp(gamma_per_m, -2 * draws.length_m[:, k, None])


def piece_propagation(f_hz: FloatArray, draws: ChainDraws, piece: int) -> tuple[ComplexArray, ComplexArray]:
    """Propagation constant and characteristic impedance of one piece in every draw.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency. [Hz]
    draws : ChainDraws
        The chain.
    piece : int
        Which piece, counted from 0 at the radio.

    Returns
    -------
    two complex arrays, shape (draws, n)
        As :func:`sweepkit.feedline.propagation.propagation`.
    """
    told = draws.chain.pieces[piece]
    loss_factor = draws.loss_factor[:, piece, None]
    return propagation(
        f_hz,
        z0_ohm=told.z0_ohm,
        velocity_factor=draws.velocity_factor[:, piece, None],
        k1=told.k1_db_per_100m * loss_factor,
        k2=told.k2_db_per_100m * loss_factor,
    )


def _exp(gamma_per_m: ComplexArray, length_m: FloatArray) -> ComplexArray:
    """exp(γ·l) by real arithmetic, which is faster than the complex function."""
    size = np.exp(gamma_per_m.real * length_m)
    angle = gamma_per_m.imag * length_m
    result = np.empty(angle.shape, dtype=np.complex128)
    result.real = size * np.cos(angle)
    result.imag = size * np.sin(angle)
    return result


def _through(
    reflected: ComplexArray,
    incident: ComplexArray,
    rho: ComplexArray,
    turn: ComplexArray,
    *,
    towards_radio: bool,
) -> tuple[ComplexArray, ComplexArray]:
    """Both waves on the other side of a piece, up to a common factor."""
    reflected, incident = reflected - rho * incident, incident - rho * reflected
    if towards_radio:
        reflected *= turn
    else:
        incident *= turn
    return reflected + rho * incident, incident + rho * reflected
