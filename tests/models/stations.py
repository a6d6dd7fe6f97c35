"""Make tests/data/models/stations.npz: end-feds and whips of which is known where their power goes.

    python -m tests.models.stations              # needs the extra ``models``
    python -m tests.models.stations FILE 100 60  # others: 60 of each family, from number 100 on

Wires by the method of moments, everything else as a circuit: an end-fed has a second port in the shield of its coax,
where a choke may sit, and a box with core loss, leakage and capacitances before it; a whip has a coil with losses and
a capacitance of its own, and a resistance in its ground. None of these formulas are those of sweepkit's own bounds.
What leaves the wires counts as radiated, also what the soil under an end-fed takes of it, which no sweep can tell.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

from tests.models import nec

TARGET = Path(__file__).resolve().parent.parent / "data" / "models" / "stations.npz"
C = 299_792_458.0
NODES, POINTS = 13, 161
SPAN = (0.78, 1.24)  # of the frequency for which a wire is cut


def two_port_siemens(antenna: nec.Antenna, choke: tuple[int, int], f_hz: float) -> np.ndarray:
    """Admittances between the fed segment and the one in which a choke may sit, shape (2, 2)."""
    import PyNEC

    currents = []
    for sign in (1.0, -1.0):
        context = PyNEC.nec_context()
        geometry = context.get_geometry()
        for tag, wire in enumerate(antenna.wires, start=1):
            geometry.wire(tag, wire.segments, *wire.start, *wire.end, wire.radius_m, 1.0, 1.0)
        context.geometry_complete(0)
        context.gn_card(2, 0, antenna.soil.permittivity, antenna.soil.conductivity_s_m, 0, 0, 0, 0)
        context.ld_card(5, 0, 0, 0, 5.8e7, 0, 0)
        context.ex_card(0, antenna.feed[0] + 1, antenna.feed[1], 0, 1.0, 0, 0, 0, 0, 0)
        context.ex_card(0, choke[0] + 1, choke[1], 0, sign, 0, 0, 0, 0, 0)
        context.fr_card(0, 1, f_hz / 1e6, 0)
        context.xq_card(0)
        currents.append(np.array(context.get_input_parameters(0).get_current()))
    plus, minus = currents
    return np.stack([(plus + minus) / 2, (plus - minus) / 2], axis=1)


def on_grid(f_hz: np.ndarray, nodes_hz: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Smooth curves through values at nodes."""
    from scipy.interpolate import CubicSpline

    return CubicSpline(nodes_hz, values.real)(f_hz) + 1j * CubicSpline(nodes_hz, values.imag)(f_hz)


def end_fed(dice: np.random.Generator, heats: bool) -> dict[str, Any]:
    """With a choke right at the box and next to no counterpoise, or a counterpoise and coax before a choke."""
    f0 = float(dice.choice([3.6e6, 7.1e6, 7.1e6, 10.12e6, 14.15e6]))
    wave = C / f0
    wire_m, feed_m = 0.475 * wave * dice.uniform(0.97, 1.02), float(dice.uniform(1.2, 3.0))
    told = {"kind": "end-fed", "length_m": round(wire_m, 2)}
    counterpoise_m = float(dice.uniform(0.2, 0.8) if heats else wave * dice.uniform(0.05, 0.10))
    wires = nec.end_fed(
        wire_m,
        feed_m=feed_m,
        far_m=feed_m + min(float(dice.uniform(3, 10)), 0.7 * wire_m),
        counterpoise_m=counterpoise_m,
        soil=nec.SOILS[str(dice.choice(["dry", "average", "wet"]))],
        segments=31,
    )
    antenna = nec.with_shield(wires, float(dice.uniform(5, 15)))
    told["counterpoise_m"] = round(counterpoise_m, 2)
    nodes = f0 * np.linspace(*SPAN, NODES)
    y = np.array([two_port_siemens(antenna, (2, 1), f) for f in nodes])
    f = f0 * np.linspace(*SPAN, POINTS)
    y = np.stack([on_grid(f, nodes, y[:, i, j]) for i in (0, 1) for j in (0, 1)], axis=1).reshape(-1, 2, 2)
    w = 2 * np.pi * f
    # ferrite: a lossy inductance with a capacitance across it; good practice winds a few kilohms
    r, x = dice.uniform(1500, 6000), dice.uniform(0.3, 1.5)
    choke = r / (1 + 1j * x * (f / f0 - f0 / f) * 2 + 1j * dice.uniform(-0.6, 0.6))
    if not heats and dice.random() < 0.5:
        choke = np.zeros_like(choke)  # at the radio: all of the coax is part of the antenna
    # port 2 closed by the choke: i2 = -v2 / choke
    i2_over_v1 = y[:, 1, 0] / (1 + y[:, 1, 1] * choke)
    y_in = y[:, 0, 0] - y[:, 0, 1] * choke * i2_over_v1
    box = {
        "ratio": 49.0,
        "magnetising_h": dice.uniform(3e-6, 10e-6) * 7.1e6 / f0,
        "core_loss_ohm": dice.uniform(500, 1500),
        "leakage_h": dice.uniform(0.03e-6, 0.12e-6) * 7.1e6 / max(f0, 7.1e6),
        "capacitor_f": dice.uniform(60e-12, 110e-12) * 7.1e6 / max(f0, 7.1e6),
        "winding_f": dice.uniform(3e-12, 9e-12),
    }
    z = nec.through_transformer(1 / y_in, f, **box)
    power_wire = y_in.real  # of one volt across the wire, all halves left out
    low_side = 1 / 49
    core = low_side / box["core_loss_ohm"]
    loss_choke = np.abs(i2_over_v1) ** 2 * choke.real
    total = power_wire + core
    shares = {"box": core / total, "choke": loss_choke / total, "coil": 0 * f, "ground": 0 * f}
    return {"told": told, "f": f, "z": z, "shares": shares, "w": w}


