"""What every kind of antenna says of itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from sweepkit.antennas.wires_used import ToldWire
from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, parse_length_m

Move = Literal["fold", "cut", "slide"]


@dataclass(frozen=True, eq=False)
class Seen:
    """What a sweep shows of one dip at the feedpoint, on every draw, shape (n,); NaN where it is not known."""

    f_hz: FloatArray
    length_m: FloatArray  # of each trimmed part
    swr: FloatArray
    loaded_q: FloatArray  # with the 50 ohm of the line across the dip

    @property
    def wavelengths(self) -> FloatArray:
        """Length of each part in wavelengths at the dip, shape (n,). [-]"""
        return self.f_hz * self.length_m / SPEED_OF_LIGHT_M_S


@dataclass(frozen=True)
class Known:
    """What else the operator knows; nothing of it is required."""

    radials: int | None = None  # raised ones or counterpoise wires
    radial_length_m: float | None = None  # of each
    radial_height_m: float | None = None  # over the ground; 0 on it
    counterpoise_m: float | None = None
    coil_h: float | None = None  # loading coil
    transformer: float | None = None  # impedance of the antenna over that at the connector, 1 without one
    choke_at_m: float | None = None  # down the coax from the feedpoint; inf without one
    choke_ohm: complex | None = None  # what its winding shows at the dip in question
    wire: ToldWire | None = None  # that the antenna is made of

    @property
    def on_ground(self) -> bool:
        """Whether the radials lie on the ground."""
        return self.radial_height_m == 0

    @property
    def many_on_ground(self) -> bool:
        """Whether they are a ground by themselves: lying on it, and nobody counted them."""
        return self.on_ground and self.radials is None


@dataclass(frozen=True, eq=False)
class LengthAnswer:
    """How the dip answers to length, on every draw: d ln f = slope * dl + curvature / 2 * dl**2, dl = d ln L."""

    slope: FloatArray
    curvature: FloatArray
    log_weight: FloatArray  # how well what lies behind a draw agrees with the sweep; 0 for all: not compared


@dataclass(frozen=True)
class Usual:
    """What a healthy antenna of the kind usually shows at its dip: ranges that hold nine of ten models."""

    r_ohm: tuple[float, float]  # at the connector
    q: tuple[float, float]  # of the antenna alone
    bandwidth: tuple[float, float]  # of SWR 2, over the frequency of the dip
    resonance: Literal["series", "parallel"]  # whether the reactance rises or falls through the dip
    overtones: tuple[float, ...]  # further dips over the first


Answer = Callable[[Seen, Known, "np.random.Generator"], LengthAnswer]  # its name alone would load the dice


@dataclass(frozen=True)
class Kind:
    """One kind of antenna."""

    name: str  # as written on the command line
    title: str  # in a sentence, with its article
    part: str  # what the operator changes
    parts: Literal[1, 2]  # how many change together, by the same amount each
    move: Move  # how it is usually done
    where: str  # to change it
    # of a part, in wavelengths at the dip, beyond which it cannot be this kind
    length_range: tuple[float, float]
    length_usual: tuple[float, float]  # middle of that length, and the standard deviation of its logarithm
    repeatability: float  # shift of the dip between two erections at one site, as a fraction
    usual: Usual
    answer: Answer | None  # how its dip answers to length; None where there is nothing to trim
    basis: str = ""  # what that is known from, in words after "from"


def known_beside(
    facts: Mapping[str, Any],
    *,
    radials: int | None = None,
    radials_on_ground: bool = False,
    choke_at: str | None = None,
    wire: str | None = None,
    **told: float | None,
) -> Known:
    """What a kind takes beside its length: as told, else as the facts have it."""
    names = ("radial_length_m", "radial_height_m", "counterpoise_m", "coil_h", "transformer")
    choke = facts.get("choke_at") if choke_at is None else choke_at
    wire = facts.get("wire") if wire is None else wire
    if radials_on_ground:
        if told.get("radial_height_m"):
            raise BadInput(
                "radials on the ground are at 0 m, and another height was told; leave one of them out"
            )
        told["radial_height_m"] = 0.0
    numbers: dict[str, Any] = {
        name: facts.get(name) if told.get(name) is None else told[name] for name in names
    }
    return Known(
        choke_at_m=None if choke is None else float("inf") if choke == "none" else parse_length_m(choke),
        radials=facts.get("radials") if radials is None else radials,
        wire=None if wire is None else ToldWire.of(wire),
        **numbers,
    )
