"""Whether two sweeps of one setup may be taken together, or say different things of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sweepkit.antennas.rungs import WORDS, Body, Rung, trade_limit
from sweepkit.reviews.summary import DipSummary, PlaneName, Summary

NEAR_LOG = 0.12  # dips of one antenna in two states lie within this; the next band's is further; our choice
EDGE_SHARE = 0.02  # a dip nearer to the end of the other sweep may lie beyond it; our choice


@dataclass(frozen=True)
class Disagreement:
    """Two sweeps of one setup that are not of one antenna in one state.

    Parameters
    ----------
    a, b : str
        Their names.
    a_hz, b_hz : float
        The dip in each. [Hz]
    rung : Rung
        What alone would lie between them.
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

    Parameters
    ----------
    a, b : Summary
        Figures of two sweeps of one setup.
    names : tuple of str
        Their names.
    body : Body
        What the antenna is.
    rung : Rung
        What lies between them at most.
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


def find_common_dip(a: Summary, b: Summary) -> tuple[DipSummary, DipSummary] | None:
    """The deepest dip of ``a`` that ``b`` covers, and the dip of ``b`` nearest to it; ``None`` where there is none."""
    planes: tuple[PlaneName, ...] = ("feedpoint", "radio", "unknown")
    plane = next((name for name in planes if name in a.planes and name in b.planes), None)
    if plane is None:
        return None
    in_b = [dip for dip in b.planes[plane] if dip.dip_hz.value is not None and _covers(a, dip.dip_hz.value)]
    for dip in a.planes[plane]:
        f_hz = dip.dip_hz.value
        if f_hz is None or not _covers(b, f_hz) or not in_b:
            continue
        near = min(in_b, key=lambda other: abs(math.log((other.dip_hz.value or 1.0) / f_hz)))
        if abs(math.log((near.dip_hz.value or 1.0) / f_hz)) <= NEAR_LOG:
            return dip, near
    return None


def _covers(sweep: Summary, f_hz: float) -> bool:
    edge_hz = EDGE_SHARE * (sweep.stop_hz - sweep.start_hz)
    return sweep.start_hz + edge_hz < f_hz < sweep.stop_hz - edge_hz
