"""Make tests/data/models/faults.npz: antennas as they were set up and with one thing wrong, for the diagnosis.

    python -m tests.models.make_faults              # about two minutes; needs the extra ``models``
    python -m tests.models.make_faults 77 other.npz # other antennas of the same families

Each state is an impedance on 33 frequencies round the dip, to be read between them by a cubic spline of the
reflection against 1000 ohm (end-fed wires) or of the impedance. Nothing in the package reads the file, and no
signature was set with it.

Over low radials NEC-2's integrals for soil fail at some frequencies: R of a whip jumps by 4 to 40 ohm and back within
a step, which no antenna does. Such points of whips are put on the cubic through all others.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.models import nec

TARGET = Path(__file__).resolve().parents[1] / "data" / "models" / "faults.npz"
POINTS = 33
SPEED_OF_LIGHT_M_S = 299_792_458.0  # exact, SI
TURN = (
    14 / 15
) ** 1.3  # inductance with one turn of 15 less: Wheeler's formula, a coil as long as it is wide
BRANCH_S_M = (0.02, 0.5)  # conductivity of a wet branch with its leaves; common practice, no source
WETTER = {"dry": "average", "average": "wet"}
DRIER = {"wet": "average", "average": "dry"}

JUMP = 0.02  # of its usual R that a whip's impedance lies off a cubic, from which on NEC-2 has failed there

States = Iterator[tuple[str, nec.Antenna]]


def _without(antenna: nec.Antenna, count: int) -> nec.Antenna:
    return replace(antenna, wires=antenna.wires[: len(antenna.wires) - count])


def _with(antenna: nec.Antenna, *wires: nec.Wire) -> nec.Antenna:
    return replace(antenna, wires=(*antenna.wires, *wires))


def _whip(dice: np.random.Generator, f_hz: float) -> States:
    wave_m = SPEED_OF_LIGHT_M_S / f_hz
    whip_m, radial_m = wave_m * dice.uniform(0.05, 0.13), wave_m * dice.uniform(0.06, 0.11)
    base_m, soil = dice.uniform(0.15, 0.8), str(dice.choice(["dry", "average", "wet"]))
    ground_ohm = dice.uniform(2, 10)

    def build(whip_m: float = whip_m, soil: str = soil) -> nec.Antenna:
        return nec.vertical(
            whip_m, radials=4, radial_m=radial_m, base_m=base_m, soil=nec.SOILS[soil], radius_m=1.5e-3
        )

    x = nec.z_ohm(build(), [f_hz])[0].imag
    coil = {"coil_h": -x / (2 * np.pi * f_hz), "coil_q": dice.uniform(150, 300), "series_ohm": ground_ohm}

    def loaded(antenna: nec.Antenna, share: float = 1.0) -> nec.Antenna:
        return replace(antenna, **{**coil, "coil_h": coil["coil_h"] * share})

    yield "healthy", loaded(build())
    yield "radial-off", loaded(_without(build(), 1))
    yield "radial-off:two", loaded(_without(build(), 2))
    yield "length-changed", loaded(build(whip_m * (1 - dice.uniform(0.04, 0.10))))
    yield "wrong-tap:less", loaded(build(), TURN)
    yield "wrong-tap:more", loaded(build(), 1 / TURN)
    yield from _soils(soil, lambda other: loaded(build(soil=other)))
    pole = nec.Wire((0.2, 0.15, base_m + 0.1), (0.2, 0.15, base_m + 0.7 * whip_m), 15, 5e-3)
    yield "touching", loaded(_with(build(), pole))


def _soils(soil: str, build) -> States:
    if soil in WETTER:
        yield "wetter-soil", build(WETTER[soil])
    if soil in DRIER:
        yield "drier-soil", build(DRIER[soil])


def _mended(z_ohm: np.ndarray) -> np.ndarray:
    """A whip's impedance without the points at which NEC-2 failed."""
    powers = np.vander(np.linspace(-1, 1, z_ohm.size), 4)
    weight = np.ones(z_ohm.size)
    off = np.zeros(z_ohm.size)
    for _ in range(50):  # least sum of distances: few points far off do not bend it
        off = np.abs(
            z_ohm - powers @ np.linalg.lstsq(powers * weight[:, None], z_ohm * weight, rcond=None)[0]
        )
        weight = 1 / np.sqrt(np.maximum(off, 1e-3))
    sound = off < JUMP * np.median(z_ohm.real)
    cubic = powers @ np.linalg.lstsq(powers[sound], z_ohm[sound], rcond=None)[0]
    return np.where(sound, z_ohm, cubic)


