"""Make the sample sweeps for several bands: an end-fed, a fan and a tapped whip of the invented club outing.

    python -m sample_sweeps.make_bands

The end-fed is a wire model on file (``tests/data/models/end_fed_wide.npz``) with its box; fan and whip are circuits
(``tests/several_bands/circuits.py``). None needs the wire model itself. Noise is seeded from the name.
"""

from __future__ import annotations

import zlib
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sample_sweeps.make_samples import DIRECTIVITY_DB, NOISE_RMS
from tests.models.several_bands import load
from tests.several_bands.circuits import dip_hz, fan_z_ohm, whip_z_ohm

HERE = Path(__file__).resolve().parent
MODELS = HERE.parent / "tests" / "data" / "models" / "end_fed_wide.npz"
END_FED_M = 20.4
FAN_LEGS_M = {"40 m": 10.72, "20 m": 5.34}
WHIP_M = 2.4

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def scenes() -> dict[str, tuple[FloatArray, ComplexArray, str]]:
    """Frequencies, reflection against 50 ohm and a remark, by name."""
    made = {}
    f_hz = np.round(np.linspace(3e6, 30.5e6, 401))
    wire = load(MODELS)[0]
    made["crag_end_fed"] = (f_hz, wire.gamma(f_hz, END_FED_M), f"at its box, {END_FED_M} m of wire")
    f_hz = np.round(np.linspace(5e6, 16e6, 401))
    z = fan_z_ohm(f_hz, FAN_LEGS_M)
    made["glade_fan"] = (f_hz, (z - 50) / (z + 50), "at the feedpoint, legs 10.72 m and 5.34 m")
    for tap in (24, 8):
        f0 = dip_hz(lambda f, tap=tap: whip_z_ohm(f, tap, WHIP_M), 4e6, 20e6)
        f_hz = np.round(np.linspace(0.95 * f0, 1.05 * f0, 201))
        z = whip_z_ohm(f_hz, tap, WHIP_M)
        made[f"spit_whip_tap_{tap}"] = (
            f_hz,
            (z - 50) / (z + 50),
            f"at the feedpoint, tap {tap}, whip {WHIP_M} m",
        )
    return made


def touchstone_text(name: str) -> str:
    """A scene as a Touchstone 1.1 one-port file, as an analyzer would give it."""
    f_hz, gamma, remark = scenes()[name]
    dice = np.random.default_rng(zlib.crc32(name.encode()))
    directivity = 10 ** (-DIRECTIVITY_DB / 20) * np.exp(2j * np.pi * dice.random())
    noise = dice.standard_normal((2, f_hz.size)) * NOISE_RMS / np.sqrt(2)
    seen = gamma + directivity + noise[0] + 1j * noise[1]
    rows = [f"{f:.0f} {g.real:.7f} {g.imag:.7f}" for f, g in zip(f_hz, seen, strict=True)]
    return (
        "\n".join([f"! made-up sample: {name.replace('_', ' ')}, {remark}", "# Hz S RI R 50", *rows]) + "\n"
    )


def main() -> None:
    """Write them all."""
    for name in scenes():
        (HERE / f"{name}.s1p").write_text(touchstone_text(name), encoding="ascii")


if __name__ == "__main__":
    main()
