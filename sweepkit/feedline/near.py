"""Matrices of chains that are a little off in one score each: every piece and joint is looked at by itself.

A score moves one piece or one joint, so the chain is what lies before that, itself as moved, and what lies behind: the
cost goes with the number of pieces, not with its square. A matrix takes (reflected, incident) at the far end to those
at the near end, as in :func:`sweepkit.feedline.plane.chain_matrix`, up to its sign.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.propagation import propagation

IDENTITY = np.array([1.0, 0.0, 0.0, 1.0])


def matrices_near(f_hz: FloatArray, near: Sequence[ChainDraws], *, reference_ohm: float) -> ComplexArray:
    """Matrices [[a, b], [c, d]] of chains at frequencies of their own.

    Parameters
    ----------
    f_hz : float array, shape (chains, n)
        Frequency, above 0. [Hz]
    near : sequence of ChainDraws
        For each chain itself, then it a little off in each of :func:`sweepkit.feedline.chain.believable_chains`'s
        scores, then with its first piece a little longer; as many pieces in all.
    reference_ohm : float
        Reference of the waves, above 0. [ohm]

    Returns
    -------
    complex array, shape (4, draws, chains, n)
        a, b, c and d. [-]
    """
    count, draws = len(near[0].chain.pieces), near[0].size
    parts: list[tuple[list[int], ComplexArray]] = []
    for k in range(count + 1):
        at = [0, 1 + 4 * count + k]
        ohm = np.stack([chain.joint_ohm[at, k] for chain in near], axis=1)[..., np.newaxis]
        parts.append((at, _joint(ohm, reference_ohm)))
        if k < count:
            at = [0, *range(1 + k, 1 + 4 * count, count), *([draws - 1] if k == 0 else [])]
            parts.append((at, _pieces(f_hz, near, k, at, reference_ohm)))
    behind = [np.broadcast_to(IDENTITY[:, np.newaxis, np.newaxis], (4, 1, 1))]
    for _, part in reversed(parts[1:]):
        behind.append(times(part[:, 0], behind[-1]))
    found = np.empty((4, draws, *f_hz.shape), dtype=np.complex128)
    before = behind[0]
    for (at, part), rest in zip(parts, reversed(behind), strict=True):
        found[:, at] = times(times(before[:, np.newaxis], part), rest[:, np.newaxis])
        before = times(before, part[:, 0])
    return found


def piece_matrix(
    f_hz: FloatArray,
    *,
    z0_ohm: ArrayLike,
    velocity_factor: ArrayLike,
    k1: ArrayLike,
    k2: ArrayLike,
    length_m: ArrayLike,
    reference_ohm: float,
) -> ComplexArray:
    """a, b, c and d of a piece of line, the four first; all arguments broadcast."""
    gamma_per_m, zc_ohm = propagation(f_hz, z0_ohm=z0_ohm, velocity_factor=velocity_factor, k1=k1, k2=k2)
    once = np.exp(-gamma_per_m * np.asarray(length_m))
    rho = (zc_ohm - reference_ohm) / (zc_ohm + reference_ohm)
    turn, square = once * once, rho * rho
    scale = 1 / ((1 - square) * once)
    across = rho * (1 - turn) * scale
    return np.stack([(turn - square) * scale, across, -across, (1 - square * turn) * scale])


def times(one: ComplexArray, other: ComplexArray) -> ComplexArray:
    """Product of matrices, the four of each first."""
    (a, b, c, d), (e, f, g, h) = one, other
    return np.stack([a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h])


def _pieces(
    f_hz: FloatArray, near: Sequence[ChainDraws], k: int, at: list[int], reference_ohm: float
) -> ComplexArray:
    """One piece of each chain in some of its draws, shape (4, draws, chains, n)."""
    loss, z0_ohm, velocity_factor, length_m = (
        np.stack([part[at, k] for part in parts], axis=1)[..., np.newaxis]
        for parts in zip(
            *((one.loss_factor, one.z0_ohm, one.velocity_factor, one.length_m) for one in near), strict=True
        )
    )
    k1, k2 = np.array(
        [(one.chain.pieces[k].k1_db_per_100m, one.chain.pieces[k].k2_db_per_100m) for one in near]
    ).T[..., np.newaxis]
    return piece_matrix(
        f_hz,
        z0_ohm=z0_ohm,
        velocity_factor=velocity_factor,
        k1=k1 * loss,
        k2=k2 * loss,
        length_m=length_m,
        reference_ohm=reference_ohm,
    )


def _joint(ohm: FloatArray, reference_ohm: float) -> ComplexArray:
    """Of a resistance in series, the four first."""
    share = ohm / (2 * reference_ohm)
    return np.stack([1 - share, share, -share, 1 + share]).astype(np.complex128)
