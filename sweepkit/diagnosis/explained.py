"""What alone could explain a difference: a turn, more loss, one factor and one offset, a bare line."""

from __future__ import annotations

from math import log

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.change import find_ways
from sweepkit.diagnosis.common_grid import Common
from sweepkit.diagnosis.dip import Part
from sweepkit.diagnosis.spreads import Spread
from sweepkit.reviews.view import View

DB = 20 / np.log(10)


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
