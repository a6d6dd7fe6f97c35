"""All stories of a scene, healthy among them, and how the sweep weighs them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sweepkit.antennas.rungs import Rung
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.causes import another, joint, lossy, other_piece
from sweepkit.diagnosis.acting.causes.broken import broken_lines
from sweepkit.diagnosis.acting.causes.leg_off import legs_off
from sweepkit.diagnosis.acting.causes.measured_wrong import measurement_faults
from sweepkit.diagnosis.acting.causes.near_wire import things_near
from sweepkit.diagnosis.acting.causes.shield_current import shield_currents
from sweepkit.diagnosis.acting.causes.shifted import shifted_antennas
from sweepkit.diagnosis.acting.causes.soil import other_soils
from sweepkit.diagnosis.acting.evidence import TEMPER, Fitted, Judge
from sweepkit.diagnosis.acting.healthy import Condition
from sweepkit.diagnosis.acting.priors import log_of_sum
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.starts import Starts
from sweepkit.diagnosis.acting.story import Story, predictor
from sweepkit.diagnosis.signatures import ELSE, signatures_of

HEALTHY = "nothing-wrong"
HEALTHY_SHARE = 0.5  # of all that is met before anything is seen; common practice, no source
OTHER = another.CODE
# Where a line plainly ends in an open or a short, it is not searched for what is wrong in a line that goes on, nor for
# what leaves an antenna its dip; where that is plainer than any smooth change, only what leaves no antenna lives on.
ENDS, WHOLE = ("open-line", "shorted-line"), (joint.CODE, other_piece.CODE, lossy.CODE)
DIP_KEPT = (
    *("radial-off", "radial-added", "wrong-tap", "length-changed", "hot-drift"),
    *("drier-soil", "wetter-soil", "wet-wire", "touching"),
)
WITHOUT_ANTENNA = ("leg-off", another.CODE)
SURE = 5.0  # nats, tempered: 150 to 1
# What an end leaves, in units of what is expected, and what nothing wrong leaves over that
PLAIN, GROSS = 2.0, 10.0
# What nobody thought of, and another antenna: how often, rms of the reflection, how far along it stays alike.
ELSE_CHANCE, ELSE_SIZES = 0.06, ((0.02, 0.04), (0.1, 0.06))
OTHER_OF_THE_BAND = 0.3  # how often it is a resonance like this one; the rest is any curve
OTHER_CHANCE, OTHER_SIZES = 0.02, ((0.5, 0.03), (0.5, 0.1))


@dataclass(frozen=True, eq=False)
class Told:
    """A story told to its end: what it weighs, and its best guess."""

    story: Story
    weight: float
    fitted: Fitted
    by_rung: FloatArray  # what it weighs together with each rung that may lie between


def list_stories(scene: Scene, kind: str | None, *, rung: Rung | None = None) -> Iterator[Story]:
    """What may have befallen a station, as often as it is met; ``rung``: what lies between, where told."""
    common: dict[str, float] = {}
    for row in signatures_of(kind):
        common[row.code] = common.get(row.code, 0.0) + row.common
    yield from joint.joints(scene, chance=common["loose-joint"])
    yield from other_piece.other_pieces(scene, chance=common["wrong-impedance-piece"])
    yield from lossy.lossy_lines(scene, chance=common["line-loss"])
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
    yield from _each_once([*shifted_antennas(kind)], [*shield_currents(kind, common)])
    yield from another.another_antenna(chance=OTHER_OF_THE_BAND)
    yield from other_soils(kind, common, rung=rung)
    yield from things_near(common)
    yield from legs_off(kind, chance=common.get("leg-off", 0.0))


def _each_once(rows: Sequence[Story], physics: Sequence[Story]) -> Iterator[Story]:
    """What both a row of the table and physics act out is met no more often for that: each has half."""
    both = {story.code for story in rows} & {story.code for story in physics}
    for story in (*rows, *physics):
        yield replace(story, chance=story.chance / 2) if story.code in both else story


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
    judge = Judge(scene.now, conditions, bands=scene.bands)
    own = [story for story in stories if story.chance > 0]
    total = sum(story.chance for story in own)
    healthy_chance = total * HEALTHY_SHARE / (1 - HEALTHY_SHARE)
    fitted = _fitted(scene, judge, _as_healthy(HEALTHY, healthy_chance), own, total)
    logs = np.array(
        [
            one.by_rung / TEMPER + np.log(max(story.chance * odds.get(story.code, 1.0), 1e-12))
            for story, one in fitted
        ]
    )
    logs += np.log(judge.rung_chances)
    weights = np.exp(logs - log_of_sum(logs.ravel()))
    weights /= weights.sum()
    told = [Told(story, float(w.sum()), one, w) for (story, one), w in zip(fitted, weights, strict=True)]
    return sorted(told, key=lambda one: -one.weight)


def _fitted(
    scene: Scene, judge: Judge, healthy: Story, own: Sequence[Story], total: float
) -> list[tuple[Story, Fitted]]:
    """Every story that may hold, healthy first; ``total``: how often any of ``own`` is met."""
    sound = judge.fit(predictor(scene, healthy), healthy.starts)
    found = [(healthy, sound), *((story, sound) for story in own if story.act is healthy.act)]
    anything = [_anything(scene, judge, sound, ELSE, ELSE_CHANCE * total, ELSE_SIZES)]
    if scene.end == "antenna":
        anything.append(_anything(scene, judge, sound, OTHER, OTHER_CHANCE * total, OTHER_SIZES))
    rest = [story for story in own if story.act is not healthy.act]
    every = scene.every()
    rough = scene.thinned(every)
    starts = Starts(scene.now, judge.conditions, every=every, bands=scene.bands, healthy=sound.peaks[0].theta)
    ends = _climbed(scene, rough, judge, starts, [story for story in rest if story.code in ENDS])
    others = [story for story in rest if story.code not in ENDS]
    if _ends_early(ends, sound):
        alone = _best_log(ends) > _best_log(anything) + SURE * TEMPER
        others = [story for story in others if _lives_beside_an_end(story.code, scene, alone=alone)]
    return [*found, *ends, *_climbed(scene, rough, judge, starts, others), *anything]


def _climbed(
    scene: Scene, rough: Scene, judge: Judge, starts: Starts, stories: Sequence[Story]
) -> list[tuple[Story, Fitted]]:
    """Those that begin nearest go first, so that hopeless ones are given up early; those of one act go together."""
    groups: dict[object, list[Story]] = {}
    for story in stories:
        groups.setdefault(story.act if story.kept else id(story), []).append(story)
    begun = []
    for group in groups.values():
        own = [story.guess(story.starts) for story in group]
        guesses = starts.begin(predictor(rough, group[0]), own, fixed=len(group[0].kept))
        begun.append((min(cost for _, cost in guesses), group, [one for one, _ in guesses]))
    found: list[tuple[Story, Fitted]] = []
    for _, group, own in sorted(begun, key=lambda one: one[0]):
        predict = predictor(scene, group[0])
        found += zip(group, judge.climb_each(predict, own, fixed=len(group[0].kept)), strict=True)
    return found


def _lives_beside_an_end(code: str, scene: Scene, *, alone: bool) -> bool:
    """Whether a cause may look like a line that ends; ``alone``: that explains it better than any smooth change."""
    if scene.end != "antenna":
        return code not in WHOLE
    return code in WITHOUT_ANTENNA if alone else code not in (*WHOLE, *DIP_KEPT)


def _best_log(stories: Sequence[tuple[Story, Fitted]]) -> float:
    """Logarithm of the evidence of the best of them, on whichever rung."""
    return max((float(fitted.by_rung.max()) for _, fitted in stories), default=-np.inf)


def _ends_early(ends: Sequence[tuple[Story, Fitted]], sound: Fitted) -> bool:
    """Whether an open or a short leaves next to nothing of a sweep that is far from the good one."""
    best = min((fitted.misfit for _, fitted in ends), default=np.inf)
    return bool(best < PLAIN and sound.misfit > GROSS * best)


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
    logs = [judge.with_added(peak, size**2 * np.exp(-((apart / along) ** 2) / 2)) for size, along in sizes]
    evidence = np.logaddexp.reduce(logs, axis=0) - np.log(len(sizes))
    return _as_healthy(code, chance), Fitted(evidence, healthy.peaks, healthy.shares, healthy.spreads, 1.0)
