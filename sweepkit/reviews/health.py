"""What is wrong with the sweep itself: bursts, steps, wrong turning, more than total reflection."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.quantile import quantile, quantiles
from sweepkit.analysis.trust import Stretch
from sweepkit.analysis.turning import total_turning_rad, total_turnings_rad
from sweepkit.conversions import FloatArray
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer
from sweepkit.kit.analyzer import UNTOLD_OUTER, rms_of
from sweepkit.quantities import frequency_text
from sweepkit.reviews.view import View

# Healthy curves turn the other way; where a line's turning and the antenna's cancel, a slow stretch of a narrow
# sweep may turn by up to about 1 rad (1 in 1000 of 6000 resonators behind 0 to 30 m of line by more than 0.7).
WRONG_TURN_RAD = 1.2
NOISY = 0.03  # noise that no analyzer has on a quiet antenna: ten times a common one [-]
LEAST_POINTS = 50  # in shorter ones what is too coarse looks like noise
COMMON_ERROR = 10 ** (-35 / 20)  # the worse end of handheld analyzers; common practice, no source [-]
ABOVE_IN_NOISE = 3.5  # 5 standard deviations of the part of the noise that adds to the magnitude
NOT_CALIBRATED = 10 ** (1.3 / 20)  # 1.3 dB: the most seen on uncalibrated sweeps (94 published files) [-]
SHOWN = 3  # stretches that are named


def find_faults(views: Sequence[View], analyzer: Analyzer) -> list[tuple[Finding, ...]]:
    """Findings about each of several sweeps on one grid, at the plane where they were measured."""
    sizes = np.abs(np.stack([view.gamma for view in views]))
    noise = np.stack([view.noise for view in views])
    trusted: NDArray[np.bool_] = np.stack([view.trust for view in views]) > 0
    lowest = np.take_along_axis(noise, np.argmin(sizes, axis=1)[:, np.newaxis], axis=1)[:, 0]
    usual = np.minimum(quantiles(noise, 0.5), lowest)
    limit = 1 + _most_error(analyzer) + ABOVE_IN_NOISE * noise
    above = np.asarray((trusted & (sizes > limit)).any(axis=1))
    return [
        _faults(view, above=one_above, noise=one_noise, turning_rad=turning_rad, limit=one_limit)
        for view, one_above, one_noise, turning_rad, one_limit in zip(
            views, above.tolist(), usual.tolist(), _turnings_rad(views, noise, trusted), limit, strict=True
        )
    ]


def _turnings_rad(views: Sequence[View], noise: FloatArray, trusted: NDArray[np.bool_]) -> list[float | None]:
    """How far the curves of sweeps on one grid turn anticlockwise; those that are believed all along side by side."""
    turnings: list[float | None] = [None] * len(views)
    is_whole = np.all(trusted, axis=1).tolist()
    signed = [k for k, view in enumerate(views) if view.phase == "signed"]
    whole = [k for k in signed if is_whole[k]]
    if whole:
        found = total_turnings_rad(np.stack([views[k].gamma for k in whole]), quantiles(noise[whole], 0.9))
        for k, turning in zip(whole, found, strict=True):
            turnings[k] = turning
    for k in signed:
        if not is_whole[k]:
            turnings[k] = total_turning_rad(views[k].gamma[trusted[k]], quantile(noise[k], 0.9))
    return turnings


def _faults(
    view: View, *, above: bool, noise: float, turning_rad: float | None, limit: FloatArray
) -> tuple[Finding, ...]:
    """Findings about one; ``above``: its reflection is beyond the ``limit`` somewhere."""
    turns_wrong = turning_rad is not None and turning_rad > WRONG_TURN_RAD
    if not (above or turns_wrong or view.stretches or view.jagged or noise > NOISY):
        return ()
    bursts = [stretch for stretch in view.stretches if stretch.kind == "burst"]
    steps = [stretch for stretch in view.stretches if stretch.kind == "step"]
    findings = []
    jagged = view.jagged or (noise > NOISY and view.f_hz.size >= LEAST_POINTS)
    if jagged:
        findings.append(_jagged(max([noise, *(stretch.size for stretch in view.stretches)])))
    elif bursts:
        findings.append(_burst(view, bursts))
    if steps and not jagged:
        findings.append(_step(view, steps))
    if not jagged and turns_wrong:
        findings.append(_wrong_turn())
    if above and not jagged:
        findings.append(_above_one(view, limit))
    return tuple(findings)


def _most_error(analyzer: Analyzer) -> float:
    """What the analyzer's errors may add to a reflection: those that are told in full, usual ones in squares. [-]"""
    told = [analyzer.tracking, None if analyzer.source_match_db is None else rms_of(analyzer.source_match)]
    usual = [rms_of(UNTOLD_OUTER) for size in told if size is None]
    return max(rms_of(analyzer.directivity), COMMON_ERROR) + sum(filter(None, told)) + math.hypot(*usual)


