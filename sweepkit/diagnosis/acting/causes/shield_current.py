"""Current on the outside of the coax, which is then a part of the antenna.

Seen from the feedpoint the outside of the coax is a lossy wire against its surroundings, some hundred ohm, of the
length the coax happens to have: across a centre-fed antenna, where only a part of the voltage drives it, and in
series with an end-fed one (behind a transformer of 49 to 1 unless told). There a counterpoise stands beside it: where
that is off the coax is left alone, and where one was added it no longer is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import even, even_in_log, grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story, roughly
from sweepkit.diagnosis.acting.walk import Pair, across, in_series
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

WIRE_OHM = (200.0, 600.0)  # of a wire over ground: 60 ohm times a logarithm of height over radius
METRES = (1.5, 30.0)  # of the shield that joins in
# Attenuation over phase constant: it radiates and lies on the ground; common practice, no source.
LOSS_SHARE = (0.03, 0.4)
ON_A_LEG = 0.5  # share of the stories in which the shield was without a choke all along
DRIVEN = (0.01, 0.5)  # share of the admittance that the feedpoint sees
COUNTERPOISE_WAVES = (0.03, 0.10)
BEHIND_M = 30.0  # of shield and counterpoise at most; what swept well had a counterpoise's worth at least
TRANSFORMER = 49.0
LEFT_M = (0.1, 30.0)  # of the shield where a counterpoise is off: from a choke at the box to all of the coax
# Between wire and connector the box has capacitance across the connector and inductance in series: what a home-made
# transformer of 49 to 1 has, common practice, no source.
BOX_PF, BOX_UH = (20.0, 200.0), (0.02, 0.3)
# What the wire itself does, driven against something else: frequency, R; one sigma of wire models with coax and
# counterpoise of all lengths (data/signatures.csv has their whole range).
WIRE_ITSELF = (0.02, 0.2)
# Coax is no even line against its surroundings and couples to the antenna beside the feedpoint too: what it does may
# be off by so much of itself; common practice, no source.
ROUGH, OFF = 0.3, (1, 1, 1, 1)
LEGS_THEMSELVES = (0.005, 0.1)  # beside a coax that radiates the legs do too; common practice, no source
BEHIND = ("end-fed", "random-wire")
ADDED = "counterpoise-added"
# Of current on the coax: it joins beside a counterpoise that stays, as one that is added would; our choice
JOINS = 0.25
SAID = {
    "no-counterpoise": "{} alone, without the counterpoise beside it, explain the change",
    ADDED: "a counterpoise beside {}, which was alone, explains the change",
}

CODES = ("common-mode", *SAID)


def shield_currents(kind: str | None, common: Mapping[str, float]) -> Iterator[Story]:
    """Coax across the feedpoint (it moved), or alone behind a box, now or before: a counterpoise is off, or added."""
    if kind not in BEHIND:
        chance = common.get("common-mode", 0.0)
        yield Story("common-mode", ON_A_LEG * chance, grid(16, 2, 2, 1, 1, *OFF), ROUGHLY_ON_A_LEG, _say)
        for sign in (1.0, -1.0):
            share, starts = (1 - ON_A_LEG) / 2 * chance, grid(12, 1, 1, 3, *OFF)
            yield Story("common-mode", share, starts, ROUGHLY_ACROSS, _say, kept=(sign,))
    if kind in (*BEHIND, None):
        ways = [(code, code, common.get(code, 0.0)) for code in SAID]
        chance = common.get("common-mode", 0.0)
        ways += [("common-mode", "common-mode", (1 - JOINS) * chance), ("common-mode", ADDED, JOINS * chance)]
        for code, way, own in ways:

            def say(scene: Scene, u: FloatArray, *, way: str = way, code: str = code) -> str:
                return _say_behind(scene, u, way if way == code else "joins")

            if own:
                starts = grid(12, 2, 1, 4, 3, 1, 1, 1, *OFF)
                kept = float(way == "common-mode"), float(way == ADDED)
                yield Story(code, own, starts, ROUGHLY_IN_SERIES, say, kept=kept)


def _across(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    share = u[:, 4:5] * even_in_log(u[:, 3:4], *DRIVEN)
    y = share * scene.reference_ohm / _coax_ohm(scene, u)
    return scene.at_radio(scene.carry(across(scene.far_end(h), y), h, 0.0, scene.length_m), h)


def _on_a_leg(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    """The shield hangs on one leg: beside that half of the antenna stands the outside of the coax."""
    f, r = (size * u[:, k : k + 1] for k, size in enumerate(LEGS_THEMSELVES, start=3))
    voltage, current = scene.far_end(h, slide=f, r=r)
    half = voltage / current / 2
    z = half + 1 / (1 / half + scene.reference_ohm / _coax_ohm(scene, u))
    return scene.at_radio(scene.carry((z, np.ones_like(z)), h, 0.0, scene.length_m), h)


def _in_series(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    # coax lies elsewhere; else the counterpoise beside it comes or goes
    moved, is_added = u[:, 8:9] > 0, u[:, 9:10] > 0
    left_m = np.where(moved, _behind_m(scene, u[:, 0:1]), even_in_log(u[:, 0:1], *LEFT_M))
    wave_m = SPEED_OF_LIGHT_M_S / scene.home_hz
    other_m = np.where(moved, _behind_m(scene, u[:, 3:4]), even(u[:, 3:4], *COUNTERPOISE_WAVES) * wave_m)
    now, other = _wire_ohm(scene, left_m, u), _wire_ohm(scene, other_m, u)
    before = np.where(moved, other, 1 / (1 / now + 1 / other))
    now, before = np.where(is_added, before, now), np.where(is_added, now, before)
    z = (now - before) / TRANSFORMER / scene.reference_ohm
    f, r = (size * u[:, k : k + 1] for k, size in enumerate(WIRE_ITSELF, start=4))
    inside = in_series(unboxed(scene, scene.far_end(h, slide=f, r=r), u[:, 6:8]), z)
    pair = boxed(scene, inside, u[:, 6:8])
    return scene.at_radio(scene.carry(pair, h, 0.0, scene.length_m), h)


ROUGHLY_ON_A_LEG = roughly(_on_a_leg, ROUGH)
ROUGHLY_ACROSS, ROUGHLY_IN_SERIES = roughly(_across, ROUGH, fixed=1), roughly(_in_series, ROUGH, fixed=2)


def unboxed(scene: Scene, pair: Pair, u: FloatArray) -> Pair:
    """What is behind the box, seen at its connector's impedance level; ``u`` are its capacitance and inductance."""
    y, z = _box(scene, u)
    return in_series(across(pair, -y), -z)


