"""A poor joint: resistance in series where two pieces meet, or water that leaks across a connector.

Contact resistance from what a worn pair may have (1 ohm, ``feedline.chain.JOINT_OHM``) to a contact that hardly
touches; a film of water across a connector: some hundred ohm to some kiloohm, a few picofarad. Where there was no
joint before, a pair of connectors adds its own few centimetres. Sizes: common practice, no source.

What a joint does is seen from its own place, and that is known as well as the line is: one that is a per cent longer
than told turns what 15 ohm at its far end do by some hundredths. A good sweep is therefore taken back along the line as
it may really be, and forth along the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.diagnosis.acting.priors import even, even_in_log, grid, normal_at
from sweepkit.diagnosis.acting.scene import Scene
from sweepkit.diagnosis.acting.story import Act, Place, Story
from sweepkit.diagnosis.acting.walk import Pair, across, in_series, through
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, frequency_text

CODE = "loose-joint"
SERIES_OHM = (0.7, 150.0)
PAIR_M, PAIR_OHM, PAIR_VELOCITY = (0.0, 0.08), (30.0, 80.0), 0.7  # plugs for HF are no 50 ohm
LEAK_OHM, LEAK_PF = (40.0, 3000.0), (1.0, 40.0)
# Shares of what is met; water gets in at connectors first: common practice, no source.
CONTACT, LEAK, LETS_GO = 0.45, 0.3, 0.25
# Of them at connectors of the line told, and of these at the antenna, where rain and wind are; the others are at the
# radio and between pieces, alike. The rest is anywhere: a piece may be made of two. Common practice, no source.
AT_CONNECTORS, AT_ANTENNA = 0.6, 0.5
JUMP = 0.15  # of the reflection where a contact lets go in mid-sweep, each part
JUMPS = 6  # places looked at


Put = Callable[[Scene, Pair, FloatArray], Pair]  # scene, pair at the joint and what it leaves open


def joints(scene: Scene, *, chance: float) -> Iterator[Story]:
    """Stories of a joint anywhere along the line and at its connectors, or where it was swept if no line was told."""
    connectors = _connectors(scene)
    share = AT_CONNECTORS if connectors else 0.0
    ways = ((CONTACT, (5, 1, 1), _contact, _say_contact), (LEAK, (4, 2, 1, 1), _leak, _say_leak))
    off = (1, 1) if scene.is_line_unsure else ()
    for often, own, put, say in ways:
        starts = grid(scene.places(), *own, *off)
        yield Story(CODE, (1 - share) * often * chance, starts, _anywhere(put), _say_at(say, 1), _place_m)
        act, starts = _at_connector(put), grid(*own, *off)
        for at_m, part in connectors:
            met = share * part * often * chance
            yield Story(CODE, met, starts, act, _say_at(say, 0), _always(at_m), kept=(at_m,))
    yield _lets_go(scene, LETS_GO * chance)


def _connectors(scene: Scene) -> list[tuple[float, float]]:
    """Where the line told has connectors, and the share of each; at the end of a bare line they are beyond it."""
    if not scene.length_m:
        return []
    near_m = scene.walk.starts_m.tolist()
    if scene.end != "antenna":
        return [(at_m, 1 / len(near_m)) for at_m in near_m]
    return [*((at_m, (1 - AT_ANTENNA) / len(near_m)) for at_m in near_m), (scene.length_m, AT_ANTENNA)]


def _always(at_m: float) -> Place:
    return lambda scene, u: np.full(u.shape[0], at_m)


def _anywhere(put: Put) -> Act:
    return lambda scene, h, u: _acted(scene, h, _place_m(scene, u)[:, None], put, u[:, 1:])


def _at_connector(put: Put) -> Act:
    return lambda scene, h, u: _acted(scene, h, u[:, -1:], put, u[:, :-1])


def _acted(scene: Scene, h: FloatArray, at_m: FloatArray, put: Put, u: FloatArray) -> ComplexArray:
    """A joint at a place, of its own parameters; how the line may be off comes last."""
    if not scene.is_line_unsure:
        pair = put(scene, scene.carry(scene.far_end(h), h, at_m, scene.length_m), u)
        return scene.at_radio(scene.carry(pair, h, 0.0, at_m), h)
    turns, z_factor = scene.line_really(u[:, -2:])
    swept = scene.carry(scene.far_end(h), h, 0.0, scene.length_m)
    pair = put(scene, scene.walk.carry_back(swept, at_m, turns=turns, z_factor=z_factor), u)
    return scene.at_radio(scene.walk.carry(pair, 0.0, at_m, turns=turns, z_factor=z_factor), h)


def _contact(scene: Scene, pair: Pair, u: FloatArray) -> Pair:
    ohm = even_in_log(u[:, 0:1], *SERIES_OHM)
    return _through_pair(scene, in_series(pair, ohm / scene.reference_ohm), u[:, 1:3])


def _leak(scene: Scene, pair: Pair, u: FloatArray) -> Pair:
    farad = 1e-12 * even_in_log(u[:, 1:2], *LEAK_PF)
    y = 1 / even_in_log(u[:, 0:1], *LEAK_OHM) + 2j * np.pi * scene.f_hz * farad
    return _through_pair(scene, across(pair, y * scene.reference_ohm), u[:, 2:4])


def _largest_jumps(scene: Scene) -> FloatArray:
    """Where neighbouring points lie farther apart than the curve runs, and by how much."""
    width = np.diff(scene.f_hz)
    middle = scene.f_hz[:-1] + width / 2
    jumps = width[2:-2] * _aside(middle, np.diff(scene.now) / width)
    at = np.argsort(-np.abs(jumps))[:JUMPS]
    share = (middle[at + 2] - scene.f_hz[0]) / np.ptp(scene.f_hz)
    return np.stack([normal_at(share), jumps[at].real / JUMP, jumps[at].imag / JUMP], axis=1)


def _aside(x: FloatArray, y: ComplexArray) -> ComplexArray:
    """How far each value lies off the cubic through the two on either side of it, but for two at each end."""
    near = [(x[k : x.size - 4 + k], y[k : x.size - 4 + k]) for k in (0, 1, 3, 4)]
    at, off = x[2:-2], y[2:-2].copy()
    for k, (own, value) in enumerate(near):
        others = [other for other, _ in near[:k] + near[k + 1 :]]
        off -= value * np.prod([(at - other) / (own - other) for other in others], axis=0)
    return off


def _lets_go(scene: Scene, chance: float) -> Story:
    """A contact that lets go in mid-sweep; ``scene`` has all points, of which a rough guess sees some."""
    low_hz, high_hz = float(scene.f_hz[0]), float(scene.f_hz[-1])

    def act(scene: Scene, h: FloatArray, u: FloatArray) -> ComplexArray:
        after = scene.f_hz >= even(u[:, 0:1], low_hz, high_hz)
        return np.asarray(scene.healthy(h) + JUMP * (u[:, 1:2] + 1j * u[:, 2:3]) * after)

    def say(scene: Scene, u: FloatArray) -> str:
        at = frequency_text(float(even(u[:1], low_hz, high_hz)[0]))
        return f"the curve jumps by {JUMP * np.hypot(u[1], u[2]):.2f} near {at}, in mid-sweep"

    return Story(CODE, chance, _largest_jumps(scene), act, say)


def _through_pair(scene: Scene, pair: Pair, u: FloatArray) -> Pair:
    """A pair of connectors, a short piece of its own impedance."""
    phase = 2 * np.pi * scene.f_hz * even(u[:, 0:1], *PAIR_M) / (PAIR_VELOCITY * SPEED_OF_LIGHT_M_S)
    return through(pair, 1j * phase, even(u[:, 1:2], *PAIR_OHM) / scene.reference_ohm + 0j)


def _place_m(scene: Scene, u: FloatArray) -> FloatArray:
    return even(u[:, 0], 0.0, scene.length_m)


def _say_at(say: Callable[[float], str], first: int) -> Callable[[Scene, FloatArray], str]:
    return lambda scene, u: say(float(u[first]))


def _say_contact(u: float) -> str:
    ohm = even_in_log(np.array([u]), *SERIES_OHM)[0]
    return f"about {ohm:.2g} ohm in series there explain the change"


def _say_leak(u: float) -> str:
    ohm = even_in_log(np.array([u]), *LEAK_OHM)[0]
    return f"about {ohm:.2g} ohm across the line there explain the change, as water in a connector would"
