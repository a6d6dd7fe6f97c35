"""Make the sample sweeps of the invented club outing: wire model, piece of coax, analyzer error, file.

    python -m sample_sweeps.make_samples            # all scenes, beside this file
    python -m sample_sweeps.make_samples ridge_dipole_40m

Needs the extra ``models``. Sites, gear and numbers are invented; every file is the same on every run: its
noise is seeded from its name.
"""

from __future__ import annotations

import sys
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.models import nec

HERE = Path(__file__).resolve().parent
REFERENCE_OHM = 50.0
NOISE_RMS = 0.001  # of a hand-held analyzer with some averaging: common practice, no source
DIRECTIVITY_DB = 40.0  # after a user calibration: common practice, no source
SPEED_OF_LIGHT_M_S = 299_792_458.0  # exact, SI

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Coax:
    """A piece of coax by its distributed constants; loss in dB/100 m is k1*sqrt(f_MHz) + k2*f_MHz."""

    length_m: float
    z0_ohm: float
    velocity_factor: float
    k1: float
    k2: float

    def z_at_near_end(self, z_ohm: ComplexArray, f_hz: FloatArray) -> ComplexArray:
        """Impedance seen into the piece with ``z_ohm`` at its far end."""
        w = 2 * np.pi * f_hz
        neper_per_m = np.log(10) / 20 / 100
        conductor = self.k1 * np.sqrt(f_hz / 1e6) * neper_per_m
        dielectric = self.k2 * f_hz / 1e6 * neper_per_m
        per_z0 = 1 / (self.velocity_factor * SPEED_OF_LIGHT_M_S)
        resistance = 2 * self.z0_ohm * conductor
        series = resistance + 1j * (w * self.z0_ohm * per_z0 + resistance)
        shunt = 2 * dielectric / self.z0_ohm + 1j * w * per_z0 / self.z0_ohm
        z_line = np.sqrt(series / shunt)
        turn = np.tanh(np.sqrt(series * shunt) * self.length_m)
        return z_line * (z_ohm + z_line * turn) / (z_line + z_ohm * turn)


@dataclass(frozen=True)
class Scene:
    """What is swept, over what, through what."""

    z_ohm: Callable[[FloatArray], ComplexArray]
    start_hz: float
    stop_hz: float
    points: int
    remark: str
    line: Coax | None = None
    calibrated_with: str | None = None  # the scene that the analyzer was last calibrated for


def _ridge_dipole(leg_m: float) -> Callable[[FloatArray], ComplexArray]:
    return lambda f_hz: nec.z_ohm(nec.dipole(leg_m, height_m=9.0, radius_m=0.6e-3), f_hz)


def _spit_whip(f_hz: FloatArray) -> ComplexArray:
    whip = nec.vertical(
        2.6, radials=4, radial_m=2.5, base_m=0.3, radius_m=1.5e-3, coil_h=SPIT_COIL_H, coil_q=180.0
    )
    return nec.z_ohm(whip, f_hz) + SPIT_GROUND_OHM


SPIT_COIL_H = 27.8e-6
SPIT_GROUND_OHM = 19.0  # four short radials on a sand spit: invented


def _meadow_vertical(radiator_m: float) -> Callable[[FloatArray], ComplexArray]:
    vertical = nec.vertical(
        radiator_m, radials=3, radial_m=5.15, base_m=2.0, radial_end_m=1.0, radius_m=0.6e-3
    )
    return lambda f_hz: nec.z_ohm(vertical, f_hz)


# 12 m of RG-58 as it was laid: not quite the catalogue's constants.
MEADOW_LINE = Coax(12.1, 50.0, 0.655, 1.45, 0.0142)
MEADOW_SPAN = (12.6e6, 15.6e6, 201, "at the radio, through 12 m of RG-58")

SCENES = {
    "ridge_dipole_40m": Scene(_ridge_dipole(10.14), 6.5e6, 7.7e6, 201, "at the feedpoint"),
    "ridge_dipole_40m_long": Scene(_ridge_dipole(10.58), 6.2e6, 7.4e6, 201, "at the feedpoint"),
    "meadow_vertical_1": Scene(_meadow_vertical(5.62), *MEADOW_SPAN, MEADOW_LINE),
    "meadow_vertical_2": Scene(_meadow_vertical(5.40), *MEADOW_SPAN, MEADOW_LINE, "meadow_vertical_1"),
    "meadow_vertical_3": Scene(_meadow_vertical(5.305), *MEADOW_SPAN, MEADOW_LINE, "meadow_vertical_1"),
    "spit_whip_40m": Scene(_spit_whip, 6.9e6, 7.3e6, 101, "at the feedpoint"),
    "spit_whip_40m_coarse": Scene(_spit_whip, 1.5e6, 30.0e6, 101, "at the feedpoint, 1.5 to 30 MHz"),
}


def measured_gamma(name: str, scene: Scene, f_hz: FloatArray) -> ComplexArray:
    """Reflection as an analyzer with finite directivity and noise would give it."""
    z = scene.z_ohm(f_hz)
    if scene.line is not None:
        z = scene.line.z_at_near_end(z, f_hz)
    dice, calibration = (
        np.random.default_rng(zlib.crc32(which.encode())) for which in (name, scene.calibrated_with or name)
    )
    dice.random()
    directivity = 10 ** (-DIRECTIVITY_DB / 20) * np.exp(2j * np.pi * calibration.random())
    noise = dice.standard_normal((2, f_hz.size)) * NOISE_RMS / np.sqrt(2)
    gamma: ComplexArray = (z - REFERENCE_OHM) / (z + REFERENCE_OHM) + directivity + noise[0] + 1j * noise[1]
    return gamma


def touchstone_text(name: str, scene: Scene) -> str:
    """The scene as a Touchstone 1.1 one-port file."""
    f_hz = np.round(np.linspace(scene.start_hz, scene.stop_hz, scene.points))
    gamma = measured_gamma(name, scene, f_hz)
    rows = [f"{f:.0f} {g.real:.7f} {g.imag:.7f}" for f, g in zip(f_hz, gamma, strict=True)]
    head = [f"! made-up sample: {name.replace('_', ' ')}, {scene.remark}", "# Hz S RI R 50"]
    return "\n".join(head + rows) + "\n"


def main(names: list[str]) -> None:
    """Write the named scenes, or all."""
    for name in names or SCENES:
        (HERE / f"{name}.s1p").write_text(touchstone_text(name, SCENES[name]), encoding="ascii")


if __name__ == "__main__":
    main(sys.argv[1:])