def whip(dice: np.random.Generator, heats: bool) -> dict[str, Any]:
    """A long whip over many radials and a good coil, or a short one over next to none; losses in series."""
    f0 = float(dice.choice([7.1e6, 7.1e6, 10.12e6, 14.15e6]))
    wave = C / f0
    height_m = float(wave * (dice.uniform(0.035, 0.075) if heats else dice.uniform(0.11, 0.17)))
    count = int(dice.choice([1, 2]) if heats else dice.choice([4, 6, 8]))
    radial_m = float(wave * dice.uniform(0.06, 0.12) if heats else wave * dice.uniform(0.14, 0.22))
    antenna = nec.vertical(
        height_m,
        radials=max(count, 2),
        radial_m=radial_m,
        base_m=0.3,
        soil=nec.SOILS["perfect"],
        radius_m=float(dice.uniform(1.5e-3, 4e-3)),
    )
    nodes = f0 * np.linspace(*SPAN, NODES)
    f = f0 * np.linspace(*SPAN, POINTS)
    wires = on_grid(f, nodes, nec.z_ohm(antenna, nodes))
    at = complex(on_grid(np.array([f0]), nodes, nec.z_ohm(antenna, nodes))[0])
    coil_h = -at.imag / (2 * np.pi * f0)
    q = float(dice.uniform(120, 320))
    coil = nec.coil_z_ohm(f, coil_h, q, float(dice.uniform(0.5e-12, 2e-12)))
    ground = float(dice.uniform(28, 70) if heats else dice.uniform(2, 10))
    told = {"kind": "loaded-whip", "length_m": round(height_m, 2), "radials": count}
    told |= {"radial_length_m": round(radial_m, 2), "coil_h": coil_h * float(dice.normal(1, 0.04))}
    total = wires.real + coil.real + ground
    shares = {"box": 0 * f, "choke": 0 * f, "coil": coil.real / total, "ground": ground / total}
    return {"told": told, "f": f, "z": wires + coil + ground, "shares": shares}


def main(target: str = str(TARGET), first: str = "0", count: str = "24") -> None:
    """Every station, stored with its shares at the dip."""
    arrays: dict[str, Any] = {}
    truth = {}
    for family, make in (("e", end_fed), ("w", whip)):
        for k in range(int(first), int(first) + int(count)):
            heats = k % 2 == 0
            one = make(np.random.default_rng([ord(family), k]), heats)
            gamma = (one["z"] - 50) / (one["z"] + 50)
            at = int(np.argmin(abs(gamma)))
            name = f"{family}{k:02d}"
            arrays[name] = gamma.astype(np.complex64)
            truth[name] = {
                "heats": heats,
                "told": one["told"],
                "start_hz": float(one["f"][0]),
                "stop_hz": float(one["f"][-1]),
                "dip_hz": float(one["f"][at]),
                "dip_swr": float((1 + abs(gamma[at])) / (1 - abs(gamma[at]))),
                "shares": {part: float(share[at]) for part, share in one["shares"].items()},
            }
            print(
                name,
                heats,
                {k: round(v, 2) for k, v in truth[name]["shares"].items()},
                round(truth[name]["dip_swr"], 2),
                flush=True,
            )
    np.savez_compressed(target, truth=np.array(json.dumps(truth)), **arrays)


if __name__ == "__main__":
    main(*sys.argv[1:])
