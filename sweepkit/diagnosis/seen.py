"""How two sweeps differ: the quantities that the signatures of faults are written in."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.change import find_ways
from sweepkit.diagnosis.common_grid import Common
from sweepkit.diagnosis.dip import Part, find_main_dip
from sweepkit.diagnosis.spreads import Spread
from sweepkit.reviews.review import Review
from sweepkit.reviews.view import View

HARDLY_A_DIP = 10.0  # SWR at a dip that was good before and now is this shallow; common practice, no source
DB = 20 / np.log(10)


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
    """The shift from one sweep to the other."""
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


def left_in_magnitude(common: Common) -> Part:
    """How little of the difference is one of magnitude: strongly negative where the curve is only turned."""
    before, now = common.gamma[0], common.gamma[1]
    noise = float(np.mean(common.noise**2))
    whole = float(np.mean(np.abs(now - before) ** 2))
    size = float(np.mean((np.abs(now) - np.abs(before)) ** 2))
    share = max(size - noise / 2, noise / 4, 1e-8) / max(whole, 1e-8)
    return Part(0.5 * log(min(share, 1.0)), 0.2)


def added_loss(common: Common) -> Part | None:
    """Loss that the highest reflections of both sweeps have lost, one way; ``None`` where few reflect much."""
    before, now = np.abs(common.gamma[0]), np.abs(common.gamma[1])
    high = np.minimum(before, now)
    edge = np.quantile(high, 0.7)
    used = (high >= edge) & (now > 0)
    if edge < 0.5:
        return None
    change_db: FloatArray = -DB * np.log(now[used] / before[used]) / 2
    return Part(float(np.quantile(change_db, 0.5)), max(0.05, float(np.std(change_db))))


def left_by_loss(common: Common, spread: Spread) -> Part:
    """How much of the difference is left when the sweep before is given more loss, as in a longer line.

    What a slide along frequency explains is taken out of both: sweeps that are repeated slide as well.
    """
    before, now = common.gamma[0], common.gamma[1]
    root = np.sqrt(common.f_hz / common.f_hz.mean())
    size = np.maximum(np.abs(before), 1e-3)
    log_ratio = np.log(np.maximum(np.abs(now), 1e-3) / size)
    weight = size**2 * root
    nepers = max(-float((weight @ log_ratio) / (weight @ root)), 0.0)
    slide = find_ways(common, spread)[0][0]

    def rest(difference: ComplexArray) -> float:
        share = float((slide.conj() @ difference).real) / float(np.sum(np.abs(slide) ** 2) + 1e-12)
        return float(np.mean(np.abs(difference - share * slide) ** 2))

    noise = float(np.mean(common.noise**2))
    whole, left = rest(now - before), rest(now - before * np.exp(-nepers * root))
    return Part(0.5 * log(min(max(left - noise, noise / 4, 1e-8) / max(whole, 1e-8), 1.0)), 0.2)


def left_by_scale(common: Common) -> Part:
    """How much of the difference is left when the sweep before is given one factor and one offset."""
    before, now = common.gamma[0], common.gamma[1]
    ways = np.stack([before, np.ones_like(before)], axis=1)
    shares = np.linalg.lstsq(ways, now, rcond=None)[0]
    noise = float(np.mean(common.noise**2))
    whole, left = (float(np.mean(np.abs(part) ** 2)) for part in (now - before, now - ways @ shares))
    return Part(0.5 * log(min(max(left - noise, noise / 4, 1e-8) / max(whole, 1e-8), 1.0)), 0.2)


def ripple(view: View) -> Part:
    """Range of the return loss over the sweep."""
    low, high = np.maximum(np.quantile(np.abs(view.gamma[view.trust > 0]), [0.05, 0.95]), 1e-3)
    return Part(float(DB * np.log(high / low)), 0.3)
