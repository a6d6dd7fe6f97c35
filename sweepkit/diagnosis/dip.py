"""One dip with its R and Q: the antenna's own, or those that its circle shows through any line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, log

import numpy as np

from sweepkit.analysis import moebius
from sweepkit.reviews.plane import Plane, find_dips
from sweepkit.reviews.review import Review
from sweepkit.reviews.view import View

SAME_DIP = 0.15  # a dip farther away, as a share of frequency, is another one; common practice, no source
ANTENNA_SWR = 4.0  # as in reviews.line: a shallower dip may be that of a bare line
CIRCLE_SPREAD = 0.03  # of R and Q read off the circle where the plane is not the feedpoint, as a share


@dataclass(frozen=True)
class Part:
    """One quantity, or its change, and the standard deviation of measuring it."""

    value: float
    sigma: float


@dataclass(frozen=True)
class Dip:
    """A dip with R and Q as the antenna's, or as a series resonator's that looks the same."""

    f: Part
    r: Part | None
    q: Part | None
    swr: float


def has_antenna(review: Review) -> bool:
    """Whether a dip is deep enough to be an antenna's."""
    dips = review.main_plane.dips
    return bool(dips) and (dips[0].swr.value or ANTENNA_SWR) < ANTENNA_SWR


def find_main_dip(review: Review, *, at_feedpoint: bool, near_hz: float | None = None) -> Dip | None:
    """The deepest dip, or the deepest one that may be the same as one before."""
    plane = review.feedpoint if at_feedpoint else review.main_plane
    assert plane is not None
    for number, dip in enumerate(plane.dips):
        f_hz, swr = dip.f_hz.value, dip.swr.value
        if f_hz is None or swr is None or (near_hz and abs(log(f_hz / near_hz)) > SAME_DIP):
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
