"""What two sweeps of an unchanged station differ by, on each rung of the ladder and with each calibration.

Dip and R are those of the ladder (``antennas.rungs``). What a slide along frequency and a scale leave of the curve
is 0.003 rms of the reflection after putting up a wire again, 0.007 in one of ten (own wire models); the other rungs
in proportion, and the rest: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt
from typing import NamedTuple

import numpy as np

from sweepkit.antennas.rungs import LOW_RUNGS, Body, Rung, trade_sd
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.propagation import DB_PER_NEPER
from sweepkit.instrument import TURN_HZ
from sweepkit.kit import Analyzer
from sweepkit.kit.analyzer import rms_of

# Shape left of the reflection, delay and loss of the line, of two sweeps: rms, s, dB in the middle of the sweep.
LEFT: dict[Rung, tuple[float, float, float]] = {
    "swept-again": (0.0007, 0.02e-9, 0.002),
    "joined-anew": (0.0015, 0.1e-9, 0.02),
    "put-up-again": (0.005, 0.1e-9, 0.04),
    "another-site": (0.015, 0.1e-9, 0.04),
    "other-ground": (0.02, 0.1e-9, 0.04),
}
# How much of that one erection leaves, and how often: 0.003 in the middle and 0.007 in one of ten are a logarithm of
# sigma 0.66, which three sizes stand for (Gauss-Hermite: root of 3 sigma off the middle; 1, 4 and 1 of 6). Many an
# antenna comes up as it was.
SHAPE_MIDDLE, SHAPE_SIGMA = 0.003 / 0.005, 0.66
SIZES_ERECTED = tuple(
    (SHAPE_MIDDLE * exp(off * sqrt(3) * SHAPE_SIGMA), share)
    for off, share in ((-1, 1 / 6), (0, 4 / 6), (1, 1 / 6))
)
SHAPE_OF: dict[Body, float] = {"wire": 1.0, "whip": 1.5, "end-fed": 2.0}  # coax and radials are part of some
SHAPE_ALONG = 0.03  # of the frequency: how far along what is left stays alike; about half a dip's width
# At the feedpoint, joined or laid anew: contact [ohm], leads [nH], what lies near [pF]; common practice, no source.
JOINED: dict[Rung, tuple[float, float, float]] = {
    "swept-again": (0.02, 0.5, 0.05),
    "joined-anew": (0.3, 5.0, 0.3),
    "put-up-again": (0.5, 50.0, 2.0),
    "another-site": (1.0, 80.0, 4.0),
    "other-ground": (1.0, 80.0, 4.0),
}
# The slope of X is of the wire's own shape, R of all that is round it; common practice, no source
X_OF_R = 0.3
TURNS_HZ = (TURN_HZ, 6 * TURN_HZ, 60 * TURN_HZ)  # of an error: nobody knows how far along it stays alike
DRIFT = 0.001  # of one calibration between two sweeps
# Chance that the analyzer was calibrated anew in between, and of each rung where nobody tells.
ANEW: dict[Rung, float] = {"swept-again": 0.05, "joined-anew": 0.3, "put-up-again": 0.5}
ALWAYS_ANEW = 0.7
UNTOLD: dict[Rung, float] = {"swept-again": 0.3, "joined-anew": 0.4, "put-up-again": 0.3}
# An explanation may be off by so much of what it explains beside a slide, along the curve and from point to point.
OFF_ALONG, OFF_EACH = 0.06, 0.01
# What does not slide with the dip, of how a slide changes a sweep: lines are off by 1.4 % of their impedance, which is
# half as much of the reflection, connectors and analyzers by as much again.
SLID_ALONG, SLID_EACH = 0.015, 0.005
# The dips of a wire do not all slide alike: heights, soil, coax and counterpoise move each by its own, and the box that
# stays where it is takes 2 to 9 % of what a length does at some of them. How far along the logarithm of frequency they
# stay together, and what share of a slide, and of what else explains one band, is off in another: common practice, no
# source.
ONE_BAND = 0.35  # of that logarithm: what is swept round a dip; our choice
TOGETHER, APART = 0.5, 0.15
UNEXPECTED = 0.0005  # rms that no line of this list holds [-]


class Slid(NamedTuple):
    """How far the sweep now has slid from the good one, and what no slide explains."""

    left: ComplexArray  # shape (n,)
    slide: float  # logarithm of frequency
    per_slide: ComplexArray  # how the sweep answers to more of it, shape (n,)


@dataclass(frozen=True, eq=False)
class Condition:
    """One way of what may lie between two sweeps."""

    chance: float  # before anything is seen
    # of the healthy ways: slide, R, slope of X, delay [ns], loss [dB], contact [ohm], leads [nH] and capacitance [pF]
    # at the feedpoint; of a wire fed at its end R of its counterpoise in the place of that slope, the slope of B last
    sigmas: FloatArray
    covariance: ComplexArray  # of all else, shape (n, n)
    rung: Rung | None = None  # which lies between; None where there is no ladder


def healthy_sigmas(body: Body, rung: Rung) -> FloatArray:
    """Of all healthy ways between two sweeps, in the order of :class:`Condition`."""
    f, r = (sqrt(2) * (trade_sd(name, body, rung) or 0.0) for name in ("dip_hz", "r_ohm"))
    _, delay_s, loss_db = LEFT[rung]
    last = (1e9 * delay_s, loss_db, *JOINED[rung])
    return np.array([f, r, r, *last, X_OF_R * r] if body == "end-fed" else [f, r, X_OF_R * r, *last])


def widest_sigmas(body: Body, rung: Rung | None) -> FloatArray:
    """Of all rungs that may lie between (``None``: any)."""
    return np.asarray(np.max([healthy_sigmas(body, each) for each in chances_of(rung)], axis=0))


def chances_of(rung: Rung | None) -> dict[Rung, float]:
    """Of what may lie between, by what was told."""
    return UNTOLD if rung is None else {rung: 1.0}


def list_conditions(
    f_hz: FloatArray,
    gamma: ComplexArray,
    difference: ComplexArray,
    slid: Slid,
    noise: FloatArray,
    *,
    body: Body,
    rung: Rung | None,
    analyzer: Analyzer,
) -> list[Condition]:
    """What may lie between two sweeps, each rung (``None``: any) with the same calibration and with a new one.

    ``gamma`` is the sweep before, ``difference`` how the one now differs and ``slid`` what a slide explains of that,
    ``noise`` the rms of its noise.
    """
    alike = np.exp(-((np.subtract.outer(np.log(f_hz), np.log(f_hz)) / SHAPE_ALONG) ** 2) / 2)
    base = np.diag(noise**2 + UNEXPECTED**2).astype(np.complex128)
    for off, along, at_point in ((slid.left, OFF_ALONG, OFF_EACH), (difference, SLID_ALONG, SLID_EACH)):
        base += along**2 * alike * np.outer(off, off.conj()) + np.diag((at_point * np.abs(off)) ** 2)
    bands = _bands(f_hz, slid.per_slide)
    base += APART**2 * bands * np.outer(slid.left, slid.left.conj())
    apart, own = bands * np.outer(slid.per_slide, slid.per_slide.conj()), APART * slid.slide
    found = []
    for each, chance in chances_of(rung).items():
        shape, sigmas = LEFT[each][0] * SHAPE_OF[body], healthy_sigmas(body, each)
        known = base + (own**2 + sigmas[0] ** 2) * apart
        anew = ANEW.get(each, ALWAYS_ANEW)
        kinds = [(1 - anew, (DRIFT, DRIFT, DRIFT), TURNS_HZ[1])]
        kinds += [(anew / len(TURNS_HZ), _of_two(analyzer), turn_hz) for turn_hz in TURNS_HZ]
        for share, sizes, turn_hz in kinds:
            covariance = known + analyzer_covariance(f_hz, gamma, *sizes, turn_hz=turn_hz)
            found += [
                Condition(chance * share * often, sigmas, covariance + (size * shape) ** 2 * alike, each)
                for size, often in (((1.0, 1.0),) if each in LOW_RUNGS else SIZES_ERECTED)
            ]
    return found


def _bands(f_hz: FloatArray, answers: ComplexArray) -> FloatArray:
    """Covariance of what differs by one from band to band, not in the one where the sweep ``answers`` most, (n, n)."""
    x = np.log(f_hz / f_hz[int(np.argmax(np.abs(answers)))])
    beyond = np.sign(x) * np.maximum(np.abs(x) - ONE_BAND / 2, 0.0)
    together = np.exp(-((np.subtract.outer(beyond, beyond) / TOGETHER) ** 2) / 2)
    home = np.exp(-((beyond / TOGETHER) ** 2) / 2)
    return np.asarray(together - np.outer(home, home))


def analyzer_covariance(
    f_hz: FloatArray,
    gamma: ComplexArray,
    directivity: float,
    tracking: float,
    source_match: float,
    *,
    turn_hz: float = TURN_HZ,
) -> ComplexArray:
    """Of errors of an analyzer, by their rms sizes, that drift slowly along the sweep, shape (n, n).

    ``turn_hz``: how far along frequency they stay alike.
    """
    along = np.exp(-((np.subtract.outer(f_hz, f_hz) / turn_hz) ** 2) / 2)
    tracked, matched = np.outer(gamma, gamma.conj()), np.outer(gamma**2, (gamma**2).conj())
    return np.asarray(along * (directivity**2 + tracking**2 * tracked + source_match**2 * matched))


def _of_two(analyzer: Analyzer) -> tuple[float, float, float]:
    sizes = (analyzer.directivity, analyzer.tracking_size, analyzer.source_match)
    directivity, tracking, source_match = (sqrt(2) * rms_of(size) for size in sizes)
    return directivity, tracking, source_match


def loss_slope(f_hz: FloatArray) -> FloatArray:
    """What a decibel of loss, one way in the middle of the sweep, does to the logarithm of a reflection. [-]"""
    return np.asarray(-2 / DB_PER_NEPER * np.sqrt(f_hz / f_hz.mean()))
