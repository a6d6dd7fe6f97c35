"""From sweeps as they were reviewed to stories with weights: the scene is set, all causes are acted out on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sweepkit.analysis.delay import without_delay
from sweepkit.antennas.rungs import Rung, body_of_kind
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.box import BOXES
from sweepkit.diagnosis.acting.causes import shield_current
from sweepkit.diagnosis.acting.curve import without_noise
from sweepkit.diagnosis.acting.evidence import Judge
from sweepkit.diagnosis.acting.healthy import (
    UNEXPECTED,
    Condition,
    analyzer_covariance,
    list_conditions,
    widest_sigmas,
)
from sweepkit.diagnosis.acting.scene import Scene, scene_as_told, scene_with_baseline
from sweepkit.diagnosis.acting.slid import slide_off
from sweepkit.diagnosis.acting.stories import HEALTHY, OTHER, Told, list_stories, weigh_stories
from sweepkit.diagnosis.answer import End
from sweepkit.diagnosis.signatures import ELSE
from sweepkit.feedline.chain import LineChain
from sweepkit.kit import Analyzer
from sweepkit.kit.analyzer import rms_of
from sweepkit.reviews.view import View

# Enough for a dip, and twelve for each turn of a line's echo up to any feed line to 150 MHz; more only cost.
POINTS, PER_TURN = (40, 96), 12
LEAST_POINTS = 15  # fewer in common show no curve; common practice, no source
BARE_OFF = 0.01  # share of the reflection that a told line may be off by itself: internal structure of coax
EDGE = 1e-6
# Points that a cubic is fitted through, as many as leave behind no more than noise; on steps that are even.
WINDOWS, STILL_NOISE, EVEN = (31, 21, 13, 9, 7), 1.05, 0.01


@dataclass(frozen=True, eq=False)
class Acted:
    """Stories told on a scene, heaviest first."""

    scene: Scene
    conditions: tuple[Condition, ...]
    told: tuple[Told, ...]

    def nothing_wrong_on(self) -> dict[Rung, float]:
        """Belief that nothing is wrong, were it told which of the rungs weighed lies between."""
        rungs = dict.fromkeys(one.rung for one in self.conditions)
        weights = np.sum([one.by_rung for one in self.told], axis=0)
        sound = np.sum([one.by_rung for one in self.told if one.story.code == HEALTHY], axis=0)
        shares = sound / np.maximum(weights, 1e-300)
        return {rung: float(share) for rung, share in zip(rungs, shares, strict=True) if rung is not None}


def act_on_baseline(
    before: View,
    now: View,
    chain: LineChain | None,
    *,
    kind: str | None,
    rung: Rung | None,
    end: End,
    analyzer: Analyzer,
    odds: Mapping[str, float],
) -> Acted | None:
    """What befell a station between two sweeps from one place, with phase; ``None``: they share too few frequencies.

    ``chain`` is the line told, where they were measured at the radio; ``rung`` is ``None`` where nobody told,
    ``odds`` a factor of each cause.
    """
    stage = _set_stage(before, now, chain, kind=kind, rung=rung, end=end, analyzer=analyzer)
    return None if stage is None else _acted(*stage, kind, rung, odds)


def log_of_nothing_wrong(
    before: View, now: View, chain: LineChain | None, *, kind: str | None, rung: Rung, analyzer: Analyzer
) -> float | None:
    """Logarithm of the evidence that nothing but ``rung`` lies between; the rest as of :func:`act_on_baseline`."""
    stage = _set_stage(before, now, chain, kind=kind, rung=rung, end="antenna", analyzer=analyzer)
    if stage is None:
        return None
    scene, conditions = stage
    judge = Judge(scene.now, conditions, bands=scene.bands)
    return float(judge.fit(scene.healthy, np.zeros((1, 0))).by_rung[0])


def _set_stage(
    before: View,
    now: View,
    chain: LineChain | None,
    *,
    kind: str | None,
    rung: Rung | None,
    end: End,
    analyzer: Analyzer,
) -> tuple[Scene, list[Condition]] | None:
    """The station as the sweep before shows it, and what may lie between."""
    index = _shared(before, now)
    if index.size < LEAST_POINTS:
        return None
    f_hz, gamma_now = now.f_hz[index], now.gamma[index]
    gamma_before = _read_at(before, f_hz)
    body = body_of_kind(kind)
    scene = scene_with_baseline(
        f_hz,
        gamma_now,
        (before.f_hz, smoothed(before)),
        chain,
        end=end,
        reference_ohm=now.reference_ohm,
        sigmas=widest_sigmas(body, rung),
        parallel=body == "end-fed",
        box=BOXES.get(kind or ""),
    )
    conditions = list_conditions(
        f_hz,
        gamma_before,
        gamma_now - gamma_before,
        slide_off(scene),
        np.hypot(now.noise[index], np.interp(f_hz, before.f_hz, before.noise)),
        body=body,
        rung=rung,
        analyzer=analyzer,
    )
    return scene, conditions


def act_on_told_line(
    now: View, chain: LineChain, *, end: End, analyzer: Analyzer, odds: Mapping[str, float]
) -> Acted | None:
    """What is wrong with a bare line, from one sweep, what is told of the line and how it is meant to end."""
    index = _thinned(now, np.flatnonzero(now.trust > 0))
    if index.size < LEAST_POINTS:
        return None
    f_hz, gamma = now.f_hz[index], now.gamma[index]
    scene = scene_as_told(f_hz, gamma, chain, end=end, reference_ohm=now.reference_ohm)
    sizes = (analyzer.directivity, analyzer.tracking_size, analyzer.source_match)
    covariance = analyzer_covariance(f_hz, gamma, *map(rms_of, sizes))
    covariance = covariance + np.diag(now.noise[index] ** 2 + UNEXPECTED**2 + (BARE_OFF * np.abs(gamma)) ** 2)
    return _acted(scene, [Condition(1.0, scene.sigmas, covariance)], None, None, odds)


def taken_for_other(acted: Acted, *, two_qs: bool = False) -> Acted:
    """Where sweeps look like those of two antennas, what no cause explains is another antenna.

    ``two_qs``: by R and Q, which is more than what joins an antenna from outside does, coax or counterpoise.
    """
    left = (ELSE, *shield_current.CODES) if two_qs else (ELSE,)
    unexplained = sum(one.weight for one in acted.told if one.story.code in left)
    heaviest = next(k for k, one in enumerate(acted.told) if one.story.code == OTHER)
    added = {heaviest: acted.told[heaviest].weight + unexplained}
    told = [
        replace(one, weight=0.0 if one.story.code in left else added.get(k, one.weight))
        for k, one in enumerate(acted.told)
    ]
    return replace(acted, told=tuple(sorted(told, key=lambda one: -one.weight)))


def _acted(
    scene: Scene,
    conditions: list[Condition],
    kind: str | None,
    rung: Rung | None,
    odds: Mapping[str, float],
) -> Acted:
    told = weigh_stories(scene, conditions, list(list_stories(scene, kind, rung=rung)), odds)
    return Acted(scene, tuple(conditions), tuple(told))


def mean_view(views: list[View]) -> View:
    """Sweeps of the same thing as one, on the frequencies of the first."""
    first = views[0]
    if len(views) == 1:
        return first
    gamma = np.mean([_read_at(view, first.f_hz) for view in views], axis=0)
    return replace(first, gamma=gamma, noise=first.noise / np.sqrt(len(views)))


def smoothed(view: View) -> ComplexArray:
    """The curve without as much of its noise as leaves its shape alone; its slope is what a slide along it needs."""
    steps = np.diff(view.f_hz)
    if steps.max() > (1 + EVEN) * steps.min():
        return view.gamma
    noise = float(np.quantile(view.noise, 0.5))
    for window in WINDOWS:
        if window > view.f_hz.size / 3:
            continue
        smooth = without_noise(view.turned, window)
        if np.sqrt(np.mean(np.abs(view.turned - smooth) ** 2)) < STILL_NOISE * noise:
            return without_delay(view.f_hz, smooth, -view.delay_s)
    return view.gamma


def _shared(before: View, now: View) -> NDArray[np.intp]:
    """Points of the sweep now that the one before covers and that both trust."""
    inside = (
        (now.f_hz >= before.f_hz[0] * (1 - EDGE))
        & (now.f_hz <= before.f_hz[-1] * (1 + EDGE))
        & (now.trust > 0)
    )
    doubtful = before.f_hz[before.trust == 0]
    if doubtful.size:
        inside &= np.abs(now.f_hz[:, None] - doubtful).min(axis=1) > before.step_hz / 2
    if (
        np.count_nonzero(
            (before.f_hz >= now.f_hz[0] * (1 - EDGE)) & (before.f_hz <= now.f_hz[-1] * (1 + EDGE))
        )
        < LEAST_POINTS
    ):
        return np.zeros(0, dtype=np.intp)
    return _thinned(now, np.flatnonzero(inside))


def _thinned(now: View, index: NDArray[np.intp]) -> NDArray[np.intp]:
    """Half of them even in frequency, half where the curve runs on: in a sharp dip, which may be a fiftieth of it."""
    turns = 2 * abs(now.delay_s) * (now.f_hz[-1] - now.f_hz[0])
    most = int(np.clip(PER_TURN * turns, *POINTS))
    if index.size <= most:
        return index
    f_hz, gamma = now.f_hz[index], now.gamma[index]
    run = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(gamma)))])
    share = (f_hz - f_hz[0]) / np.ptp(f_hz) + run / max(run[-1], EDGE)
    wanted = np.linspace(0, share[-1], most)
    taken = np.minimum(share.searchsorted(wanted), index.size - 1)
    return np.asarray(index[np.unique(taken)])


def _read_at(view: View, f_hz: FloatArray) -> ComplexArray:
    """Reflection between points, along the curve without its delay."""
    turned = view.turned
    between = np.interp(f_hz, view.f_hz, turned.real) + 1j * np.interp(f_hz, view.f_hz, turned.imag)
    return without_delay(f_hz, between, -view.delay_s)
