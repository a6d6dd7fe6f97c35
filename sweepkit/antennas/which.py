"""Which dip belongs to a length: the one that kind and length predict; and lengths that can belong to none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.antennas.catalogue import KINDS
from sweepkit.antennas.kind import Kind
from sweepkit.errors import BadInput
from sweepkit.quantities import FOOT_M, SPEED_OF_LIGHT_M_S, frequency_text, length_text

OVERTONE_MATCH = 0.03  # how near an overtone has to be to be taken for one; three of a hundred of its ratio


@dataclass(frozen=True)
class Choice:
    """Number of the dip that belongs to the length, or ``None`` and the overtone that one looks like."""

    number: int | None
    overtone: float | None = None


def expected_hz(kind: Kind, length_m: float) -> float:
    """Where the dip of a length is expected."""
    return kind.length_usual[0] * SPEED_OF_LIGHT_M_S / length_m


def choose_dip(kind: Kind, length_m: float, dips_hz: list[float]) -> Choice:
    """The dip that kind and length predict; a length that belongs to none is a ``BadInput`` that asks."""
    middle, spread = kind.length_usual
    wavelengths = np.array(dips_hz) * length_m / SPEED_OF_LIGHT_M_S
    fits = (kind.length_range[0] <= wavelengths) & (wavelengths <= kind.length_range[1])
    distance = np.abs(np.log(wavelengths / middle)) / spread
    if fits.any():
        return Choice(int(np.argmin(np.where(fits, distance, np.inf))))
    for ratio in kind.usual.overtones:
        if np.any(np.abs(np.log(wavelengths / (middle * ratio))) < OVERTONE_MATCH):
            return Choice(None, ratio)
    nearest_hz = dips_hz[int(np.argmin(distance))]
    raise BadInput(_question(kind, length_m, nearest_hz))


def _question(kind: Kind, length_m: float, f_hz: float) -> str:
    low_m, high_m = (share * SPEED_OF_LIGHT_M_S / f_hz for share in kind.length_range)
    asked = _other_readings(kind, length_m, f_hz)
    return (
        f"a {kind.part} of {length_text(length_m)} cannot belong to {kind.title} that dips at "
        f"{frequency_text(f_hz)}; one of {length_text(low_m)} to {length_text(high_m)} was expected; "
        f"{'; '.join(asked)}"
    )


def _other_readings(kind: Kind, length_m: float, f_hz: float) -> list[str]:
    """What else the number may mean, likely readings first."""

    def fits(other: Kind, other_m: float) -> bool:
        low, high = other.length_range
        return low <= other_m * f_hz / SPEED_OF_LIGHT_M_S <= high

    asked = []
    if kind.parts == 2 and fits(kind, length_m / 2):
        asked.append("is that the total? give one leg, --length " + length_text(length_m / 2))
    if fits(kind, length_m * FOOT_M):
        asked.append(f"is that feet? write --length '{length_m:g} ft'")
    if fits(kind, length_m / FOOT_M):
        asked.append(f"is that metres, not feet? write --length '{length_m / FOOT_M:.4g} m'")
    if fits(kind, 2 * length_m):
        asked.append(f"is that half of it? give the whole {kind.part}")
    others = [
        other.title
        for other in KINDS.values()
        if other.answer is not None and other is not kind and fits(other, length_m)
    ]
    if others:
        asked.append(f"is it another kind, such as {' or '.join(others[:2])}?")
    return asked or ["check the length (one leg or the total, feet or metres), the kind and the line"]
