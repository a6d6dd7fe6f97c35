"""Other soil: the wire's image in it changes, and with it the impedance that the image adds to the wire's own.

An image a distance of two heights away adds a mutual impedance, so that other soil adds a resistance and a reactance
that turn with frequency by twice the height in waves (Kraus, Antennas, 1950, chapter 11, from memory). That is no
slide: the wire's own curve stays where it was. In wire models of our own they are up to 11 ohm and grow with frequency
to the power of 1.5 to 2. At the end of a half wave it is the admittance that it adds to, which lies behind the box and
in series with the counterpoise. Which way R and dip go turns with the height: low wires gain R and rise as soil dries,
an upright wire loses R, since the image of its current is in phase. A whip over radials answers as the table has it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import sqrt

import numpy as np

from sweepkit.antennas.rungs import LOW_RUNGS, Rung
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.causes.shield_current import BEHIND, boxed, counterpoise_ohm, unboxed
from sweepkit.diagnosis.acting.healthy import chances_of
from sweepkit.diagnosis.acting.priors import even_in_log, grid
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Story
from sweepkit.diagnosis.acting.walk import across, in_series

DRIER: Mapping[str, float] = {"drier-soil": 1.0, "wetter-soil": -1.0}
BY_TABLE = ("loaded-whip",)
# What drier soil adds, over 50 ohm, and how far that scatters: resistance, reactance. Of level wires half of what the
# table of the trade has for 3 and 7 m, the spread of own wire models 4 to 12 m high; of upright ones own wire models.
LEVEL, UPRIGHT = ((0.06, 0.12), (-0.05, 0.08)), ((-0.04, 0.06), (0.0, 0.04))
# Of frequency over the antenna's own, and how far it goes on: beyond that the image is waves away; our choice
POWER, MOST = 1.5, 1.2
TURNS = (1.0, 8.0)  # 4 pi h / wavelength: 0.08 to 0.6 wavelengths up
# Of the wire's end, behind the box, times 50 ohm: own wire models; dips rise by 0.15 % as soil dries, half the table's.
SUSCEPTANCE, ADMITTANCE = -0.02, 0.07
# Of all that: while the antenna stands rain and sun reach some decimetres, and a wave of some megahertz metres. The
# reflection of soil that is another class in its upper 20 cm differs by 0.27 to 0.51 of what a whole class does at 7
# MHz and by 0.47 to 0.64 at 14 MHz (layer on a half space, upright incidence; permittivity 5, 13 and 20, conductivity
# 2, 5 and 30 mS/m): the middle. How long it stood no rung tells.
OF_A_CLASS = 0.5
COUNTERPOISE = 0.01  # of what the counterpoise adds, behind the box, over 50 ohm; common practice, no source


def other_soils(
    kind: str | None, common: Mapping[str, float], *, rung: Rung | None = None
) -> Iterator[Story]:
    """A story of drier and one of wetter soil, for each way of feeding; ``rung``: what lies between, where told."""
    stood = sum(chance for each, chance in chances_of(rung).items() if each in LOW_RUNGS)
    size = sqrt(stood * OF_A_CLASS**2 + 1 - stood)
    for code, sign in DRIER.items():
        if code not in common or kind in BY_TABLE:
            continue
        chance = common[code] / (2 if kind is None else 1)
        if kind not in BEHIND:
            yield _under_wire(code, sign, UPRIGHT if kind == "vertical" else LEVEL, size, chance)
        if kind in (*BEHIND, None):
            yield _behind_box(code, sign, size, chance)


def _under_wire(
    code: str, sign: float, whole: tuple[tuple[float, float], ...], size: float, chance: float
) -> Story:
    adds = [(size * trend, size * spread) for trend, spread in whole]

    def say(scene: Scene, u: FloatArray) -> str:
        r, x = (50 * (sign * adds[k][0] + adds[k][1] * u[k]) for k in (0, 1))
        return f"{r:+.1f} ohm and {x:+.1f} ohm of reactance, as another image in the soil adds, explain the change"

    kept = (sign, *adds[0], *adds[1])
    return Story(code, chance, grid(5, 5, 1), _image, say, kept=kept)


def _image(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    sign, r, r_spread, x, x_spread = np.split(u[:, 3:], 5, axis=1)
    adds = sign * (r + 1j * x) + r_spread * u[:, 0:1] + 1j * x_spread * u[:, 1:2]
    pair = in_series(scene.far_end(h), adds * _turning(scene, u[:, 2:3]))
    return scene.at_radio(scene.carry(pair, h, 0.0, scene.length_m), h)


def _turning(scene: Scene, u: FloatArray) -> ComplexArray:
    """How what an image adds grows and turns along the sweep."""
    ratio = scene.f_hz / scene.home_hz
    return np.asarray(np.minimum(ratio, MOST) ** POWER * np.exp(-1j * even_in_log(u, *TURNS) * (ratio - 1)))


def _behind_box(code: str, sign: float, size: float, chance: float) -> Story:
    def say(scene: Scene, u: FloatArray) -> str:
        y_ms = 1e3 * size * _admittance(sign, u) / 50
        return (
            f"{y_ms.real:+.2f} and {y_ms.imag:+.2f} mS at the wire's end, as another image in the soil adds, "
            "explain the change"
        )

    return Story(code, chance, grid(3, 3, 1, 2, 1, 1, 1, 1, 1), _at_its_end, say, kept=(sign, size))


def _admittance(sign: FloatArray | float, u: FloatArray) -> ComplexArray:
    return np.asarray(ADMITTANCE * (u[..., 0] + 1j * u[..., 1]) + 1j * sign * SUSCEPTANCE)


def _at_its_end(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
    counterpoise, size = counterpoise_ohm(scene, u[:, 3:6]) / scene.reference_ohm, u[:, 10:11]
    y = size * _admittance(u[:, 9], u)[:, None] * _turning(scene, u[:, 2:3])
    wire = across(in_series(unboxed(scene, scene.far_end(h), u[:, 6:8]), -counterpoise), y)
    lossier = size * COUNTERPOISE * u[:, 8:9]
    pair = boxed(scene, in_series(wire, counterpoise + lossier), u[:, 6:8])
    return scene.at_radio(scene.carry(pair, h, 0.0, scene.length_m), h)
