"""What an operator tells of a piece that is swept, and what follows for its length."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.feedline.chain import LineChain
from sweepkit.limits import refuse_outside
from sweepkit.lines import VELOCITY_FACTOR_SIGMA, LinePiece, default_length_sigma_m
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

UNKNOWN_VELOCITY = (0.64, 0.90)  # solid polyethylene to the airiest foam: data sheets of coaxial lines
CONTRADICTION = 3.0  # told length and measured delay may differ by so many sigma
SLOWEST, FASTEST = 0.45, 1.02  # velocity factors outside are no line, the measurement's error allowed


@dataclass(frozen=True)
class Told:
    """What is known beside the sweep; length and velocity factor together are a ``BadInput``."""

    length_m: float | None = None  # by tape
    velocity_factor: float | None = None  # high-frequency limit
    # the type it is said to be, catalogued or the operator's record of this piece; its length is no input
    piece: LinePiece | None = None
    is_record: bool = False  # the piece is the operator's own record: its length is what is expected

    def __post_init__(self) -> None:
        refuse_outside("length_m", self.length_m, called="length")
        refuse_outside("velocity_factor", self.velocity_factor, called="velocity factor")
        if self.length_m is not None and self.velocity_factor is not None:
            raise BadInput(
                "length and velocity factor are both given; the delay in the sweep gives one from the other; "
                "give one of them"
            )

    @property
    def expected_m(self) -> float | None:
        """The length that was told, else that of the record, which the measurement does not use. [m]"""
        recorded = self.piece if self.is_record and self.velocity_factor is None else None
        return self.length_m if self.length_m is not None or recorded is None else recorded.length_m

    @property
    def known_velocity_factor(self) -> float | None:
        """Of the option, else of the type."""
        if self.velocity_factor is not None or self.piece is None:
            return self.velocity_factor
        return float(LineChain([self.piece]).nominal.velocity_factor[0, 0])

    @property
    def expected_delay_s(self) -> float | None:
        """One-way delay of a told length, taken for solid dielectric where no type is told. [s]"""
        if self.length_m is None:
            return None
        return self.length_m / (SPEED_OF_LIGHT_M_S * (self.known_velocity_factor or 0.66))

    def velocity_draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        """The nominal velocity factor, then ``n`` more: from solid dielectric to foam where nothing is told."""
        known = self.known_velocity_factor
        if known is None:
            low, high = UNKNOWN_VELOCITY
            return np.concatenate([[(low + high) / 2], rng.uniform(low, high, n)])
        drawn = known * (1 + self.velocity_sigma * rng.standard_normal(n))
        return np.concatenate([[known], drawn])

    @property
    def velocity_sigma(self) -> float:
        """One sigma of the known velocity factor, as a fraction; of a record with what its scale rests on."""
        if self.piece is None:
            return VELOCITY_FACTOR_SIGMA
        return math.hypot(self.piece.velocity_factor_sigma, self.piece.scale_sigma)

    def length_draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        """The length as told, then ``n`` within its tolerance."""
        assert self.length_m is not None  # asked for only where it is told
        sigma_m = default_length_sigma_m(self.length_m)
        drawn_m = self.length_m + sigma_m * rng.standard_normal(n)
        return np.concatenate([[self.length_m], np.maximum(drawn_m, 0.1 * self.length_m)])


@dataclass(frozen=True, eq=False)
class Scale:
    """Length and velocity factor that go with a measured delay, in every draw, the nominal one first."""

    length_m: FloatArray
    velocity_factor: FloatArray
    # how the delay goes with a told length: shorter and longer with a known velocity factor, impossible where no line
    # is so fast or so slow
    agreement: str


def find_scale(told: Told, delay_s: FloatArray, rng: np.random.Generator) -> Scale:
    """Length and velocity factor from the one-way delay (high-frequency limit, nominal first) and what is told."""
    n = delay_s.size - 1
    velocity = told.velocity_draws(rng, n)
    by_velocity = Scale(SPEED_OF_LIGHT_M_S * velocity * delay_s, velocity, "agrees")
    if told.length_m is None:
        return replace(by_velocity, agreement=_beside_record(told, by_velocity))
    length_m = told.length_draws(rng, n)
    factor = length_m / (SPEED_OF_LIGHT_M_S * delay_s)
    by_length = Scale(length_m, factor, "agrees")
    if told.known_velocity_factor is None:
        is_line = SLOWEST <= factor[0] <= FASTEST
        return by_length if is_line else Scale(by_velocity.length_m, velocity, "impossible")
    ratio = by_velocity.length_m / length_m
    agreement = _agreement(ratio[0], max(float(ratio[1:].std()) if n > 1 else 0.0, _told_sigma(told)))
    return by_length if agreement == "agrees" else replace(by_velocity, agreement=agreement)


def _agreement(ratio: float, sigma: float) -> str:
    """Of a length by its delay over the length that was told."""
    if abs(ratio - 1) <= CONTRADICTION * sigma:
        return "agrees"
    return "shorter" if ratio < 1 else "longer"


def _beside_record(told: Told, by_velocity: Scale) -> str:
    """How a length by the record's velocity factor goes with the record's length."""
    if told.piece is None or told.expected_m is None:
        return "agrees"
    sigma = math.hypot(told.piece.length_sigma_m / told.expected_m, told.velocity_sigma)
    return _agreement(float(by_velocity.length_m[0]) / told.expected_m, sigma)


def _told_sigma(told: Told) -> float:
    """Relative sigma of a told length over that of the delay."""
    assert told.length_m is not None
    return math.hypot(default_length_sigma_m(told.length_m) / told.length_m, told.velocity_sigma)
