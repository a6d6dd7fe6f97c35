"""Make tests/data/models/wide_faults.npz: antennas swept over all bands, put up again, and with one thing wrong.

    python -m tests.models.make_wide_faults              # five minutes; needs the extra ``models``
    python -m tests.models.make_wide_faults 77 other.npz # other antennas of the same families

Each station is put up three times: every time its heights, its counterpoise and coax, the moisture of its soil and the
pull on its wire are a little different. A fault befalls the first or the second of them, in turn: ``radial-off`` or
``radial-off@again``. The table holds the reflection of the wires against 600 ohm, at 57 frequencies, in steps of
1/32000; coil and box are put in front afterwards, so that they neither slide nor move with the wire.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from tests.models import nec

TABLE = Path(__file__).resolve().parents[1] / "data" / "models" / "wide_faults.npz"
F_HZ = np.linspace(2.8e6, 31e6, 57)
WIRE_OHM = 600.0
STEP = 1 / 32000
SPEED_M_S = 299_792_458.0  # exact, SI
ERECTIONS = 3
Dice = np.random.Generator


@dataclass(frozen=True)
class Lay:
    """How it was put up this time: factors of heights, conductivity and length, height of what lies low, its bend."""

    height: float = 1.0
    moisture: float = 1.0
    pull: float = 1.0
    low_m: float = 0.15
    droop: float = 0.5


def draw_lay(dice: Dice) -> Lay:
    """Sizes of one operator at one place: common practice, no source."""
    return Lay(
        1 + 0.08 * float(np.clip(dice.standard_normal(), -2, 2)),
        float(np.exp(0.25 * dice.standard_normal())),
        1 + 0.0015 * dice.standard_normal(),
        dice.uniform(0.08, 0.4),
        dice.uniform(0.3, 1.0),
    )


Build = Callable[..., nec.Antenna]
Family = Callable[[Dice, float], tuple[Build, list[tuple[str, dict[str, float | str]]]]]


def _soil(name: str, lay: Lay, *, low: bool) -> nec.Soil:
    soil = nec.SOILS[name]
    return replace(
        soil, conductivity_s_m=soil.conductivity_s_m * lay.moisture, by_reflection=not low
    )  # wires up in the air need no integrals


def _other_soil(name: str) -> list[tuple[str, dict[str, float | str]]]:
    found: list[tuple[str, dict[str, float | str]]] = []
    if name != "wet":
        found.append(("wetter-soil", {"soil": "wet" if name == "average" else "average"}))
    if name != "dry":
        found.append(("drier-soil", {"soil": "dry" if name == "average" else "average"}))
    return found


def _end_fed(dice: Dice, f_hz: float, *, random: bool = False) -> tuple:
    wave_m = SPEED_M_S / f_hz
    wire_m = dice.uniform(9, 32) if random else 0.478 * wave_m * dice.uniform(0.97, 1.02)
    feed_m, soil = dice.uniform(1.0, 2.5), str(dice.choice(["dry", "average", "wet"]))
    far_m = feed_m + min(dice.uniform(3, 8), 0.7 * wire_m)
    counterpoise_m = dice.uniform(2, 7) if random else wave_m * dice.uniform(0.03, 0.06)
    shield_m = dice.uniform(3, 8) if dice.random() < 0.6 else 0.0

    def build(
        lay: Lay,
        share: float = 1.0,
        behind_m: float = counterpoise_m,
        coax_m: float = shield_m,
        soil: str = soil,
    ) -> nec.Antenna:
        up = feed_m * lay.height
        antenna = nec.end_fed(
            wire_m * share * lay.pull,
            feed_m=up,
            far_m=far_m * lay.height,
            counterpoise_m=behind_m,
            counterpoise_end_m=max(up - lay.droop * min(behind_m, up - 0.1) * 0.9, 0.1),
            soil=_soil(soil, lay, low=True),
            segments=max(31, round(wire_m * 1.8)),
            counterpoise_segments=max(3, round(behind_m * 1.8)),
        )
        return nec.with_shield(antenna, coax_m, low_m=lay.low_m) if coax_m else antenna

    faults = [
        ("length-changed", {"share": 1 + dice.choice([-1, 1]) * dice.uniform(0.015, 0.05)}),
        ("common-mode", {"coax_m": shield_m + dice.uniform(4, 10)}),
        *_other_soil(soil)[:1],
    ]
    if not random:
        faults.append(("no-counterpoise", {"behind_m": 0.25}))
    return build, faults


def _random_wire(dice: Dice, f_hz: float) -> tuple:
    return _end_fed(dice, f_hz, random=True)


def _dipole(dice: Dice, f_hz: float) -> tuple:
    leg_m, height_m = 0.2385 * SPEED_M_S / f_hz, dice.uniform(5, 12)
    soil, droop_deg = str(dice.choice(["dry", "average", "wet"])), float(dice.choice([0, 0, 15, 25]))
    height_m = max(height_m, 1.5 * leg_m * np.sin(np.radians(droop_deg)) + 1)
    branch_m, sap_s_m = dice.uniform(0.5, 1.5), float(np.exp(dice.uniform(*np.log((0.02, 0.5)))))

    def build(lay: Lay, share: float = 1.0, soil: str = soil, what: str = "") -> nec.Antenna:
        antenna = nec.inverted_vee(
            leg_m * share * lay.pull,
            apex_m=height_m * lay.height,
            droop_deg=droop_deg * (0.7 + 0.6 * lay.droop / 0.65 * 0.5),
            soil=_soil(soil, lay, low=what == "coax"),
            segments=max(15, round(leg_m * 1.8)),
        )
        if what == "leg":
            return replace(antenna, wires=(antenna.wires[0], antenna.wires[2]))
        if what == "coax":
            return nec.with_shield(antenna, height_m + 3.0, low_m=lay.low_m)
        if what == "branch":
            tip = antenna.wires[1].end
            branch = nec.Wire(tip, (tip[0], tip[1], tip[2] - min(branch_m, 0.6 * tip[2])), 5, 6e-3)
            return replace(antenna, wires=(*antenna.wires, branch), poor=(3, sap_s_m))
        return antenna

    return build, [
        ("length-changed", {"share": 1 + dice.choice([-1, 1]) * dice.uniform(0.015, 0.04)}),
        ("leg-off", {"what": "leg"}),
        ("touching:branch", {"what": "branch"}),
        ("common-mode", {"what": "coax"}),
        *_other_soil(soil)[:1],
    ]


def _fan(dice: Dice, f_hz: float) -> tuple:
    """Two dipoles at one feedpoint, the shorter one hanging below."""
    longer, height_m = 0.242 * SPEED_M_S / f_hz, dice.uniform(6, 11)
    shorter, soil = longer * dice.uniform(0.36, 0.7), str(dice.choice(["dry", "average", "wet"]))

    def build(lay: Lay, share: float = 1.0, legs: float = 4) -> nec.Antenna:
        up = height_m * lay.height
        antenna = nec.inverted_vee(
            longer * share * lay.pull,
            apex_m=up,
            droop_deg=8 + 3 * lay.droop,
            soil=_soil(soil, lay, low=False),
            segments=max(15, round(longer * 1.8)),
        )
        feed, right, left = antenna.wires
        more = []
        for wire, side in ((right, 1), (left, -1)):
            end = (
                wire.start[0] + side * shorter * lay.pull * 0.95,
                0.0,
                up - shorter * (0.2 + 0.06 * lay.droop),
            )
            more.append(replace(wire, end=end, segments=max(11, round(shorter * 1.8))))
        return replace(antenna, wires=(feed, right, left, *more)[: int(legs) + 1])

    return build, [
        ("length-changed", {"share": 1 + dice.choice([-1, 1]) * dice.uniform(0.015, 0.04)}),
        ("leg-off", {"legs": 3}),
    ]


def _vertical(dice: Dice, f_hz: float) -> tuple:
    quarter_m, base_m = 0.245 * SPEED_M_S / f_hz, dice.uniform(0.3, 2.0)
    soil = str(dice.choice(["dry", "average", "wet"]))

    def build(lay: Lay, share: float = 1.0, radials: float = 4, soil: str = soil) -> nec.Antenna:
        up = base_m * lay.height
        antenna = nec.vertical(
            quarter_m * share * lay.pull,
            radials=4,
            radial_m=0.98 * quarter_m,
            base_m=up,
            radial_end_m=up * (0.5 + 0.5 * lay.droop),
            soil=_soil(soil, lay, low=True),
            segments=max(15, round(quarter_m * 1.8)),
            radial_segments=11,
        )
        return replace(antenna, wires=antenna.wires[: int(radials) + 1])

    return build, [
        ("length-changed", {"share": 1 + dice.choice([-1, 1]) * dice.uniform(0.02, 0.05)}),
        ("radial-off", {"radials": 3}),
        *_other_soil(soil)[:1],
    ]


def _whip(dice: Dice, f_hz: float) -> tuple:
    wave_m = SPEED_M_S / f_hz
    whip_m, radial_m = wave_m * dice.uniform(0.06, 0.13), wave_m * dice.uniform(0.06, 0.11)
    base_m, soil = dice.uniform(0.5, 1.2), str(dice.choice(["dry", "average", "wet"]))

    def build(lay: Lay, share: float = 1.0, radials: float = 4) -> nec.Antenna:
        up = base_m * lay.height
        antenna = nec.vertical(
            whip_m * share,
            radials=4,
            radial_m=radial_m,
            base_m=up,
            radial_end_m=up * (0.4 + 0.6 * lay.droop),
            soil=_soil(soil, lay, low=True),
            segments=15,
            radial_segments=9,
        )
        return replace(antenna, wires=antenna.wires[: int(radials) + 1])

    return build, [
        ("length-changed", {"share": 1 - dice.uniform(0.04, 0.10)}),
        ("radial-off", {"radials": 3}),
    ]


FAMILIES: dict[str, tuple[Family, tuple[float, ...]]] = {
    "end-fed": (_end_fed, (7.1e6, 7.1e6, 3.65e6, 10.12e6, 14.15e6)),
    "random-wire": (_random_wire, (7.1e6, 7.1e6, 7.1e6)),
    "dipole": (_dipole, (7.1e6, 3.65e6, 7.1e6, 5.36e6)),
    "fan": (_fan, (7.1e6, 5.36e6)),
    "vertical": (_vertical, (7.1e6, 10.12e6)),
    "loaded-whip": (_whip, (7.1e6, 10.12e6)),
}


def states(family: Family, dice: Dice, f_hz: float) -> Iterator[tuple[str, nec.Antenna]]:
    """All states of one station."""
    build, faults = family(dice, f_hz)
    lays = [draw_lay(dice) for _ in range(ERECTIONS)]
    yield "healthy", build(lays[0])
    for k in range(1, ERECTIONS):
        yield f"again:{k}", build(lays[k])
    for number, (fault, edit) in enumerate(faults):
        again = bool((number + int(f_hz / 1e5)) % 2)
        yield fault + "@again" * again, build(lays[1 if again else 0], **edit)


def main(seed: str = "2711", target: str = str(TABLE), *kinds: str) -> None:
    """Compute and save all states, of some kinds or of all."""
    tables: dict[str, np.ndarray] = {}
    for number, (kind, (family, bands_hz)) in enumerate(FAMILIES.items()):
        if kinds and kind not in kinds:
            continue
        for k, f_hz in enumerate(bands_hz):
            dice = np.random.default_rng([int(seed), number, k])
            for state, antenna in states(family, dice, f_hz):
                z = nec.z_ohm(antenna, F_HZ)
                rho = (z - WIRE_OHM) / (z + WIRE_OHM)
                parts = np.round(np.stack([rho.real, rho.imag]) / STEP)
                tables[f"{kind}/{k}:{f_hz:.0f}/{state}"] = np.clip(parts, -32000, 32000).astype(np.int16)
            print(kind, k, flush=True)
    np.savez_compressed(target, **tables)  # type: ignore[arg-type]


if __name__ == "__main__":
    main(*sys.argv[1:])
