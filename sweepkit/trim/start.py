"""The length to cut before going out: long on purpose, since a cut cannot be undone and a fold can."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sweepkit.antennas.kind import Kind
from sweepkit.antennas.wires_used import ToldWire, draw_wires
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, frequency_text, length_text

SCHEMA = "sweepkit/trim-start/1"
TWO_SIGMA = 1.96
VAGUE = 0.15  # spread of ln(length) beyond which a frequency does not say how long the part is
# Bare wire at any height, soil and site (modelled dipoles, vees and loops: 1.5 %), where a kind does not spread more
BARE_SIGMA, WIRE_ALONE = 0.015, 0.03
WIRES = 1000  # drawn, of insulated ones
OWN_SIGMA = 0.013  # dip of the same wire at another site: practice of the trade
LEAST_MARGIN = 0.02  # longer than expected by at least this; common practice


@dataclass(frozen=True)
class StartLength:
    """Length of each part that is expected to dip at the target, and the longer one to cut it to. [m]"""

    kind: Kind
    target_hz: float
    length_m: Figure
    start_m: float
    known_from: str

    def to_json(self) -> dict[str, Any]:
        """Plain types only."""
        return {
            "schema": SCHEMA,
            "kind": self.kind.name,
            "target_hz": self.target_hz,
            "parts": self.kind.parts,
            "length_m": self.length_m.to_json(),
            "start_m": self.start_m,
            "from": self.known_from,
        }

    def text(self, *, imperial: bool = False) -> str:
        """A few lines for a terminal."""
        each = f"each {self.kind.part}" if self.kind.parts == 2 else f"the {self.kind.part}"
        low, high = (
            length_text(end or 0.0, imperial=imperial) for end in (self.length_m.low, self.length_m.high)
        )
        return (
            f"CUT {each} to {length_text(self.start_m, imperial=imperial)}, then sweep.\n"
            f"{low} to {high} will dip at {frequency_text(self.target_hz)};\n"
            "the rest is folded back or cut off.\n"
            f"From {self.known_from}."
        )


def start_length(
    kind: Kind, target_hz: float, *, own_wavelengths: Sequence[float] = (), wire: ToldWire | None = None
) -> StartLength:
    """How long to cut each part; ``own_wavelengths`` is what this wire measured at its earlier dips. [-]"""
    middle, spread = kind.length_usual
    if kind.answer is None or spread > VAGUE:
        raise BadInput(
            f"the length of {kind.title} does not follow from its frequency; a dipole, vertical, end-fed or loop "
            "was expected; put it up as its maker or its coil asks, and sweep it"
        )
    known_from = "what is usual for the kind, insulated wire included"
    if wire is not None:
        middle, spread = _of_wire(middle, spread, wire, SPEED_OF_LIGHT_M_S / target_hz)
        known_from = f"what is usual for the kind and {'bare' if wire.is_bare else 'insulated'} wire"
    if own_wavelengths:
        middle, spread = float(np.median(own_wavelengths)), OWN_SIGMA
        many = len(own_wavelengths)
        known_from = f"this antenna's own {'sweep' if many == 1 else f'{many} sweeps'} in the logbook"
    metres = middle * SPEED_OF_LIGHT_M_S / target_hz
    low_m, high_m = (metres * float(np.exp(side * TWO_SIGMA * spread)) for side in (-1, 1))
    start_m = max(high_m, metres * (1 + LEAST_MARGIN))
    return StartLength(kind, target_hz, Figure(metres, low_m, high_m), start_m, known_from)


def _of_wire(middle: float, spread: float, wire: ToldWire, wavelength_m: float) -> tuple[float, float]:
    """Length in wavelengths, and its spread, once it is known whether insulation shortens it."""
    shorter = np.log(draw_wires(WIRES, np.random.default_rng(0), wire).slowing(wavelength_m))
    bare_sigma = BARE_SIGMA if spread < WIRE_ALONE else spread
    return middle * float(np.exp(-np.median(shorter))), float(np.hypot(bare_sigma, np.std(shorter)))
