"""A feed line as a chain of pieces from the radio to the feedpoint, and its ensemble of believable chains."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.feedline.propagation import inverse_root, limit_velocity_factor, scales, series_root
from sweepkit.lines import LinePiece

# A pair of connectors in series, from clean to worn, even in the logarithm; common practice, no source. [ohm]
JOINT_OHM = (0.02, 1.0)
# Impedance over reference, less 1: 50 to 54 ohm types agree, 75 and 93 ohm ones do not; our choice
AGREES = 0.08
LEAST_Z0_SHARE = 0.05  # nor lower than that share of the told impedance
LEAST_VELOCITY_FACTOR = 0.05  # no drawn wave is slower; keeps a wide tolerance from turning it round


@dataclass(frozen=True)
class LineChain:
    """Pieces in order from the radio; none at all stands for a radio at the antenna.

    A velocity factor measured in place that would make the wave faster than light at high frequencies is a
    ``BadInput``.
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
    def scale_sigma(self) -> float:
        """How far all metres may be off together: that of the piece whose scale is least sure. [-]"""
        return max((piece.scale_sigma for piece in self.pieces), default=0.0)

    def agrees_with(self, reference_ohm: float) -> bool:
        """Whether every piece has about the reference's impedance, so that SWR alone tells what it does to SWR."""
        return all(abs(piece.z0_ohm / reference_ohm - 1) <= AGREES for piece in self.pieces)

    @cached_property
    def nominal(self) -> ChainDraws:
        """The chain as it was told, an ensemble of one."""
        return draw_chain(self, np.random.default_rng(0), 0)

    def outside_fit(self, low_hz: float, high_hz: float) -> tuple[str, ...]:
        """Names of pieces whose loss constants are an extrapolation somewhere in a range."""
        return tuple(
            piece.name
            for piece in self.pieces
            if (piece.fit_low_hz is not None and low_hz < piece.fit_low_hz)
            or (piece.fit_high_hz is not None and high_hz > piece.fit_high_hz)
        )


@dataclass(frozen=True, eq=False)
class ChainDraws:
    """Equally believable chains, the nominal one first; all but ``joint_ohm`` of shape (draws, pieces)."""

    chain: LineChain
    length_m: FloatArray
    velocity_factor: FloatArray  # high-frequency limits, above 0
    loss_factor: FloatArray  # multiplies both loss constants, above 0
    z0_ohm: FloatArray  # high-frequency limits, above 0
    # in series at the radio, between pieces and at the feedpoint; shape (draws, pieces + 1)
    joint_ohm: FloatArray

    def __post_init__(self) -> None:
        count = len(self.chain.pieces)
        for name in ("length_m", "velocity_factor", "loss_factor", "z0_ohm", "joint_ohm"):
            frozen = np.array(getattr(self, name), dtype=np.float64)
            columns = count + 1 if name == "joint_ohm" else count
            if frozen.shape != (self.length_m.shape[0], columns):
                raise ValueError(f"{name} has shape {frozen.shape}; it must be (draws, {columns})")
            frozen.flags.writeable = False
            object.__setattr__(self, name, frozen)

    @property
    def size(self) -> int:
        """Number of chains, the nominal one included."""
        return int(self.length_m.shape[0])

    def part(self, draws: slice) -> ChainDraws:
        """Some of the draws."""
        return ChainDraws(
            self.chain,
            self.length_m[draws],
            self.velocity_factor[draws],
            self.loss_factor[draws],
            self.z0_ohm[draws],
            self.joint_ohm[draws],
        )


def draw_chain(chain: LineChain, rng: np.random.Generator, n: int) -> ChainDraws:
    """The nominal chain and ``n`` more within the tolerances of its pieces.

    Lengths, velocity factors and impedances are normal; losses are log-normal with median 1, so that none is
    negative. Joints, of which nobody tells, are drawn too; the nominal chain has none.
    """
    scores = np.zeros((n + 1, scores_per_chain(chain)))
    split = 4 * len(chain.pieces)
    scores[1:, :split] = rng.standard_normal((n, split))
    drawn = believable_chains(chain, scores)
    joint_ohm = np.zeros((n + 1, len(chain.pieces) + 1))
    if chain.pieces:
        joint_ohm[1:] = np.exp(
            rng.uniform(math.log(JOINT_OHM[0]), math.log(JOINT_OHM[1]), (n, joint_ohm.shape[1]))
        )
    return replace(drawn, joint_ohm=joint_ohm)


def scores_per_chain(chain: LineChain) -> int:
    """How many numbers :func:`believable_chains` wants: four for each piece, one for each joint."""
    return 5 * len(chain.pieces) + 1 if chain.pieces else 0


def believable_chains(chain: LineChain, scores: FloatArray) -> ChainDraws:
    """Chains off what was told by so many sigma, shape (draws, :func:`scores_per_chain`).

    Length, velocity factor, logarithm of the loss and impedance of each piece, then the logarithm of each joint's
    resistance, which lies round the middle of its range.
    """
    pieces, count = chain.pieces, len(chain.pieces)
    length, velocity, loss, impedance = (
        scores[:, : 4 * count].reshape(scores.shape[0], 4, count).transpose(1, 0, 2)
    )
    told_m, factor, ohm = _of(pieces, "length_m", "velocity_factor", "z0_ohm")
    sigma_m, of_factor, of_loss, of_ohm = _of(
        pieces, "length_sigma_m", "velocity_factor_sigma", "loss_sigma", "z0_sigma"
    )
    length_m = np.maximum(told_m + sigma_m * length, 0.0)
    loss_factor = np.exp(np.sqrt(np.log1p(of_loss**2)) * loss)
    velocity_factor = np.maximum(factor * (1 + of_factor * velocity), LEAST_VELOCITY_FACTOR)
    for k, piece in enumerate(pieces):
        velocity_factor[:, k] = _limit(piece, velocity_factor[:, k], loss_factor[:, k])
    told_ohm = ohm * np.maximum(1 + of_ohm * impedance, LEAST_Z0_SHARE)
    z0_ohm = _z0_limits(pieces, told_ohm, velocity_factor, loss_factor)
    low, high = (math.log(ohm) for ohm in JOINT_OHM)
    joints = np.exp((low + high) / 2 + (high - low) / math.sqrt(12) * scores[:, 4 * count :])
    if not pieces:
        joints = np.zeros((scores.shape[0], 1))
    return ChainDraws(chain, length_m, velocity_factor, loss_factor, z0_ohm, joints)


def _of(pieces: Sequence[LinePiece], *names: str) -> FloatArray:
    """Numbers of all pieces, shape (names, pieces)."""
    return np.array([[getattr(piece, name) for piece in pieces] for name in names])


def _z0_limits(
    pieces: Sequence[LinePiece], z0_ohm: FloatArray, velocity_factor: FloatArray, loss_factor: FloatArray
) -> FloatArray:
    """Impedances in the high-frequency limit, also of those that were measured or published at a frequency."""
    at_hz = np.array([piece.z0_at_hz or 0.0 for piece in pieces])
    k1, k2 = _of(pieces, "k1_db_per_100m", "k2_db_per_100m")
    a_at_1_hz, shunt, _ = scales(velocity_factor, k1 * loss_factor, k2 * loss_factor)
    series = series_root(np.asarray(a_at_1_hz * inverse_root(at_hz)))
    return np.where(at_hz > 0, z0_ohm / (series / shunt).real, z0_ohm)


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
