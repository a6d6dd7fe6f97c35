"""Antennas of all portable kinds swept over 1 to 60 MHz: what a sweep over all bands shows at the feedpoint.

    python -m tests.models.wide_antennas tests/data/models/wide_antennas.npz 95 3     # needs PyNEC, four minutes

The table holds the reflection of the bare wires against 600 ohm; coil and box are put in front afterwards, so that one
set of wires stands for several antennas. Wires that jump between two frequencies or reflect more than they get, as the
wire engine makes them now and then, are drawn anew.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from tests.models import families, nec

TABLE = Path(__file__).resolve().parents[1] / "data" / "models" / "wide_antennas.npz"
F_HZ = np.linspace(1e6, 60e6, 296)
DELAYS_S = np.linspace(0, 400e-9, 201)  # of a wave along a wire and back, taken out before it is interpolated
WIRE_OHM = 600.0
LARGEST_JUMP = 0.05  # between every other point and what the rest says of it
MOST_REFLECTED = 1.002  # wires far shorter than a wave, within the engine's digits
SPEED_M_S = 299_792_458.0  # exact, SI
BANDS_HZ = (3.65e6, 5.36e6, 7.1e6, 10.12e6, 14.15e6, 21.2e6, 28.5e6)
Maker = Callable[[np.random.Generator, float], nec.Antenna]


def _common(dice: np.random.Generator) -> dict[str, object]:
    soil = replace(nec.SOILS[str(dice.choice(families.ALL_SOILS))], by_reflection=True)
    return {"soil": soil, "radius_m": dice.uniform(0.3e-3, 1e-3)}


def _dipole(dice: np.random.Generator, wave_m: float) -> nec.Antenna:
    leg_m = 0.2405 * wave_m * dice.uniform(0.93, 1.08)
    return nec.dipole(leg_m, height_m=dice.uniform(3, 12), segments=101, **_common(dice))


def _vee(dice: np.random.Generator, wave_m: float) -> nec.Antenna:
    leg_m, droop_deg = 0.242 * wave_m * dice.uniform(0.93, 1.08), dice.uniform(15, 45)
    apex_m = max(dice.uniform(5, 12), leg_m * np.sin(np.radians(droop_deg)) + 0.7)
    antenna = nec.inverted_vee(leg_m, apex_m=apex_m, droop_deg=droop_deg, segments=41, **_common(dice))
    return nec.with_shield(antenna, dice.uniform(4, 15)) if dice.random() < 0.4 else antenna


def _vertical(dice: np.random.Generator, wave_m: float) -> nec.Antenna:
    quarter_m = 0.238 * wave_m * dice.uniform(0.93, 1.08)
    radials, radial_m, base_m = (
        int(dice.integers(2, 5)),
        0.25 * wave_m * dice.uniform(0.6, 1.05),
        dice.uniform(0.1, 3),
    )
    size = {"segments": 41, "radial_segments": 31}
    return nec.vertical(quarter_m, radials=radials, radial_m=radial_m, base_m=base_m, **size, **_common(dice))


def _whip(dice: np.random.Generator, wave_m: float) -> nec.Antenna:
    length_m, count = min(wave_m * dice.uniform(0.045, 0.15), 6.0), int(dice.integers(1, 7))
    radial_m, base_m = (
        wave_m * dice.uniform(0.06, 0.25),
        float(np.exp(dice.uniform(np.log(0.05), np.log(0.6)))),
    )
    mirror = _common(dice) | {
        "soil": nec.SOILS["perfect"]
    }  # low wires over a ground's reflection give power back
    antenna = nec.vertical(length_m, radials=count, radial_m=radial_m, base_m=base_m, **mirror)
    x_ohm = -nec.z_ohm(antenna, [SPEED_M_S / wave_m])[0].imag
    coil_h = max(x_ohm, 5.0) * wave_m / (2 * np.pi * SPEED_M_S)
    return replace(antenna, coil_h=coil_h, coil_q=dice.uniform(100, 300), series_ohm=dice.uniform(0, 20))


def _loop(dice: np.random.Generator, wave_m: float) -> nec.Antenna:
    upright, around_m = bool(dice.random() < 0.5), 1.03 * wave_m * dice.uniform(0.93, 1.08)
    return nec.loop(around_m, height_m=dice.uniform(2, 8), upright=upright, segments=31, **_common(dice))


def _fan(dice: np.random.Generator, wave_m: float) -> nec.Antenna:
    """Two dipoles at one feedpoint, the shorter one hanging below."""
    longer, height_m = 0.242 * wave_m, dice.uniform(6, 11)
    shorter = longer * dice.uniform(0.33, 0.75)
    antenna = nec.inverted_vee(longer, apex_m=height_m, droop_deg=10, segments=41, **_common(dice))
    feed, right, left = antenna.wires
    more = []
    for wire, side in ((right, 1), (left, -1)):
        end = (wire.start[0] + side * shorter * 0.97, 0.0, height_m - shorter * 0.25)
        more.append(replace(wire, end=end, segments=31))
    return replace(antenna, wires=(feed, right, left, *more))


def _end_fed(dice: np.random.Generator, wave_m: float) -> nec.Antenna:
    wire_m, feed_m = 0.475 * wave_m * dice.uniform(0.93, 1.06), dice.uniform(0.5, 3)
    shape = {"far_m": feed_m + min(dice.uniform(2, 10), 0.7 * wire_m)}
    shape["counterpoise_m"] = wave_m * dice.uniform(0.02, 0.06)
    antenna = nec.end_fed(wire_m, feed_m=feed_m, **shape, segments=121, **_common(dice))
    return nec.with_shield(antenna, wave_m * dice.uniform(0.05, 0.2)) if dice.random() < 0.5 else antenna


def _random_wire(dice: np.random.Generator, _: float) -> nec.Antenna:
    wire_m, feed_m = dice.uniform(6, 42), dice.uniform(0.5, 3)
    shape = {
        "far_m": feed_m + min(dice.uniform(2, 10), 0.7 * wire_m),
        "counterpoise_m": dice.uniform(1.5, 10),
    }
    return nec.end_fed(
        wire_m, feed_m=feed_m, **shape, segments=121, counterpoise_segments=31, **_common(dice)
    )


MAKERS: dict[str, Maker] = {
    "dipole": _dipole,
    "vee": _vee,
    "vertical": _vertical,
    "whip": _whip,
    "loop": _loop,
    "fan": _fan,
    "end-fed": _end_fed,
    "random wire": _random_wire,
}
RATIOS = {"loop": (1.0, 2.0, 4.0), "end-fed": (49.0, 49.0, 64.0), "random wire": (1.0, 4.0, 9.0, 9.0)}


@dataclass(frozen=True)
class WideAntenna:
    """One of the table: its wires, and what stands between them and the connector."""

    kind: str
    reflection: np.ndarray
    coil_h: float
    coil_q: float
    series_ohm: float

    def z_ohm(self, f_hz: np.ndarray, dice: np.random.Generator) -> np.ndarray:
        """Impedance at the connector: the antenna's own coil, a box or choke drawn anew, and its leads."""
        rho = _between(self.reflection, f_hz)
        size = np.maximum(np.abs(rho) / 0.99999, 1.0)
        z = WIRE_OHM * (1 + rho / size) / (1 - rho / size) + self.series_ohm
        z = z + nec.coil_z_ohm(f_hz, self.coil_h, self.coil_q, dice.uniform(1e-12, 3e-12))
        ratio = float(dice.choice(RATIOS.get(self.kind, (1.0,))))
        if ratio > 1:
            return nec.through_transformer(z, f_hz, ratio=ratio, **_box(ratio, dice))
        return through_choke(z, f_hz, dice) if dice.random() < 0.5 else z


