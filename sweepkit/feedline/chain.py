"""A feed line as a chain of pieces from the radio to the feedpoint, and its ensemble of believable chains."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.feedline.propagation import limit_velocity_factor
from sweepkit.lines import LinePiece

LEAST_VELOCITY_FACTOR = 0.05  # no drawn wave is slower; keeps a wide tolerance from turning it round


@dataclass(frozen=True)
class LineChain:
    """Pieces in order from the radio.

    Parameters
    ----------
    pieces : sequence of LinePiece
        None at all stands for a radio at the antenna.

    Raises
    ------
    BadInput
        A velocity factor measured in place that would make the wave faster than light at high frequencies.
    """

    pieces: tuple[LinePiece, ...]

    def __init__(self, pieces: Sequence[LinePiece] = ()) -> None:
        object.__setattr__(self, "pieces", tuple(pieces))
        for piece in self.pieces:
            limit = float(_limit(piece, piece.velocity_factor, 1.0))
            at_mhz = (piece.velocity_factor_at_hz or 0.0) / 1e6
            if limit > 1 + 3 * piece.velocity_factor_sigma:
                raise BadInput(
                    f"line {piece.name!r}: velocity factor {piece.velocity_factor:g} measured at "
                    f"{at_mhz:g} MHz means {limit:.3f} at high frequencies, "
                    "and no wave is faster than light; measure the line again, or lower its loss k1"
                )

    @property
    def length_m(self) -> float:
        """Length of all pieces together. [m]"""
        return math.fsum(piece.length_m for piece in self.pieces)

    @property
    def nominal(self) -> ChainDraws:
        """The chain as it was told, an ensemble of one."""
        return draw_chain(self, np.random.default_rng(0), 0)

    def outside_fit(self, low_hz: float, high_hz: float) -> tuple[str, ...]:
        """Names of pieces whose loss constants are an extrapolation somewhere in a range.

        Parameters
        ----------
        low_hz, high_hz : float
            Range of the sweep. [Hz]
        """
        return tuple(
            piece.name
            for piece in self.pieces
            if (piece.fit_low_hz is not None and low_hz < piece.fit_low_hz)
            or (piece.fit_high_hz is not None and high_hz > piece.fit_high_hz)
        )


@dataclass(frozen=True, eq=False)
class ChainDraws:
    """Equally believable chains; the first is the nominal one.

    Parameters
    ----------
    chain : LineChain
        What was told.
    length_m : float array, shape (draws, pieces)
        Lengths, 0 or more. [m]
    velocity_factor : float array, shape (draws, pieces)
        High-frequency limits, above 0. [-]
    loss_factor : float array, shape (draws, pieces)
        Multiplies both loss constants, above 0. [-]
    """

    chain: LineChain
    length_m: FloatArray
    velocity_factor: FloatArray
    loss_factor: FloatArray

    def __post_init__(self) -> None:
        shape = self.length_m.shape
        for name in ("length_m", "velocity_factor", "loss_factor"):
            frozen = np.array(getattr(self, name), dtype=np.float64)
            if frozen.shape != shape or frozen.ndim != 2 or shape[1] != len(self.chain.pieces):
                raise ValueError(
                    f"{name} has shape {frozen.shape}; it must be (draws, {len(self.chain.pieces)})"
                )
            frozen.flags.writeable = False
            object.__setattr__(self, name, frozen)

    @property
    def size(self) -> int:
        """Number of chains, the nominal one included."""
        return int(self.length_m.shape[0])

    def part(self, draws: slice) -> ChainDraws:
        """Some of the draws.

        Parameters
        ----------
        draws : slice
            Which.
        """
        return ChainDraws(
            self.chain, self.length_m[draws], self.velocity_factor[draws], self.loss_factor[draws]
        )


def draw_chain(chain: LineChain, rng: np.random.Generator, n: int) -> ChainDraws:
    """Chains within the tolerances of their pieces.

    Lengths and velocity factors are normal; losses are log-normal with median 1, so that none is negative.

    Parameters
    ----------
    chain : LineChain
        What was told.
    rng : numpy Generator
        Source of chance.
    n : int
        How many to draw beside the nominal one; 0 gives the nominal one alone.

    Returns
    -------
    ChainDraws
        ``n + 1`` chains, the nominal one first.
    """
    pieces = chain.pieces
    normal = rng.standard_normal((3, n, len(pieces)))
    normal = np.concatenate([np.zeros((3, 1, len(pieces))), normal], axis=1)
    length_m = np.empty(normal.shape[1:])
    velocity_factor, loss_factor = np.empty_like(length_m), np.empty_like(length_m)
    for k, piece in enumerate(pieces):
        length_m[:, k] = np.maximum(piece.length_m + piece.length_sigma_m * normal[0, :, k], 0.0)
        loss_factor[:, k] = np.exp(math.sqrt(math.log1p(piece.loss_sigma**2)) * normal[2, :, k])
        told = piece.velocity_factor * (1 + piece.velocity_factor_sigma * normal[1, :, k])
        velocity_factor[:, k] = _limit(piece, np.maximum(told, LEAST_VELOCITY_FACTOR), loss_factor[:, k])
    return ChainDraws(chain, length_m, velocity_factor, loss_factor)


def _limit(
    piece: LinePiece, velocity_factor: FloatArray | float, loss_factor: FloatArray | float
) -> FloatArray:
    """Velocity factor in the high-frequency limit, where it was measured in place."""
    if piece.velocity_factor_at_hz is None:
        return np.asarray(velocity_factor, dtype=np.float64)
    return limit_velocity_factor(
        velocity_factor,
        piece.velocity_factor_at_hz,
        k1=piece.k1_db_per_100m * np.asarray(loss_factor),
        k2=piece.k2_db_per_100m * np.asarray(loss_factor),
    )
