"""Causes whose physics is a shift: the dip moves, R and Q change, as ``data/signatures.csv`` has it with sources."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.causes.soil import BY_TABLE, DRIER
from sweepkit.diagnosis.acting.priors import grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.diagnosis.signatures import Signature, signatures_of

SHIFTS = (
    "radial-off",
    "radial-added",
    "drier-soil",
    "wetter-soil",
    "wrong-tap",
    "length-changed",
    "no-counterpoise",
    "common-mode",
    "hot-drift",
)
# The slope of reactance, which is Q times R, is that of the wire and steady where only what is round it changes;
# radials bring a part of it, a coax that joins in its own. One sigma; own wire models, common practice where coax is.
SLOPE = 0.03
SLOPES = {
    "length-changed": 0.02,
    "drier-soil": 0.015,
    "wetter-soil": 0.015,
    "radial-off": 0.05,
    "radial-added": 0.05,
    "common-mode": 0.1,
    "no-counterpoise": 0.2,
}
# A base-loaded whip is a coil in series with a capacitance, its slope at resonance twice the reactance of either: with
# less coil it falls as the frequency rises, with a shorter whip or less under it, it rises: by 0.5 to 0.9 and by 1.1 to
# 1.4 of as much in wire models of our own, by -0.98 to -1 for the coil.
OF_WHIP = {"wrong-tap": -1.0, "radial-off": 1.25, "radial-added": 1.25, "length-changed": 0.75}
SLOPE_OF_WHIP = 0.015


def shifted_antennas(kind: str | None) -> Iterator[Story]:
    """A story for each row of the table that can befall the kind."""
    for row in signatures_of(kind):
        if row.code in SHIFTS and not (row.code in DRIER and kind not in BY_TABLE):
            yield _story(row, OF_WHIP.get(row.code) if kind == "loaded-whip" else None)


def _story(row: Signature, slope_of_slide: float | None) -> Story:
    """``slope_of_slide``: of a whip; where there is none the table has the slope."""
    slide, slide_spread = row.centre["f"] / 100, row.spread["f"] / 100
    rise, rise_spread = row.centre["r"] / 100, row.spread["r"] / 100
    slope = 0.0 if slope_of_slide else (row.centre["q"] + row.centre["r"]) / 100
    steeper = SLOPE_OF_WHIP if slope_of_slide else SLOPES.get(row.code, SLOPE)

    def say(scene: Scene, u: FloatArray) -> str:
        f, r = 100 * (slide + slide_spread * u[0]), 100 * (rise + rise_spread * u[1])
        usual = f"{100 * slide:+.1f} % give or take {100 * slide_spread:.1f}"
        return f"{row.variant}: frequency {f:+.2f} % (usual: {usual}), R {_sign(scene) * r:+.0f} % explain the change"

    kept = (slide, slide_spread, rise, rise_spread, slope, slope_of_slide or 0.0, steeper)
    return Story(row.code, row.common, grid(7, 1, 1), _act, say, kept=kept)


def _act(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    slide, slide_spread, rise, rise_spread, slope, slope_of_slide, steeper = np.split(u[:, 3:], 7, axis=1)
    f = slide + slide_spread * u[:, 0:1]
    x = slope + slope_of_slide * f + steeper * u[:, 2:3]
    pair = scene.far_end(h, slide=f, r=_sign(scene) * (rise + rise_spread * u[:, 1:2]), x=x)
    return scene.at_radio(scene.carry(pair, h, 0.0, scene.length_m), h)


def _sign(scene: Scene) -> float:
    """What is lost beside a wire is in series with its current: fed at its end it lowers R."""
    return -1.0 if scene.parallel else 1.0
