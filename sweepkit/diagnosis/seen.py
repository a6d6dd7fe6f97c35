"""How two sweeps differ: the quantities that the signatures of faults are written in."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np

from sweepkit.diagnosis.common_grid import Common
from sweepkit.diagnosis.dip import Part, find_main_dip
from sweepkit.diagnosis.explained import added_loss, left_by_loss, left_by_scale, left_in_magnitude, ripple
from sweepkit.diagnosis.spreads import Spread
from sweepkit.reviews.review import Review

HARDLY_A_DIP = 10.0  # SWR at a dip that was good before and now is this shallow; common practice, no source


@dataclass(frozen=True)
class Seen:
    """What changed from the sweep before to the one now.

    ``parts``: ``f``, ``r``, ``q``: logarithm of now over before, in per cent; ``loss``: loss added to the line, one
    way [dB]; ``turn``: logarithm of how little of the difference changes a magnitude [-]; ``as_loss``: logarithm of
    the share of it that more loss in the line leaves unexplained [-]; ``as_scale``: the same of one factor and one
    offset for all frequencies [-]; where the dip is gone, ``ripple``: range of the return loss over the sweep now
    [dB], and ``end``: cosine of the phase at the end of the line told [-]. What cannot be told is left out.
    ``dip_kept``: whether the dip of before is still there; ``None`` where there was none.
    ``dips_hz``: the dip before and now. [Hz]
    ``swr``: its SWR. [-]
    ``at_feedpoint``: r and Q are those of the antenna itself.
    """

    parts: dict[str, Part]
    dip_kept: bool | None
    dips_hz: tuple[float | None, float | None]
    swr: tuple[float | None, float | None]
    at_feedpoint: bool


def describe_shift(before: Review, now: Review, common: Common, spread: Spread) -> Seen:
    """The shift from one sweep to the other.

    ``common``: both on one grid, and perhaps more.
    """
    at_feedpoint = before.feedpoint is not None and now.feedpoint is not None
    old, new = find_main_dip(before, at_feedpoint=at_feedpoint), None
    if old is not None:
        new = find_main_dip(now, at_feedpoint=at_feedpoint, near_hz=old.f.value)
        if new is not None and new.swr > max(HARDLY_A_DIP, 3 * old.swr):
            new = None
    parts = {"turn": left_in_magnitude(common)}
    if old is not None and new is not None:
        parts["f"] = _change(old.f, new.f)
        if old.r and new.r:
            parts["r"] = _change(old.r, new.r)
        if old.q and new.q:
            parts["q"] = _change(old.q, new.q)
    loss = added_loss(common)
    if loss is not None:
        parts["loss"] = loss
    if common.has_phase:
        parts["as_scale"] = left_by_scale(common)
    if common.has_phase and loss is not None:
        parts["as_loss"] = left_by_loss(common, spread)
    if old is not None and new is None:
        parts["ripple"] = ripple(now.planes.measured)
        if now.planes.feedpoint is not None and now.planes.measured.phase == "signed":
            parts["end"] = Part(float(np.mean(np.cos(np.angle(now.planes.feedpoint.gamma)))), 0.05)
    return Seen(
        parts=parts,
        dip_kept=None if old is None else new is not None,
        dips_hz=(old.f.value if old else None, new.f.value if new else None),
        swr=(old.swr if old else None, new.swr if new else None),
        at_feedpoint=at_feedpoint,
    )


def _change(old: Part, new: Part) -> Part:
    """Logarithm of new over old, in per cent."""
    sigma = np.hypot(old.sigma / old.value, new.sigma / new.value)
    return Part(100 * log(new.value / old.value), 100 * float(sigma))
