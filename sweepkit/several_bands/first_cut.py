"""How much of a whole change a first cut may take, where it moves several dips."""

from __future__ import annotations

from collections.abc import Callable

from sweepkit.conversions import FloatArray
from sweepkit.trim.move import CUT_CAP, CUT_CAP_LEARNED, OVERSHOOT, OVERSHOOT_CHANCE

LESS, LEAST = 0.9, 0.05  # tried again with so much of it, down to so little of the whole


def first_share(dips_hz: Callable[[float], FloatArray], *, learned: bool) -> float:
    """The cap of the trade, or less: of no dip may more than one draw in twenty end above where it is to go.

    ``dips_hz`` gives where the dips are after a share of the change, shape (draws, dips), the measured draw first.
    A dip that the whole change hardly moves, such as one of the coax, is not brought too far by any cut.
    """
    share = CUT_CAP_LEARNED if learned else CUT_CAP
    wanted_hz = dips_hz(1.0)[0]
    moved = wanted_hz > OVERSHOOT * dips_hz(0.0)[0]
    while share > LEAST:
        drawn_hz, wanted = dips_hz(share)[1:, moved], wanted_hz[moved]
        if not drawn_hz.size or (drawn_hz > OVERSHOOT * wanted).mean(axis=0).max() <= OVERSHOOT_CHANCE:
            return share
        share *= LESS
    return share
