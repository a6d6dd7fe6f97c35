"""How long a wave takes through a chain of line."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import FloatArray
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.plane import piece_propagation
from sweepkit.feedline.propagation import group_slowness_s_per_m


def phase_delay_s(f_hz: ArrayLike, draws: ChainDraws) -> FloatArray:
    """One-way phase delay βl/ω of all pieces together, shape (draws, n)."""
    f = np.asarray(f_hz, dtype=np.float64)
    radians = np.zeros((draws.size, f.size))
    for k in range(len(draws.chain.pieces)):
        gamma_per_m, _ = piece_propagation(f, draws, k)
        radians += gamma_per_m.imag * draws.length_m[:, k, None]
    return radians / (2 * np.pi * f)


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
