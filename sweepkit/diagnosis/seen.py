"""How two sweeps differ: the quantities that the signatures of faults are written in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, log

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.change import find_ways
from sweepkit.diagnosis.common_grid import Common
from sweepkit.diagnosis.spreads import Spread
from sweepkit.reviews.plane import Plane, find_dips
from sweepkit.reviews.review import Review
from sweepkit.reviews.view import View

SAME_DIP = 0.15  # a dip farther away, as a share of frequency, is another one; common practice, no source
HARDLY_A_DIP = 10.0  # SWR at a dip that was good before and now is this shallow; common practice, no source
ANTENNA_SWR = 4.0  # as in reviews.line: a shallower dip may be that of a bare line
CIRCLE_SPREAD = 0.03  # of R and Q read off the circle where the plane is not the feedpoint, as a share
DB = 20 / np.log(10)


@dataclass(frozen=True)
class Part:
    """One quantity: its change and the standard deviation of measuring it."""

    value: float
    sigma: float


@dataclass(frozen=True)
class Seen:
    """What changed from the sweep before to the one now.

    Parameters
    ----------
    parts : dict of str to Part
        ``f``, ``r``, ``q``: logarithm of now over before, in per cent; ``loss``: loss added to the line, one way
        [dB]; ``turn``: logarithm of how little of the difference changes a magnitude [-]; ``as_loss``: logarithm of the
        share of it that more loss in the line leaves unexplained [-]; ``as_scale``: the same of one factor and one
        offset for all frequencies [-]; where the dip is gone, ``ripple``: range of the
        return loss over the sweep now [dB], and ``end``: cosine of the phase at the end of the line told [-]. What
        cannot be told is left out.
    dip_kept : bool or None
        Whether the dip of before is still there; ``None`` where there was none.
    dips_hz : (float or None, float or None)
        The dip before and now. [Hz]
    swr : (float or None, float or None)
        Its SWR. [-]
    at_feedpoint : bool
        R and Q are those of the antenna itself.
    """

    parts: dict[str, Part]
    dip_kept: bool | None
    dips_hz: tuple[float | None, float | None]
    swr: tuple[float | None, float | None]
    at_feedpoint: bool


@dataclass(frozen=True)
class Dip:
    """A dip with R and Q as the antenna's, or as a series resonator's that looks the same."""

    f: Part
    r: Part | None
    q: Part | None
    swr: float


def describe_shift(before: Review, now: Review, common: Common, spread: Spread) -> Seen:
    """The shift from one sweep to the other.

    Parameters
    ----------
    before, now : Review
        Reviews of both.
    common : Common
        Both on one grid, and perhaps more.
    spread : Spread
        Of one repeat.
    """
    at_feedpoint = before.feedpoint is not None and now.feedpoint is not None
    old, new = _main_dip(before, at_feedpoint), None
    if old is not None:
        new = _main_dip(now, at_feedpoint, near=old.f.value)
        if new is not None and new.swr > max(HARDLY_A_DIP, 3 * old.swr):
            new = None
    parts = {"turn": _turn(common)}
    if old is not None and new is not None:
        parts["f"] = _change(old.f, new.f)
        if old.r and new.r:
            parts["r"] = _change(old.r, new.r)
        if old.q and new.q:
            parts["q"] = _change(old.q, new.q)
    loss = _added_loss(common)
    if loss is not None:
        parts["loss"] = loss
    if common.has_phase:
        parts["as_scale"] = _left_by_scale(common)
    if common.has_phase and loss is not None:
        parts["as_loss"] = _left_by_loss(common, spread)
    if old is not None and new is None:
        parts["ripple"] = _ripple(now.planes.measured)
        if now.planes.feedpoint is not None and now.planes.measured.phase == "signed":
            parts["end"] = Part(float(np.mean(np.cos(np.angle(now.planes.feedpoint.gamma)))), 0.05)
    return Seen(
        parts=parts,
        dip_kept=None if old is None else new is not None,
        dips_hz=(old.f.value if old else None, new.f.value if new else None),
        swr=(old.swr if old else None, new.swr if new else None),
        at_feedpoint=at_feedpoint,
    )


def has_antenna(review: Review) -> bool:
    """Whether a dip is deep enough to be an antenna's.

    Parameters
    ----------
    review : Review
        Of one sweep.
    """
    dips = review.main_plane.dips
    return bool(dips) and (dips[0].swr.value or ANTENNA_SWR) < ANTENNA_SWR


def _change(old: Part, new: Part) -> Part:
    """Logarithm of new over old, in per cent."""
    sigma = np.hypot(old.sigma / old.value, new.sigma / new.value)
    return Part(100 * log(new.value / old.value), 100 * float(sigma))


def _main_dip(review: Review, at_feedpoint: bool, near: float | None = None) -> Dip | None:
    """The deepest dip, or the deepest one that may be the same as one before."""
    plane = review.feedpoint if at_feedpoint else review.main_plane
    assert plane is not None
    for number, dip in enumerate(plane.dips):
        f_hz, swr = dip.f_hz.value, dip.swr.value
        if f_hz is None or swr is None or (near and abs(log(f_hz / near)) > SAME_DIP):
            continue
        f = Part(f_hz, _sigma(dip.f_hz.low, dip.f_hz.high))
        if at_feedpoint:
            return _with_resonance(f, swr, plane, number)
        r, q = _circle(review.planes.radio or review.planes.measured, f_hz)
        return Dip(f, r, q, swr)
    return None


def _with_resonance(f: Part, swr: float, plane: Plane, number: int) -> Dip:
    """R and Q where the reactance is zero next to the dip, else R at the dip alone."""
    near = [
        resonance
        for resonance in plane.resonances
        if resonance.f_hz.value is not None and abs(log(resonance.f_hz.value / f.value)) < SAME_DIP / 2
    ]
    if near:
        nearest = min(near, key=lambda resonance: abs((resonance.f_hz.value or 0.0) - f.value))
        r_ohm, q = nearest.r_ohm, nearest.q
        if r_ohm.value is not None and q.value is not None and r_ohm.value > 0 and q.value > 0:
            return Dip(
                f,
                Part(r_ohm.value, _sigma(r_ohm.low, r_ohm.high)),
                Part(q.value, _sigma(q.low, q.high)),
                swr,
            )
    r_dip = plane.dips[number].r_ohm
    if r_dip.value is None or r_dip.value <= 0:
        return Dip(f, None, None, swr)
    return Dip(f, Part(r_dip.value, _sigma(r_dip.low, r_dip.high)), None, swr)


def _circle(view: View, f_hz: float) -> tuple[Part | None, Part | None]:
    """R and Q of the series resonator whose circle looks the same, however a line has turned it.

    Far off resonance a resonator reflects all, at one end of a diameter of its circle; at resonance it is at the
    other end, where the reflection over that of the far end is (R-50)/(R+50). The loaded width gives
    Q·R/(R+50).
    """
    if view.phase != "signed":
        return None, None
    nominal = replace(view, ensemble=lambda index: view.gamma[index][None])
    dips = [dip for dip in find_dips(nominal) if abs(dip.f_hz[0] / f_hz - 1) < 1e-3]
    if not dips:
        return None, None
    model = dips[0].dip.fit.model
    far = complex(model.p1 / model.q) if abs(model.q) > 0 else complex("nan")
    width = float(moebius.loaded_half_width(model))
    if not (isfinite(abs(far)) and abs(far) > 0):
        return None, None
    at_resonance = complex(moebius.value(model, np.asarray((-1 / model.q).real)))
    swing = (at_resonance / far).real
    if not (isfinite(swing) and -1 < swing < 1 and 0.5 < abs(far) < 1.6 and width > 0):
        return None, None
    r_ohm = view.reference_ohm * (1 + swing) / (1 - swing)
    q = (1 + view.reference_ohm / r_ohm) / width
    return Part(r_ohm, CIRCLE_SPREAD * r_ohm), Part(q, CIRCLE_SPREAD * q)


def _sigma(low: float | None, high: float | None) -> float:
    """Standard deviation that goes with a 95 % interval."""
    return 0.0 if low is None or high is None else (high - low) / 3.92


def _turn(common: Common) -> Part:
    """How little of the difference is one of magnitude: strongly negative where the curve is only turned."""
    before, now = common.gamma[0], common.gamma[1]
    noise = float(np.mean(common.noise**2))
    whole = float(np.mean(np.abs(now - before) ** 2))
    size = float(np.mean((np.abs(now) - np.abs(before)) ** 2))
    share = max(size - noise / 2, noise / 4, 1e-8) / max(whole, 1e-8)
    return Part(0.5 * log(min(share, 1.0)), 0.2)


def _added_loss(common: Common) -> Part | None:
    """Loss that the highest reflections of both sweeps have lost, one way, per pass."""
    before, now = np.abs(common.gamma[0]), np.abs(common.gamma[1])
    high = np.minimum(before, now)
    edge = np.quantile(high, 0.7)
    used = (high >= edge) & (now > 0)
    if edge < 0.5:
        return None
    change_db: FloatArray = -DB * np.log(now[used] / before[used]) / 2
    return Part(float(np.quantile(change_db, 0.5)), max(0.05, float(np.std(change_db))))


def _left_by_loss(common: Common, spread: Spread) -> Part:
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


def _left_by_scale(common: Common) -> Part:
    """How much of the difference is left when the sweep before is given one factor and one offset."""
    before, now = common.gamma[0], common.gamma[1]
    ways = np.stack([before, np.ones_like(before)], axis=1)
    shares = np.linalg.lstsq(ways, now, rcond=None)[0]
    noise = float(np.mean(common.noise**2))
    whole, left = (float(np.mean(np.abs(part) ** 2)) for part in (now - before, now - ways @ shares))
    return Part(0.5 * log(min(max(left - noise, noise / 4, 1e-8) / max(whole, 1e-8), 1.0)), 0.2)


def _ripple(view: View) -> Part:
    """Range of the return loss over the sweep."""
    low, high = np.maximum(np.quantile(np.abs(view.gamma[view.trust > 0]), [0.05, 0.95]), 1e-3)
    return Part(float(DB * np.log(high / low)), 0.3)
