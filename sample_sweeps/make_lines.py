"""Make the sample sweeps of the club's lines, and of one dipole seen through two of them.

    python -m sample_sweeps.make_lines            # all scenes, beside this file

Lines are those of sweepkit.feedline; the dipole is the committed wire model tests/data/models/dipole_40m.csv.
Every file is the same on every run: its noise is seeded from its name.
"""

from __future__ import annotations

import sys
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import gamma_from_z
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import add_chain
from sweepkit.lines import LinePiece, catalogued_piece, parse_piece

HERE = Path(__file__).resolve().parent
DIPOLE_PATH = HERE.parent / "tests" / "data" / "models" / "dipole_40m.csv"
NOISE_RMS = 0.001  # of a hand-held analyzer with some averaging: common practice, no source
DIRECTIVITY_DB = 40.0  # after a user calibration: common practice, no source

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Scene:
    """Pieces from the analyzer on, and what is at their far end: a reflection, or the dipole."""

    pieces: tuple[LinePiece, ...]
    end: float | str
    start_hz: float
    stop_hz: float
    points: int
    remark: str


def _wide(pieces: tuple[LinePiece, ...], end: float, remark: str) -> Scene:
    return Scene(pieces, end, 1e6, 60e6, 201, remark)


def _dipole(pieces: tuple[LinePiece, ...], remark: str) -> Scene:
    return Scene(pieces, "dipole", 6.2e6, 8.2e6, 201, remark)


SPOOL = (parse_piece("RG-58 15 m"),)
# The last four metres lay in a puddle: three times the loss, a slower wave, a lower impedance. Invented.
WET = (
    parse_piece("RG-58 11 m"),
    catalogued_piece(
        "RG-58", 4.0, z0_ohm=46.5, velocity_factor=0.62, k1_db_per_100m=3.6, k2_db_per_100m=0.12
    ),
)
MIXED = (parse_piece("RG-58 8 m"), parse_piece("RG-59 3 m"), parse_piece("RG-58 9 m"))

SCENES = {
    "spool_open": _wide(SPOOL, 1.0, "15 m RG-58, far end open"),
    "spool_short": _wide(SPOOL, -1.0, "15 m RG-58, far end shorted"),
    "wet_line_open": _wide(WET, 1.0, "15 m RG-58, water in the last 4 m, far end open"),
    "wet_line_short": _wide(WET, -1.0, "15 m RG-58, water in the last 4 m, far end shorted"),
    "broken_line": _wide((parse_piece("RG-58 11 m"),), 1.0, "20 m RG-58, centre conductor broken at 11 m"),
    "mixed_chain_open": _wide(MIXED, 1.0, "RG-58 8 m, RG-59 3 m, RG-58 9 m, far end open"),
    "valley_dipole_feedpoint": _dipole((), "dipole at its feedpoint"),
    "valley_dipole_rg58": _dipole(SPOOL, "the same dipole through 15 m RG-58"),
    "valley_dipole_foam": _dipole(
        (parse_piece("6.1 mm foam coax 15 m"),), "the same dipole through 15 m 6.1 mm foam coax"
    ),
}


def measured_gamma(name: str, scene: Scene, f_hz: NDArray[np.float64]) -> ComplexArray:
    """Reflection as an analyzer with finite directivity and noise would give it."""
    if isinstance(scene.end, str):
        table = np.loadtxt(DIPOLE_PATH, delimiter=",", skiprows=1)
        r_ohm, x_ohm = (np.interp(f_hz, table[:, 0], table[:, column]) for column in (1, 2))
        far = gamma_from_z(r_ohm + 1j * x_ohm, 50.0)
    else:
        far = np.full(f_hz.size, scene.end, dtype=np.complex128)
    dice = np.random.default_rng(zlib.crc32(name.encode()))
    directivity = 10 ** (-DIRECTIVITY_DB / 20) * np.exp(2j * np.pi * dice.random())
    noise = dice.standard_normal((2, f_hz.size)) * NOISE_RMS / np.sqrt(2)
    gamma: ComplexArray = add_chain(f_hz, far, LineChain(scene.pieces).nominal)[0]
    return gamma + directivity + noise[0] + 1j * noise[1]


def touchstone_text(name: str, scene: Scene) -> str:
    """The scene as a Touchstone 1.1 one-port file."""
    f_hz = np.round(np.linspace(scene.start_hz, scene.stop_hz, scene.points))
    gamma = measured_gamma(name, scene, f_hz)
    rows = [f"{f:.0f} {g.real:.7f} {g.imag:.7f}" for f, g in zip(f_hz, gamma, strict=True)]
    head = [f"! made-up sample: {scene.remark}", "# Hz S RI R 50"]
    return "\n".join(head + rows) + "\n"


def main(names: list[str]) -> None:
    """Write the named scenes, or all."""
    for name in names or SCENES:
        (HERE / f"{name}.s1p").write_text(touchstone_text(name, SCENES[name]), encoding="ascii")


if __name__ == "__main__":
    main(sys.argv[1:])
