"""Whether two sweeps of one setup may be taken together, or say different things of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sweepkit.antennas.rungs import WORDS, Body, Rung, trade_limit
from sweepkit.reviews.common_dip import find_common_dip
from sweepkit.reviews.summary import Summary


@dataclass(frozen=True)
class Disagreement:
    """Two sweeps, by name, of one setup whose dips are not of one antenna in one state.

    ``rung``: what alone would lie between them.
    """

    a: str
    b: str
    a_hz: float
    b_hz: float
    rung: Rung = "joined-anew"

    @property
    def text(self) -> str:
        """For people."""
        way = "below" if self.b_hz < self.a_hz else "above"
        return (
            f"the dip of {self.b} is {abs(self.b_hz - self.a_hz) / 1e3:.0f} kHz {way} that of {self.a} "
            f"({self.b_hz / 1e6:.3f} and {self.a_hz / 1e6:.3f} MHz): more than {WORDS[self.rung]} explains; another "
            "length, or another antenna? They are not taken together"
        )


def find_disagreement(
    a: Summary, b: Summary, names: tuple[str, str], *, body: Body, rung: Rung = "joined-anew"
) -> Disagreement | None:
    """The first dip that both sweeps cover and place differently, by more than a rung explains.

    ``rung``: what lies between them at most.
    """
    pair = find_common_dip(a, b)
    if pair is None:
        return None
    dips = pair[0].dip_hz, pair[1].dip_hz
    ends = [(dip.low or dip.value or 1.0, dip.high or dip.value or 1.0) for dip in dips]
    widths = [max(math.log(high / low), 0.0) / 2 for low, high in ends]
    a_hz, b_hz = dips[0].value or 1.0, dips[1].value or 1.0
    if abs(math.log(b_hz / a_hz)) - math.hypot(*widths) <= trade_limit("dip_hz", body, rung):
        return None
    return Disagreement(*names, a_hz, b_hz, rung)