def _jagged(worst: float) -> Finding:
    return Finding(
        "jagged",
        "stop",
        f"neighbouring points differ by up to {worst:.2f} of the reflection all over the sweep; its figures "
        "mean nothing",
        "radio off and disconnected: sweep five times; if the five differ, look for a loose joint or a "
        "strong transmitter nearby, and try a check load on the same spot",
    )


def _burst(view: View, bursts: list[Stretch]) -> Finding:
    points = sum(stretch.points.size for stretch in bursts)
    worst = max(stretch.size for stretch in bursts)
    cluster = max(stretch.points.size for stretch in bursts)
    code = "interference" if cluster > 1 else "jagged"
    return Finding(
        code,
        "warning",
        f"{points} of {view.f_hz.size} points near {_places(view, bursts)} are off by up to {worst:.2f} of "
        "the reflection; they were left out of every fit",
        "radio off and disconnected: sweep again; if they come back on the same frequencies it is another "
        "station's signal, so sweep at another time; if elsewhere, wiggle each joint",
    )


def _step(view: View, steps: list[Stretch]) -> Finding:
    worst = max(stretch.size for stretch in steps)
    return Finding(
        "loose-joint",
        "warning",
        f"the curve jumps by {worst:.2f} of the reflection at {_places(view, steps)} and runs on smoothly: "
        "something changed during the sweep",
        "radio off and disconnected: sweep again with hands off; wiggle each joint in turn",
    )


def _wrong_turn() -> Finding:
    return Finding(
        "wrong-plane",
        "warning",
        "the curve turns anticlockwise, which no passive load does: the reference plane is set beyond the "
        "connector, or the sign of the phase is mirrored",
        "check the analyzer with a short at the end of its jumper: it must read -1 all over the sweep; take "
        "out any length entered by hand",
    )


def _above_one(view: View, limit: FloatArray) -> Finding:
    """More than total reflection at believed points, by more than the analyzer's errors and noise make."""
    size = np.where(view.trust > 0, np.abs(view.gamma), 0.0)
    above = size > limit
    at = int(np.argmax(size))
    return Finding(
        "reflection-above-one",
        "warning" if size[at] <= NOT_CALIBRATED else "stop",
        f"reflection is up to {20 * np.log10(size[at]):.2g} dB above total reflection (at "
        f"{frequency_text(float(view.f_hz[at]))}), beyond noise and the analyzer's errors at "
        f"{np.count_nonzero(above)} of {view.f_hz.size} points; no antenna does that",
        "radio off and disconnected: calibrate the analyzer with the same adapters and sweep again",
    )


def _places(view: View, stretches: list[Stretch]) -> str:
    """Where the largest of them lie."""
    largest = sorted(stretches, key=lambda stretch: -stretch.size)[:SHOWN]
    middles = sorted(float(view.f_hz[stretch.points].mean()) for stretch in largest)
    more = f" and {len(stretches) - SHOWN} other places" if len(stretches) > SHOWN else ""
    return ", ".join(frequency_text(f_hz) for f_hz in middles) + more
