"""A told length of wire that explains the dips of its sweeps far worse than what else the number may mean."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweepkit.antennas import end_fed
from sweepkit.antennas.kind import Kind
from sweepkit.errors import BadInput
from sweepkit.quantities import FOOT_M, SPEED_OF_LIGHT_M_S, frequency_text, length_text

MATCH = 0.07  # of ln f between a dip and the half wave that it tells of
# A length is asked about where fewer of its half waves show than this, and another reading of the number explains so
# much more (sum of two shares); common practice, no source.
LEAST_ORDERS, MOST_SHOWN, CLEARLY = 2, 0.6, 0.45
LEAST_TOO_MANY = 1.5  # dips that only the whole wire has, where half of it was told; the coax may make one
# The told length may act so much longer: Zw c C with the most winding capacitance that is usual, 12 pF.
BOX_M = end_fed.WIRE_OHM * SPEED_OF_LIGHT_M_S * 12e-12


def refuse_wrong_length(
    kind: Kind, length_m: float, dips_hz: Sequence[float], spans_hz: Sequence[tuple[float, float]]
) -> None:
    """A length that explains the dips of its sweeps far worse than what else the number may mean."""
    from sweepkit.antennas.which import choose_dip

    if not dips_hz:
        return
    if kind.name == "end-fed":
        _refuse_by_half_waves(length_m, dips_hz, spans_hz)
        return
    low, high = (share * SPEED_OF_LIGHT_M_S / length_m for share in kind.length_range)
    if not any(start <= low and high <= stop for start, stop in spans_hz):
        return
    if choose_dip(kind, length_m, list(dips_hz)).number is None:  # raises with what else it may mean
        raise BadInput(
            f"a {kind.part} of {length_text(length_m)} dips first between {frequency_text(low)} and "
            f"{frequency_text(high)}, and no dip is there; the sweep dips at "
            f"{', '.join(map(frequency_text, dips_hz[:4]))}; check the length (feet or metres, half or whole), the kind"
        )


def _refuse_by_half_waves(
    length_m: float, dips_hz: Sequence[float], spans_hz: Sequence[tuple[float, float]]
) -> None:
    """Half waves that should show and do, dips that are half waves: counted for the number as told, and otherwise."""
    readings = {
        "is that feet? write it with ft": length_m * FOOT_M,
        "is that metres, not feet? write it with m": length_m / FOOT_M,
        "is that twice the wire? give the wire once": length_m / 2,
        "is that half of it? give the whole wire": 2 * length_m,
    }
    tried = [_explains(length_m, dips_hz, spans_hz, box_m) for box_m in np.linspace(0, BOX_M, 5)]
    if tried[0][1] > MOST_SHOWN:
        _refuse_half(length_m, dips_hz, spans_hz, tried[0][0])
        return
    as_told = max(own + shown for own, shown, orders in tried if orders)
    for question, other_m in readings.items():
        better, better_shown, orders = _explains(other_m, dips_hz, spans_hz)
        if orders >= LEAST_ORDERS and better + better_shown > as_told + CLEARLY:
            raise BadInput(
                f"a wire of {length_text(length_m)} does not dip at {', '.join(map(frequency_text, dips_hz[:4]))}; "
                f"one of {length_text(other_m)} would; {question}, or check the kind"
            )


def _refuse_half(
    length_m: float, dips_hz: Sequence[float], spans_hz: Sequence[tuple[float, float]], own: float
) -> None:
    """Half of a wire has every other dip: asked where all are half waves of the whole, and two at least too many."""
    whole, shown, orders = _explains(2 * length_m, dips_hz, spans_hz)
    if whole == shown == 1.0 and orders > LEAST_ORDERS and (whole - own) * len(dips_hz) > LEAST_TOO_MANY:
        raise BadInput(
            f"a wire of {length_text(length_m)} has every other of the dips at "
            f"{', '.join(map(frequency_text, dips_hz[:4]))}, one of {length_text(2 * length_m)} has all; is that half "
            "of it? give the whole wire"
        )


def _explains(
    length_m: float, dips_hz: Sequence[float], spans_hz: Sequence[tuple[float, float]], box_m: float = 0.0
) -> tuple[float, float, int]:
    """Share of the dips that are half waves, of the half waves inside the sweeps that dip, and how many those are.

    ``box_m``: so much more wire than there is acts, as the winding's capacitance does. [m]
    """
    first_hz = end_fed.WIRE_LENGTH * SPEED_OF_LIGHT_M_S / (length_m + box_m)
    waves = first_hz * (1 + 0.5 / end_fed.WIRE_LENGTH * np.arange(8))
    near = np.abs(np.log(np.array(dips_hz)[:, np.newaxis] / waves)) < MATCH
    there = [any(low * 1.03 < f < high * 0.97 for low, high in spans_hz) for f in waves]
    own = float(near.any(axis=1).mean())
    if not any(there):
        return own, 1.0, 0
    return own, float(near.any(axis=0)[there].mean()), sum(there)