def _vertical(dice: np.random.Generator, f_hz: float) -> States:
    quarter_m = 0.25 * SPEED_OF_LIGHT_M_S / f_hz
    count, base_m = int(dice.integers(3, 5)), dice.uniform(0.5, 3.0)
    radial_m, soil = quarter_m * dice.uniform(0.93, 1.02), str(dice.choice(["dry", "average", "wet"]))

    def build(share: float = 1.0, soil: str = soil) -> nec.Antenna:
        return nec.vertical(
            0.98 * quarter_m * share,
            radials=count,
            radial_m=radial_m,
            base_m=base_m,
            radial_end_m=base_m * 0.7,
            soil=nec.SOILS[soil],
        )

    yield "healthy", build()
    yield "radial-off", _without(build(), 1)
    yield "length-changed", build(1 - dice.uniform(0.02, 0.05))
    yield from _soils(soil, lambda other: build(soil=other))


def _dipole(dice: np.random.Generator, f_hz: float) -> States:
    leg_m, height_m = 0.2385 * SPEED_OF_LIGHT_M_S / f_hz, dice.uniform(4, 12)
    soil = str(dice.choice(["dry", "average", "wet"]))

    def build(share: float = 1.0, soil: str = soil) -> nec.Antenna:
        return nec.inverted_vee(leg_m * share, apex_m=height_m, droop_deg=0.0, soil=nec.SOILS[soil])

    healthy = build()
    yield "healthy", healthy
    yield "leg-off", replace(healthy, wires=(healthy.wires[0], healthy.wires[2]))
    yield "length-changed", build(1 - dice.uniform(0.015, 0.04))
    yield from _soils(soil, lambda other: build(soil=other))
    near = nec.Wire((0.6 * leg_m, 0.25, height_m), (0.95 * leg_m, 0.25, height_m), 9, 3e-3)
    yield "touching", _with(healthy, near)
    left = healthy.wires[0].start
    coax = nec.Wire(left, (left[0], 0.0, 0.3), 21, 2.5e-3)
    yield "common-mode", _with(healthy, coax)
    tip = healthy.wires[1].end
    branch = nec.Wire(tip, (tip[0], tip[1], tip[2] - dice.uniform(0.5, 1.5)), 5, 6e-3)
    sap_s_m = float(np.exp(dice.uniform(*np.log(BRANCH_S_M))))
    yield "touching:branch", replace(_with(healthy, branch), poor=(len(healthy.wires), sap_s_m))


def _end_fed(dice: np.random.Generator, f_hz: float) -> States:
    wave_m = SPEED_OF_LIGHT_M_S / f_hz
    feed_m, soil = dice.uniform(1.0, 2.5), str(dice.choice(["dry", "average", "wet"]))
    wire_m = 0.486 * wave_m
    far_m = feed_m + min(dice.uniform(3, 8), 0.7 * wire_m)
    counterpoise_m = wave_m * dice.uniform(0.045, 0.06)

    def build(counterpoise_m: float = counterpoise_m, soil: str = soil, share: float = 1.0) -> nec.Antenna:
        return nec.end_fed(
            wire_m * share, feed_m=feed_m, far_m=far_m, counterpoise_m=counterpoise_m, soil=nec.SOILS[soil]
        )

    yield "healthy", build()
    yield "no-counterpoise", build(wave_m * 0.006)
    yield "common-mode", build(wave_m * dice.uniform(0.12, 0.25))
    yield "length-changed", build(share=1 - dice.uniform(0.02, 0.05))
    yield from _soils(soil, lambda other: build(soil=other))


FAMILIES = {
    "loaded-whip": (_whip, (3.65e6, 7.1e6, 7.1e6, 10.12e6, 14.15e6, 5.36e6), 0.10),
    "vertical": (_vertical, (7.1e6, 14.15e6, 18.1e6, 28.4e6), 0.15),
    "dipole": (_dipole, (3.65e6, 7.1e6, 7.1e6, 10.12e6, 14.15e6, 21.2e6), 0.15),
    "end-fed": (_end_fed, (7.1e6, 10.12e6, 14.15e6, 21.2e6), 0.15),
}


def main(seed: str = "2611", target: str = str(TARGET)) -> None:
    """Compute and save all states."""
    tables: dict[str, np.ndarray] = {}
    for kind, (states, bands_hz, reach) in FAMILIES.items():
        for number, f_hz in enumerate(bands_hz):
            grid_hz = f_hz * np.linspace(1 - reach, 1 + reach, POINTS)
            dice = np.random.default_rng([int(seed), number, list(FAMILIES).index(kind)])
            for state, antenna in states(dice, f_hz):
                z = nec.z_ohm(antenna, grid_hz)
                z = _mended(z) if kind == "loaded-whip" else z
                tables[f"{kind}/{number}/{state}"] = np.stack([grid_hz, z.real, z.imag]).astype(np.float32)
    np.savez_compressed(target, **tables)  # type: ignore[arg-type]


if __name__ == "__main__":
    main(*sys.argv[1:])