def _between(rho: np.ndarray, f_hz: np.ndarray, grid_hz: np.ndarray = F_HZ) -> np.ndarray:
    """Reflection of a wire between the points of the table: less its own delay it changes slowly."""
    turned = rho * np.exp(2j * np.pi * np.outer(DELAYS_S, grid_hz))
    best = int(np.abs(np.diff(turned, n=2)).sum(axis=1).argmin())
    return CubicSpline(grid_hz, turned[best])(f_hz) * np.exp(-2j * np.pi * f_hz * DELAYS_S[best])


def is_a_wire(rho: np.ndarray) -> bool:
    """Whether it is passive, and half of its points tell the others."""
    left_out = _between(rho[::2], F_HZ[1:-1:2], F_HZ[::2]) - rho[1:-1:2]
    return bool(np.abs(rho).max() < MOST_REFLECTED and np.abs(left_out).max() < LARGEST_JUMP)


def _box(ratio: float, dice: np.random.Generator) -> dict[str, float]:
    """As home-made ones are: leakage, winding capacitance, magnetising inductance, loss; common practice, no source."""
    return {
        "winding_f": dice.uniform(3e-12, 12e-12) if ratio > 9 else dice.uniform(2e-12, 10e-12),
        "leakage_h": dice.uniform(0.04e-6, 0.2e-6) if ratio > 9 else dice.uniform(0.02e-6, 0.12e-6),
        "capacitor_f": dice.uniform(50e-12, 130e-12) if ratio > 9 else dice.uniform(0, 30e-12),
        "magnetising_h": dice.uniform(3e-6, 20e-6),
        "core_loss_ohm": float(np.exp(dice.uniform(np.log(250), np.log(3000)))),
    }


