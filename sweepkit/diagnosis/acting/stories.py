"""All stories of a scene, healthy among them, and how the sweep weighs them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.causes.broken import broken_lines
from sweepkit.diagnosis.acting.causes.joint import joints
from sweepkit.diagnosis.acting.causes.leg_off import legs_off
from sweepkit.diagnosis.acting.causes.lossy import lossy_lines
from sweepkit.diagnosis.acting.causes.measured_wrong import measurement_faults
from sweepkit.diagnosis.acting.causes.near_wire import things_near
from sweepkit.diagnosis.acting.causes.other_piece import other_pieces
from sweepkit.diagnosis.acting.causes.shield_current import BEHIND, shield_currents
from sweepkit.diagnosis.acting.causes.shifted import shifted_antennas
from sweepkit.diagnosis.acting.evidence import Fitted, Judge
from sweepkit.diagnosis.acting.healthy import Condition
from sweepkit.diagnosis.acting.priors import log_of_sum
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story, predictor
from sweepkit.diagnosis.signatures import ELSE, signatures_of

HEALTHY = "nothing-wrong"
# What is told of one cause by a table that is rough, read by an analyzer that is not independent from point to
# point: evidence counts for less than the formulas say. Set beforehand; docs/diagnose.md shows what weights mean.
TEMPER = 3.0
HEALTHY_SHARE = 0.5  # of all that is met before anything is seen; common practice, no source
OTHER = "other-antenna"
# What nobody thought of, and another antenna: how often, rms of the reflection, how far along it stays alike.
ELSE_CHANCE, ELSE_SIZES = 0.06, ((0.02, 0.04), (0.1, 0.06))
OTHER_CHANCE, OTHER_SIZES = 0.03, ((0.5, 0.03), (0.5, 0.1))


@dataclass(frozen=True, eq=False)
class Told:
    """A story told to its end: what it weighs, and its best guess."""

    story: Story
    weight: float
    fitted: Fitted


def list_stories(scene: Scene, kind: str | None) -> Iterator[Story]:
    """What may have befallen a station, as often as it is met."""
    common: dict[str, float] = {}
    for row in signatures_of(kind):
        common[row.code] = common.get(row.code, 0.0) + row.common
    yield from joints(scene, chance=common["loose-joint"])
    yield from other_pieces(scene, chance=common["wrong-impedance-piece"])
    yield from lossy_lines(scene, chance=common["line-loss"])
    yield from broken_lines(scene, open_chance=common["open-line"], short_chance=common["shorted-line"])
    if scene.end != "antenna":
        yield from measurement_faults(
            plane=common["wrong-plane"], calibration=common["poor-calibration"], hidden=0.0
        )
        return
    yield from measurement_faults(
        plane=common["wrong-plane"], calibration=common["poor-calibration"], hidden=0.2
    )
    yield _as_healthy("interference", common["interference"])  # its points are left out before
    yield from shifted_antennas(kind)
    yield from things_near(common)
    yield from legs_off(kind, chance=common.get("leg-off", 0.0))
    yield from shield_currents(
        kind,
        chance=common.get("common-mode", 0.0),
        counterpoise_chance=common.get("no-counterpoise", 0.0) if kind in (*BEHIND, None) else 0.0,
    )


def _as_healthy(code: str, chance: float) -> Story:
    return Story(code, chance, np.zeros((1, 0)), _healthy, lambda s, u: "")


def _healthy(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    return scene.healthy(h)


def weigh_stories(
    scene: Scene, conditions: Sequence[Condition], stories: Sequence[Story], odds: Mapping[str, float]
) -> list[Told]:
    """Every story with its weight, heaviest first; weights add to 1.

    ``odds``: factor of each cause, and of :data:`HEALTHY`, from what else is known.
    """
    judge = Judge(scene.now, conditions)
    own = [story for story in stories if story.chance > 0]
    total = sum(story.chance for story in own)
    healthy_chance = total * HEALTHY_SHARE / (1 - HEALTHY_SHARE)
    healthy = _as_healthy(HEALTHY, healthy_chance)
    fitted = _fitted(scene, judge, healthy, own)
    for code, chance, sizes in ((ELSE, ELSE_CHANCE, ELSE_SIZES), (OTHER, OTHER_CHANCE, OTHER_SIZES)):
        if code == ELSE or scene.end == "antenna":
            fitted.append(_anything(scene, judge, fitted[0][1], code, chance * total, sizes))
    logs = np.array(
        [
            one.log_evidence / TEMPER + np.log(max(story.chance * odds.get(story.code, 1.0), 1e-12))
            for story, one in fitted
        ]
    )
    weights = np.exp(logs - log_of_sum(logs))
    weights /= weights.sum()
    told = [Told(story, float(w), one) for (story, one), w in zip(fitted, weights, strict=True)]
    return sorted(told, key=lambda one: -one.weight)


def _fitted(scene: Scene, judge: Judge, healthy: Story, own: Sequence[Story]) -> list[tuple[Story, Fitted]]:
    """Every story, healthy first; those that begin nearest go first, so that hopeless ones are given up early."""
    sound = judge.fit(predictor(scene, healthy), healthy.starts)
    begun = []
    found = [(healthy, sound)]
    for story in own:
        if story.act is healthy.act:
            found.append((story, sound))
            continue
        predict = predictor(scene, story)
        begun.append((story, predict, *judge.begin(predict, story.starts)))
    for story, predict, starts, _ in sorted(begun, key=lambda one: one[3]):
        found.append((story, judge.climb_from(predict, starts)))
    return found


def _anything(
    scene: Scene,
    judge: Judge,
    healthy: Fitted,
    code: str,
    chance: float,
    sizes: Sequence[tuple[float, float]],
) -> tuple[Story, Fitted]:
    """A smooth change of some size that nobody thought of."""
    peak = healthy.peaks[0]
    apart = np.subtract.outer(np.log(scene.f_hz), np.log(scene.f_hz))
    logs = [
        judge.log_probability(peak.left, size**2 * np.exp(-((apart / along) ** 2) / 2), peak.slopes)
        for size, along in sizes
    ]
    evidence = float(log_of_sum(logs)) - np.log(len(sizes))
    return _as_healthy(code, chance), Fitted(evidence, healthy.peaks, healthy.shares, healthy.spreads, 1.0)