def boxed(scene: Scene, pair: Pair, u: FloatArray) -> Pair:
    """The other way round."""
    y, z = _box(scene, u)
    return across(in_series(pair, z), y)


def _box(scene: Scene, u: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    omega = 2 * np.pi * scene.f_hz
    y = 1e-12j * omega * even_in_log(u[:, 0:1], *BOX_PF) * scene.reference_ohm
    z = 1e-6j * omega * even_in_log(u[:, 1:2], *BOX_UH) / scene.reference_ohm
    return np.asarray(y), np.asarray(z)


def counterpoise_ohm(scene: Scene, u: FloatArray) -> ComplexArray:
    """Behind the transformer; ``u``: its length, its wave impedance and its loss."""
    metres = even(u[:, 0:1], *COUNTERPOISE_WAVES) * SPEED_OF_LIGHT_M_S / scene.home_hz
    return _wire_ohm(scene, metres, u) / TRANSFORMER


def _coax_ohm(scene: Scene, u: FloatArray) -> ComplexArray:
    """Of the outside of the coax: its length, its wave impedance and its loss are the first three parameters."""
    return _wire_ohm(scene, even_in_log(u[:, 0:1], *METRES), u)


def _wire_ohm(scene: Scene, metres: FloatArray, u: FloatArray) -> ComplexArray:
    phase = 2 * np.pi * scene.f_hz / SPEED_OF_LIGHT_M_S * metres
    lossy = even_in_log(u[:, 2:3], *LOSS_SHARE)
    return np.asarray(even(u[:, 1:2], *WIRE_OHM) / np.tanh((lossy + 1j) * phase))


def _behind_m(scene: Scene, u: FloatArray) -> FloatArray:
    wave_m = SPEED_OF_LIGHT_M_S / scene.home_hz
    return even_in_log(u, COUNTERPOISE_WAVES[0] * wave_m, BEHIND_M)


def _say_behind(scene: Scene, u: FloatArray, code: str) -> str:
    if code == "common-mode":
        before, now = _behind_m(scene, u[[3, 0]])
        return f"the outside of about {now:.1f} m of coax where {before:.1f} m were explains the change"
    metres = even_in_log(u[0:1], *LEFT_M)[0]
    if code == "joins":
        return f"{metres:.1f} m of the outside of the coax, now beside the counterpoise, explain the change"
    return SAID[code].format(f"{metres:.1f} m of the outside of the coax")


def _say(scene: Scene, u: FloatArray) -> str:
    metres = even_in_log(u[0:1], *METRES)[0]
    return f"the outside of about {metres:.0f} m of coax, now part of the antenna, explains the change"