def through_choke(z: np.ndarray, f_hz: np.ndarray, dice: np.random.Generator) -> np.ndarray:
    """A 1:1 choke or balun at the feedpoint: its winding is up to 1.2 m of line, its leads 10 to 30 cm of wire."""
    w = 2 * np.pi * f_hz
    z0_ohm, tangent = dice.uniform(45, 110), 1j * np.tan(w * dice.uniform(0.2, 1.2) / 2e8)
    z = z + 1j * w * dice.uniform(0.1e-6, 0.3e-6)
    z = z0_ohm * (z + z0_ohm * tangent) / (z0_ohm + z * tangent)
    return z + dice.uniform(0.05, 1.0)


def read(path: Path = TABLE) -> list[WideAntenna]:
    """All antennas of a table."""
    with np.load(path) as table:
        columns = (table[key] for key in ("kind", "reflection", "coil_h", "coil_q", "series_ohm"))
        return [
            WideAntenna(str(kind), rho.astype(complex), float(coil), float(q), float(r))
            for kind, rho, coil, q, r in zip(*columns, strict=True)
        ]


def _drawn(maker: Maker, dice: np.random.Generator) -> tuple[nec.Antenna, np.ndarray]:
    """The next antenna whose wires are ones, and their reflection."""
    while True:
        antenna = maker(dice, SPEED_M_S / float(dice.choice(BANDS_HZ)))
        z = nec.z_ohm(replace(antenna, coil_h=0.0, series_ohm=0.0), F_HZ)
        rho = (z - WIRE_OHM) / (z + WIRE_OHM)
        if is_a_wire(rho):
            return antenna, rho


def main(path: Path, seed: int, count: int) -> None:
    rows: dict[str, list[object]] = {
        key: [] for key in ("kind", "reflection", "coil_h", "coil_q", "series_ohm")
    }
    for number, (kind, maker) in enumerate(MAKERS.items()):
        dice = np.random.default_rng([seed, number])
        for _ in range(count):
            antenna, rho = _drawn(maker, dice)
            rows["kind"].append(kind)
            rows["reflection"].append(rho.astype(np.complex64))
            for key in ("coil_h", "coil_q", "series_ohm"):
                rows[key].append(getattr(antenna, key))
    np.savez_compressed(path, **{key: np.array(each) for key, each in rows.items()})


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
