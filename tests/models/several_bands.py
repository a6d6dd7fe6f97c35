"""End-fed wires over many bands: impedance of the wires on nodes of frequency and length, boxes added afterwards.

    python -m tests.models.several_bands tests/data/models/end_fed_wide.npz 5 6     # seed and count

As ``families.py``, but from 3.2 to 31 MHz: wires for 80, 40 or 20 m, bare or insulated, with a counterpoise, a choke at
the box or coax whose outside is the other half. Nothing in the package reads the file.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import gamma_from_z, z_from_gamma
from tests.models import nec

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

LOW_HZ, HIGH_HZ, F_NODES = 2.7e6, 34e6, 128
LENGTH_SHARES = np.array([0.86, 0.95, 1.04, 1.14])
DAMPING_OHM = 900.0  # the reflection against it is smooth: both of the wire's resonances are damped


@dataclass(frozen=True)
class WideEndFed:
    """One end-fed: what it is, and the impedance of its wires, shape (lengths, nodes). [ohm]"""

    spec: dict[str, Any]
    wires_ohm: ComplexArray

    def gamma(self, f_hz: FloatArray, length_m: float) -> ComplexArray:
        """Reflection at the connector of the box against 50 ohm, shape of ``f_hz``."""
        from scipy.interpolate import CubicSpline

        share = length_m / self.spec["wire_m"]
        damped = gamma_from_z(self.wires_ohm, DAMPING_OHM)
        at_length = CubicSpline(np.log(LENGTH_SHARES), damped, axis=0)(np.log(share))
        along = CubicSpline(np.log(nodes_hz()), at_length)(np.log(f_hz * share))
        high_ohm = z_from_gamma(along, DAMPING_OHM)
        return gamma_from_z(nec.through_transformer(high_ohm, f_hz, **self.spec["box"]), 50.0)


def nodes_hz() -> FloatArray:
    """Frequencies of the nodes at the nominal length; they go with the reciprocal of the length."""
    return np.geomspace(LOW_HZ, HIGH_HZ, F_NODES)


def specs(seed: int, count: int) -> list[dict[str, Any]]:
    """Seeded antennas in words; ranges of portable practice, as in ``families.py``."""
    dice = np.random.default_rng([seed, 77])
    return [_spec(dice, number) for number in range(count)]


def _spec(dice: np.random.Generator, number: int) -> dict[str, Any]:
    lowest_hz = (7.1e6, 7.1e6, 3.65e6, 14.15e6)[number % 4]
    insulated = dice.random() < 0.5
    feed_m = float(dice.uniform(1.0, 3.0))
    wire_m = 0.475 * 299_792_458.0 / lowest_hz * (0.975 if insulated else 1.0)
    other = ("counterpoise", "short coax", "coax")[number % 3]
    return {
        "lowest_hz": lowest_hz,
        "wire_m": float(wire_m),
        "feed_m": feed_m,
        "far_m": feed_m + float(min(dice.uniform(3, 9), 0.6 * wire_m)),
        "counterpoise_m": float(dice.uniform(0.04, 0.08) * 3e8 / lowest_hz)
        if other == "counterpoise"
        else 0.4,
        "shield_m": {
            "counterpoise": 0.0,
            "short coax": float(dice.uniform(2, 5)),
            "coax": float(dice.uniform(6, 15)),
        }[other],
        "soil": str(dice.choice(list(nec.SOILS)[:3])),
        "radius_m": float(dice.uniform(0.3e-3, 0.8e-3)),
        "sleeve": [float(dice.uniform(1.5, 2.4)), float(dice.uniform(2.3, 3.3))] if insulated else None,
        "box": {
            "ratio": float(dice.choice([49.0, 56.0, 64.0])),
            "magnetising_h": float(dice.uniform(4e-6, 12e-6)),
            "core_loss": float(dice.uniform(0.05, 0.5)),
            "core_loss_ohm": float(dice.uniform(900, 3000)),
            "leakage_h": float(dice.uniform(0.04e-6, 0.15e-6)),
            "capacitor_f": float(dice.uniform(50e-12, 120e-12)),
            "winding_f": float(dice.uniform(3e-12, 12e-12)),
        },
    }


def compute(spec: dict[str, Any]) -> WideEndFed:
    """Run the wire model on all nodes."""
    rows = []
    for share in LENGTH_SHARES:
        antenna = nec.end_fed(
            spec["wire_m"] * share,
            feed_m=spec["feed_m"],
            far_m=spec["far_m"],
            counterpoise_m=spec["counterpoise_m"],
            soil=nec.SOILS[spec["soil"]],
            radius_m=spec["radius_m"],
        )
        antenna = replace(antenna, sleeve=None if spec["sleeve"] is None else tuple(spec["sleeve"]))
        if spec["shield_m"]:
            antenna = nec.with_shield(antenna, spec["shield_m"])
        rows.append(nec.z_ohm(antenna, nodes_hz() / share))
    return WideEndFed(spec, np.array(rows))


def load(path: Path) -> list[WideEndFed]:
    """Antennas of one file."""
    with np.load(path) as stored:
        return [
            WideEndFed(json.loads(str(text)), stored[f"z{number}"])
            for number, text in enumerate(stored["specs"])
        ]


def main(target: str, seed: str, count: str) -> None:
    """Compute and save."""
    made = [compute(spec) for spec in specs(int(seed), int(count))]
    texts = np.array([json.dumps(each.spec) for each in made])
    nodes = {f"z{number}": each.wires_ohm.astype(np.complex64) for number, each in enumerate(made)}
    np.savez_compressed(target, specs=texts, **nodes)  # type: ignore[arg-type]


if __name__ == "__main__":
    main(*sys.argv[1:])
