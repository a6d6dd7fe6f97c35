"""How the dip of modelled antennas answers to length: tests/data/models/length_answers.csv, a row each.

    python -m tests.models.length_answers 21 160                    # seed, antennas of each family
    python -m tests.models.length_answers 21 100 dipole-real        # one family anew, the other rows stay

Needs the extra ``models`` and about half an hour. The antennas are those of ``families``; each is computed
at five lengths from 6 % short to 6 % long. ``fit_trends`` turns the rows into the numbers of the package.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import gamma_from_z, swr_from_gamma_abs, z_from_gamma
from tests.models import families, nec

PATH = Path(__file__).resolve().parent.parent / "data" / "models" / "length_answers.csv"
COLUMNS = (
    "family",
    "mhz",
    "wavelengths",
    "swr",
    "loaded_q",
    "r_ohm",
    "q",
    "slope",
    "curvature",
    "wires",
    "wire_wavelengths",
    "coil_ohm",
)
IN_TABLE = (
    "dipole",
    "inverted-vee",
    "vertical-radials",
    "vertical-counterpoise",
    "vertical-ground",
    "whip",
    "end-fed",
    "loop",
    "dipole-real",
)
FAMILIES_OF = {"whip": ("whip-ground", "whip-radials"), "dipole-real": ("dipole-real", "inverted-vee-real")}
STEPS = np.log([0.94, 0.97, 1.0, 1.03, 1.06])
STEPS_REAL = np.log([0.96, 1.0, 1.04])  # of families with more wire to compute

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def rows(family: str, seed: int, count: int) -> Iterator[dict[str, Any]]:
    """A row for each antenna that has a dip near its target."""
    for spec in families.specs(family, seed, count):
        start_hz = _rough_dip_hz(spec)
        if start_hz is None:
            continue
        steps = STEPS_REAL if spec.family in families.REAL else STEPS
        near = [_dip_at(spec, spec.guess_m * np.exp(step), start_hz * np.exp(-step)) for step in steps]
        if any(dip is None for dip in near):
            continue
        ln_f = np.array([dip[0] for dip in near if dip is not None])
        yield _row(spec, steps, ln_f, near[len(near) // 2])


def _row(spec: families.Spec, steps: FloatArray, ln_f: FloatArray, middle: Any) -> dict[str, Any]:
    half_curvature, slope, _ = np.polyfit(steps, ln_f - middle[0], 2)
    _, z, dz = middle
    f_hz = float(np.exp(middle[0]))
    pole = -(z + 50) / dz  # relative detuning at which the antenna would be -50 ohm
    wire_m = spec.known.get("radial_length_m") or spec.known.get("counterpoise_m") or 0.0
    wavelength_m = families.SPEED_OF_LIGHT_M_S / f_hz
    values = {
        "mhz": f_hz / 1e6,
        "wavelengths": spec.guess_m / wavelength_m,
        "swr": float(swr_from_gamma_abs(abs(gamma_from_z(z, 50.0)))),
        "loaded_q": 1 / (2 * abs(pole.imag)),
        "r_ohm": z.real,
        "q": abs(dz) / (2 * z.real),
        "slope": slope,
        "curvature": 2 * half_curvature,
        "wires": spec.known.get("radials", 0),
        "wire_wavelengths": wire_m / wavelength_m,
        "coil_ohm": 2 * np.pi * f_hz * spec.coil_h,
    }
    family = f"{spec.kind}-real" if spec.family == "dipole-real" else spec.family
    return {"family": family} | {name: f"{value:.4g}" for name, value in values.items()}


def _at_connector(spec: families.Spec, z: ComplexArray, f_hz: FloatArray) -> ComplexArray:
    z = z + spec.series_ohm + nec.coil_z_ohm(f_hz, spec.coil_h, spec.coil_q, spec.coil_f)
    return nec.through_transformer(z, f_hz, **spec.transformer) if spec.transformer else z


def _curve(spec: families.Spec, length_m: float, centre_hz: float, reach: float, nodes: int) -> Any:
    """A function of frequency that interpolates the model on Chebyshev nodes around a centre."""
    ln_nodes = np.log(centre_hz) - reach * np.cos(np.pi * np.arange(nodes) / (nodes - 1))
    reference_ohm = 1000.0 if spec.transformer else 100.0
    values = gamma_from_z(nec.z_ohm(families.build(spec, length_m), np.exp(ln_nodes)), reference_ohm)

    def z_ohm(f_hz: FloatArray) -> ComplexArray:
        scaled = (np.log(f_hz) - np.log(centre_hz)) / reach
        smooth = families.barycentric(scaled, nodes) @ values
        return _at_connector(spec, z_from_gamma(smooth, reference_ohm), f_hz)

    return z_ohm


def _rough_dip_hz(spec: families.Spec) -> float | None:
    nodes = 21 if spec.transformer else 9
    f_hz = spec.target_hz * np.exp(np.linspace(-0.14, 0.14, 401))
    gamma_abs = np.abs(gamma_from_z(_curve(spec, spec.guess_m, spec.target_hz, 0.14, nodes)(f_hz), 50.0))
    inner = gamma_abs[1:-1]
    dips = np.flatnonzero((inner < gamma_abs[:-2]) & (inner < gamma_abs[2:])) + 1
    return float(f_hz[dips[np.argmin(gamma_abs[dips])]]) if dips.size else None


def _dip_at(spec: families.Spec, length_m: float, start_hz: float) -> tuple[float, complex, complex] | None:
    """Logarithm of the dip's frequency, impedance there and its derivative with respect to ln f."""
    z_ohm = _curve(spec, length_m, start_hz, 0.05, 9 if spec.transformer else 5)
    ln_f = np.log(start_hz) + np.linspace(-0.05, 0.05, 801)
    power = np.abs(gamma_from_z(z_ohm(np.exp(ln_f)), 50.0)) ** 2
    least = int(np.argmin(power))
    if not 6 <= least <= 794:
        return None
    cubic = np.polyfit(np.arange(-6.0, 7.0), power[least - 6 : least + 7], 3)
    turns = np.roots(np.polyder(cubic))
    real = turns[np.abs(turns.imag) < 1e-9].real
    at = ln_f[least] + real[np.argmin(np.abs(real))] * (ln_f[1] - ln_f[0])
    step = 1e-3
    low, here, high = z_ohm(np.exp(at + np.array([-step, 0.0, step])))
    return float(at), complex(here), complex((high - low) / (2 * step))


def read_rows() -> dict[str, NDArray[Any]]:
    """Committed rows by column."""
    with PATH.open(encoding="ascii", newline="") as file:
        table = list(csv.DictReader(file))
    numbers = {name: np.array([float(row[name]) for row in table]) for name in COLUMNS[1:]}
    return numbers | {"family": np.array([row["family"] for row in table])}


def main(seed: str, count: str, *families_named: str) -> None:
    """Compute the families named, or all, row by row; the rows of the others stay."""
    named = families_named or IN_TABLE
    with PATH.open(encoding="ascii", newline="") as file:
        before = [row for row in csv.DictReader(file) if not _is_of(row["family"], named)]
    with PATH.open("w", encoding="ascii", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(before)
        for name in named:
            for row in rows(name, int(seed), int(count)):
                writer.writerow(row)
                file.flush()


def _is_of(family: str, named: Iterable[str]) -> bool:
    """Whether a row's family is one of the makers named; one maker may give rows of several."""
    return any(family in FAMILIES_OF.get(name, (name,)) for name in named)


if __name__ == "__main__":
    main(*sys.argv[1:])
