"""Wires swept far beyond one band: how they reflect over 1 to 30 MHz, random lengths and cut ones.

    python -m tests.models.wide_wires tests/data/models/wide_wires.npz 51      # needs PyNEC, a minute and a half

The table holds the reflection of the wire itself against 600 ohm, so that straight lines between its points are
smooth; the transformer is put in front afterwards, and so are lines that nobody told of.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from tests.models import nec

TABLE = Path(__file__).resolve().parents[1] / "data" / "models" / "wide_wires.npz"
F_HZ = np.linspace(1e6, 30e6, 146)
WIRE_OHM = 600.0  # about the surge impedance of a thin wire at these heights
RANDOM, END_FED, DOUBLET, UPRIGHT = "random wire", "end-fed", "doublet", "upright"
RATIOS = {
    RANDOM: (1.0, 4.0, 9.0, 9.0),
    END_FED: (49.0, 49.0, 64.0),
    DOUBLET: (1.0, 1.0, 4.0),
    UPRIGHT: (1.0, 4.0),
}
COUNT = {RANDOM: 8, END_FED: 4, DOUBLET: 3, UPRIGHT: 3}


def make_antenna(kind: str, dice: np.random.Generator) -> nec.Antenna:
    """One antenna of a kind, put up as portable ones are."""
    soil = nec.SOILS[str(dice.choice(["dry", "average", "wet"]))]
    if kind == DOUBLET:
        return nec.dipole(dice.uniform(5, 20), height_m=dice.uniform(4, 12), soil=soil)
    if kind == UPRIGHT:
        return nec.vertical(
            dice.uniform(4, 13), radials=4, radial_m=dice.uniform(3, 8), base_m=0.5, soil=soil
        )
    wire_m = dice.uniform(7, 40) if kind == RANDOM else 0.486 * nec_wavelength_m(dice)
    feed_m = dice.uniform(1, 3)
    return nec.end_fed(
        wire_m,
        feed_m=feed_m,
        far_m=feed_m + min(dice.uniform(2, 10), 0.7 * wire_m),
        counterpoise_m=dice.uniform(1.5, 8) if kind == RANDOM else dice.uniform(0.03, 0.08) * wire_m * 2,
        soil=soil,
    )


def nec_wavelength_m(dice: np.random.Generator) -> float:
    return 299_792_458.0 / float(dice.choice([3.6e6, 7.1e6, 10.1e6, 14.1e6]))


@dataclass(frozen=True)
class WideWire:
    """One wire of the table."""

    kind: str
    reflection: CubicSpline

    def z_ohm(self, f_hz: np.ndarray, dice: np.random.Generator) -> np.ndarray:
        """Impedance at the 50 ohm side, through the transformer that such a wire has."""
        rho = self.reflection(f_hz)
        wire_ohm = WIRE_OHM * (1 + rho) / (1 - rho)
        ratios = {
            RANDOM: (1.0, 4.0, 9.0, 9.0),
            END_FED: (49.0, 49.0, 64.0),
            DOUBLET: (1.0, 1.0, 4.0),
            UPRIGHT: (1.0, 4.0),
        }
        ratio = float(dice.choice(ratios[self.kind]))
        if ratio == 1.0:
            return wire_ohm
        box = {"winding_f": dice.uniform(2e-12, 8e-12), "leakage_h": dice.uniform(0.03e-6, 0.12e-6)}
        box |= {"capacitor_f": dice.uniform(60e-12, 120e-12) if ratio > 9 else dice.uniform(0, 30e-12)}
        box |= {"magnetising_h": dice.uniform(4e-6, 20e-6), "core_loss_ohm": dice.uniform(400, 2500)}
        return nec.through_transformer(wire_ohm, f_hz, ratio=ratio, **box)


def read_wires(path: Path = TABLE) -> list[WideWire]:
    """All wires of the table."""
    with np.load(path) as table:
        return [
            WideWire(str(kind), CubicSpline(F_HZ, rho.astype(complex)))
            for kind, rho in zip(table["kind"], table["reflection"], strict=True)
        ]


def main(path: Path, seed: int) -> None:
    kinds = [kind for kind, count in COUNT.items() for _ in range(count)]
    rows = []
    for k, kind in enumerate(kinds):
        z = nec.z_ohm(make_antenna(kind, np.random.default_rng([seed, k])), F_HZ)
        rows.append((z - WIRE_OHM) / (z + WIRE_OHM))
    np.savez_compressed(path, kind=kinds, reflection=np.array(rows, dtype=np.complex64))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
