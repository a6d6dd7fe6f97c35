"""Antennas behind real lines, read by a real analyzer: the world that coverage is measured in.

Nothing here uses a formula of the package, and much of it the package does not know: the round conductor's
internal impedance by Bessel functions, connectors and joints, a transformer with winding capacitance, an analyzer
whose errors drift along the sweep and after calibration, noise even in ohms, printed digits. Sizes are those of
ordinary portable gear; common practice, no source, unless said beside them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy.special import ive

from sweepkit.lines import read_catalogue
from tests.coverage.antennas import NARROW_TABLES, table
from tests.models import families, nec
from tests.models.wide_antennas import through_choke

Array = np.ndarray
Impedance = Callable[[Array], Array]

SPEED_M_S = 299_792_458.0  # exact, SI
VACUUM_H_M = 4e-7 * np.pi  # magnetic constant, CODATA to ten digits
VACUUM_F_M = 1 / (VACUUM_H_M * SPEED_M_S**2)
COPPER_OHM_M = 1.724e-8  # IEC 60028
DB_PER_NEPER = 20 / np.log(10)
PUBLISHED_HZ = (10e6, 200e6, 1e9)  # where the published impedance of a piece may hold
FITTED_HZ = 30e6  # where a line has the loss that its type is published with
# Diameters of inner conductor and dielectric, data sheets of the types; loss constants come from the catalogue.
DIAMETERS_MM = {
    "RG-58": (0.90, 2.95),
    "RG-213": (2.26, 7.25),
    "RG-174": (0.48, 1.52),
    "RG-8X": (1.45, 4.70),
    "RG-59": (0.58, 3.71),
    "RG-6": (1.02, 4.57),
}
IMPEDANCE_SHARE = 0.014  # 50 ± 2 ohm, MIL-DTL-17, as three sigma
LINE_CLASSES = {
    "none": None,
    "under 5 m": (1, 5),
    "5 to 15 m": (5, 15),
    "15 to 30 m": (15, 30),
    "75 ohm": (2, 25),
}
PRINTINGS = ("reflection", "ohms", "printed 0.01 ohm", "printed 0.1 ohm", "printed 1 ohm")
SPECIMENS = Path(__file__).resolve().parents[1] / "data" / "models" / "specimens.npz"
END_FEDS = SPECIMENS.with_name("end_feds.npz")


@dataclass(frozen=True)
class Coax:
    """One piece as it is: impedance at high frequencies, and how much more its copper resists than smooth one."""

    inner_m: float
    z0_ohm: float
    velocity_factor: float
    resistivity: float
    loss_tangent: float
    length_m: float

    def per_metre(self, f_hz: Array) -> tuple[Array, Array]:
        """Series impedance and shunt admittance of a metre, inside of the conductors included."""
        w = 2 * np.pi * f_hz
        external_h = self.z0_ohm / (self.velocity_factor * SPEED_M_S)
        ratio = np.exp(2 * np.pi * external_h / VACUUM_H_M)
        capacitance_f = 1 / (self.z0_ohm * self.velocity_factor * SPEED_M_S)
        rho, radius_m = self.resistivity * COPPER_OHM_M, self.inner_m / 2
        k = np.sqrt(1j * w * VACUUM_H_M / rho)
        inner = k * rho / (2 * np.pi * radius_m) * ive(0, k * radius_m) / ive(1, k * radius_m)
        outer = k * rho / (2 * np.pi * radius_m * ratio)
        shunt = 1j * w * capacitance_f * (1 - 1j * self.loss_tangent)
        return 1j * w * external_h + inner + outer, shunt

    def loss_db(self, f_hz: float) -> float:
        series, shunt = self.per_metre(np.array([f_hz]))
        return float(20 / np.log(10) * np.sqrt(series * shunt).real[0])

    def seen_through(self, f_hz: Array, z_ohm: Array, length_m: float | None = None) -> Array:
        """Impedance at the other end."""
        series, shunt = self.per_metre(f_hz)
        z0, turn = np.sqrt(series / shunt), np.sqrt(series * shunt)
        tangent = np.tanh(turn * (self.length_m if length_m is None else length_m))
        return z0 * (z_ohm + z0 * tangent) / (z0 + z_ohm * tangent)


def make_coax(type_name: str, told_m: float, dice: np.random.Generator) -> Coax:
    """A piece of a type, off its published figures and its told length as such pieces are."""
    published, (inner_mm, _) = read_catalogue()[type_name], DIAMETERS_MM[type_name]
    k1, k2 = published.k1_db_per_100m, published.k2_db_per_100m
    factor = published.velocity_factor * (1 + 0.01 * dice.standard_normal())
    wanted_db = (k1 * np.sqrt(FITTED_HZ / 1e6) + k2 * FITTED_HZ / 1e6) / 100
    wanted_db *= np.exp(max(published.loss_spread, 0.1) * np.clip(dice.standard_normal(), -2.5, 2.5))
    tangent = k2 / (100 * DB_PER_NEPER * 1e6) * factor * SPEED_M_S / np.pi
    length_m = max(told_m * (1 + 0.01 * dice.standard_normal()) + 0.05 * dice.standard_normal(), 0.1)
    z0_ohm = published.z0_ohm * (1 + IMPEDANCE_SHARE * dice.standard_normal())
    piece = Coax(inner_mm / 1e3, z0_ohm, factor, 1.0, tangent, length_m)
    for _ in range(8):  # resistance goes with the root of resistivity, nearly all of the loss is resistance
        share = max(wanted_db - 0.5 * k2 * FITTED_HZ / 1e8, 0.3 * wanted_db) / piece.loss_db(FITTED_HZ)
        piece = replace(piece, resistivity=piece.resistivity * share**2)
    published_hz = float(dice.choice(PUBLISHED_HZ))
    series, shunt = piece.per_metre(np.array([published_hz]))
    return replace(piece, z0_ohm=z0_ohm * piece.z0_ohm / np.sqrt(series / shunt).real[0])


def joint(f_hz: Array, z_ohm: Array, dice: np.random.Generator) -> Array:
    """A pair of connectors or an adapter that nobody told of: resistance, and centimetres of about 50 ohm."""
    z_ohm = z_ohm + np.exp(dice.uniform(np.log(0.02), np.log(1.0)))
    z0_ohm, tangent = dice.uniform(40, 60), 1j * np.tan(2 * np.pi * f_hz * dice.uniform(0.03, 0.06) / 2e8)
    seen = z0_ohm * (z_ohm + z0_ohm * tangent) / (z0_ohm + z_ohm * tangent)
    lost = np.exp(-np.exp(dice.uniform(np.log(0.005), np.log(0.1))) * np.sqrt(f_hz / 30e6) / 4.3429)
    gamma = (seen - 50) / (seen + 50) * (lost if dice.random() < 0.5 else 1.0)
    return 50 * (1 + gamma) / (1 - gamma)


@dataclass(frozen=True)
class Antenna:
    """Impedance at the antenna's connector, and where it is known."""

    family: str
    z_ohm: Impedance
    low_hz: float
    high_hz: float


@cache
def specimens(path: Path) -> list[families.Specimen]:
    return families.load(path)


@cache
def smooth_specimens(path: Path) -> list[families.Specimen]:
    """Those of a file and more end-feds, without any that jumps between frequencies as no antenna does."""
    return [s for s in [*specimens(path), *specimens(END_FEDS)] if s.roughness < families.ROUGHEST]


def draw_antenna(dice: np.random.Generator, path: Path = SPECIMENS) -> Antenna:
    """Any family with equal chance."""
    family = str(dice.choice(["dipole", "vee", "vertical", "end-fed", "whip", "loop", "table", "circuit"]))
    if family == "circuit":
        return _circuit(dice)
    if family == "table":
        name = str(dice.choice([name for name in NARROW_TABLES if not name.startswith("end_fed")]))
        case = table(name)
        known = {"dipole": "dipole", "vee": "vee", "whip": "whip"}[name.split("_")[0]]
        return Antenna(known, case.z_ohm, case.low_hz, case.high_hz)
    kinds = {"dipole": "dipole", "vee": "inverted-vee", "whip": "loaded-whip"}
    fitting = [s for s in smooth_specimens(path) if s.spec.kind == kinds.get(family, family)]
    return _specimen(family, fitting[int(dice.integers(len(fitting)))], dice)


def _specimen(family: str, specimen: families.Specimen, dice: np.random.Generator) -> Antenna:
    spec = specimen.spec
    length_m = spec.guess_m * float(dice.uniform(0.93, 1.08))
    low_hz, high_hz = (edge * spec.target_hz * spec.guess_m / length_m for edge in (0.823, 1.177))
    if family == "end-fed":
        box, winding_f = dict(spec.transformer or {}), dice.uniform(3e-12, 12e-12)
        box["core_loss_ohm"] = dice.uniform(250, 1200)  # 0.2 to 0.8 dB at 50 ohm; leads and copper on top

        def z_ohm(f_hz: Array) -> Array:
            high = 1 / (1 / specimen.high_side_ohm(f_hz, length_m) + 2j * np.pi * f_hz * winding_f)
            return nec.through_transformer(high, f_hz, **box) + 0.8

        return Antenna(family, z_ohm, low_hz, high_hz)
    ratio, leakage_h = (2.0, 0.1e-6) if family == "loop" and dice.random() < 0.5 else (1.0, 0.0)
    return Antenna(
        family,
        lambda f_hz: specimen.z_ohm(f_hz, length_m) / ratio + 2j * np.pi * f_hz * leakage_h,
        low_hz,
        high_hz,
    )


def _circuit(dice: np.random.Generator) -> Antenna:
    """A series or parallel resonator next to a far one, with resistance that rises with frequency."""
    f0_hz = float(dice.choice([3.6e6, 7.1e6, 10.1e6, 14.2e6, 21.2e6, 28.5e6]))
    r_ohm, q = np.exp(dice.uniform(np.log(25), np.log(100))), dice.uniform(6, 30)
    rise, other_hz, other_ohm = dice.uniform(0, 3), f0_hz * dice.uniform(1.9, 3.1), dice.uniform(500, 5000)
    parallel = bool(dice.random() < 0.4)

    def z_ohm(f_hz: Array) -> Array:
        x = f_hz / f0_hz - f0_hz / f_hz
        other = other_ohm * (1 + 12j * (f_hz / other_hz - other_hz / f_hz))
        if parallel:
            return r_ohm * (f_hz / f0_hz) ** rise / (1 + 1j * q * x) + 2500 / other
        series = r_ohm * ((f_hz / f0_hz) ** rise + 1j * q * x)
        return 1 / (1 / series + 1 / other)

    return Antenna("circuit", z_ohm, 0.78 * f0_hz, 1.22 * f0_hz)


def _behind_choke(antenna: Antenna, seed: tuple[int, ...]) -> Antenna:
    """The antenna with a choke of its own, which belongs to it."""

    def z_ohm(f_hz: Array) -> Array:
        return through_choke(antenna.z_ohm(f_hz), f_hz, np.random.default_rng([*seed, 2]))

    return replace(antenna, z_ohm=z_ohm)


def read_off(f_hz: Array, gamma: Array, noise: float, dice: np.random.Generator, *, in_ohms: bool) -> Array:
    """What a hand-held analyzer shows: residual errors that run along the sweep, drift, noise."""
    directivity = _error(f_hz, 10 ** (-dice.uniform(35, 46) / 20), dice)
    match = _error(f_hz, 10 ** (-dice.uniform(30, 40) / 20), dice)
    tracking = _error(f_hz, 10 ** (-dice.uniform(30, 40) / 20), dice)
    drift = 0.002 * complex(*dice.standard_normal(2)) * np.linspace(0, 1, f_hz.size)
    read = directivity + gamma * (1 + tracking + drift) / (1 - match * gamma)
    chance = noise / np.sqrt(2) * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size))
    if not in_ohms:
        return read + chance
    z_ohm = 50 * (1 + read) / (1 - read) + 100 * chance
    return (z_ohm - 50) / (z_ohm + 50)


def _error(f_hz: Array, size: float, dice: np.random.Generator) -> Array:
    """A constant, a part that grows with frequency as a standard's stray does, and a small one further out."""
    unit = lambda: np.exp(2j * np.pi * dice.random())  # noqa: E731
    far_s = dice.uniform(5e-9, 40e-9)  # twice half a metre to four metres of jumper
    parts = unit() + dice.uniform(0, 0.6) * unit() * f_hz / f_hz.mean()
    parts = parts + dice.uniform(0, 0.4) * unit() * np.exp(-2j * np.pi * f_hz * far_s)
    return size * parts / np.sqrt(np.mean(np.abs(parts) ** 2))


@dataclass(frozen=True)
class SetUp:
    """One antenna swept once: what the file says, what was told, and what is true."""

    family: str
    line_class: str
    printing: str
    structure: str
    told: tuple[str, ...] | None
    f_hz: Array
    gamma: Array
    antenna: Antenna

    def write(self, path: Path) -> Path:
        """The analyzer's file: a Touchstone file, or a table of R and X with printed digits."""
        if not self.printing.startswith("printed"):
            rows = [f"{f:.0f} {g.real:.6f} {g.imag:.6f}" for f, g in zip(self.f_hz, self.gamma, strict=True)]
            path = path.with_suffix(".s1p")
            path.write_text("\n".join(["# Hz S RI R 50", *rows]) + "\n", encoding="utf-8")
            return path
        places = {"0.01": 2, "0.1": 1, "1": 0}[self.printing.split()[1]]
        z = 50 * (1 + self.gamma) / (1 - self.gamma)
        rows = [
            f"{f:.0f},{max(v.real, 0):.{places}f},{v.imag:.{places}f}"
            for f, v in zip(self.f_hz, z, strict=True)
        ]
        path = path.with_suffix(".csv")
        path.write_text("\n".join(["frequency_hz,R,X", *rows]) + "\n", encoding="utf-8")
        return path


def draw_set_up(
    seed: tuple[int, ...],
    *,
    structure: bool = False,
    choked: bool = False,
    line_class: str | None = None,
    path: Path = SPECIMENS,
) -> SetUp:
    """One set-up; with ``structure`` one untold thing more stands in the line, ``choked`` a choke at the feedpoint."""
    dice = np.random.default_rng([*seed, int(structure)])
    antenna = draw_antenna(dice, path)
    if choked and antenna.family != "end-fed":
        antenna = _behind_choke(antenna, seed)
    f_hz = _grid(antenna, dice)
    classes = [name for name in LINE_CLASSES if name != "none" or not structure]
    chosen = str(dice.choice(classes))
    line_class = chosen if line_class is None else line_class
    z_ohm, told, word = antenna.z_ohm(f_hz), None, ""
    if LINE_CLASSES[line_class] is not None:
        types = ["RG-59", "RG-6"] if line_class == "75 ohm" else ["RG-58", "RG-213", "RG-174", "RG-8X"]
        type_name, told_m = str(dice.choice(types)), round(float(dice.uniform(*LINE_CLASSES[line_class])), 1)
        if type_name == "RG-174":
            told_m = min(told_m, 10.0)
        piece, told = make_coax(type_name, told_m, dice), (f"{type_name} {told_m:g} m",)
        z_ohm = joint(f_hz, z_ohm, dice)
        at_m = piece.length_m * dice.uniform(0.1, 0.9)
        z_ohm = piece.seen_through(f_hz, z_ohm, at_m)
        if structure:
            z_ohm, word = _untold(f_hz, z_ohm, piece, dice)
        z_ohm = joint(f_hz, piece.seen_through(f_hz, z_ohm, piece.length_m - at_m), dice)
    printing = str(dice.choice([*PRINTINGS[:1] * 4, *PRINTINGS[1:]]))
    gamma = (z_ohm - 50) / (z_ohm + 50)
    gamma = read_off(f_hz, gamma, dice.uniform(0.0005, 0.002), dice, in_ohms=printing == "ohms")
    return SetUp(antenna.family, line_class, printing, word, told, f_hz, gamma, antenna)


def _untold(f_hz: Array, z_ohm: Array, piece: Coax, dice: np.random.Generator) -> tuple[Array, str]:
    if dice.random() < 0.5:
        ohm = dice.uniform(1.0, 2.0)
        return z_ohm + ohm, f"a joint of {ohm:.1f} ohm"
    share = dice.choice([-1, 1]) * dice.uniform(0.05, 0.08)
    other = replace(piece, z0_ohm=piece.z0_ohm * (1 + share))
    return other.seen_through(f_hz, z_ohm, 1.0), f"a metre of {100 * share:+.0f} % impedance"


def _grid(antenna: Antenna, dice: np.random.Generator) -> Array:
    """A sweep round the dip, as wide as operators sweep, inside what is known."""
    dense_hz = np.linspace(antenna.low_hz, antenna.high_hz, 4001)
    z_ohm = antenna.z_ohm(dense_hz)
    dip_hz = dense_hz[np.argmin(np.abs((z_ohm - 50) / (z_ohm + 50)))]
    shares = dice.uniform(0.03, 0.07, 2) if dice.random() < 0.2 else dice.uniform(0.07, 0.22, 2)
    low_hz = max(dip_hz * (1 - shares[0]), antenna.low_hz)
    high_hz = min(dip_hz * (1 + shares[1]), antenna.high_hz)
    return np.round(np.linspace(low_hz, high_hz, int(dice.choice([101, 201, 201, 401]))))


def truth_of(set_up: SetUp) -> dict[str, float | None]:
    """Dip, its SWR, the zero of X next to it with R there, both edges of SWR 2; ``None`` where not swept."""
    f_hz = np.linspace(set_up.f_hz[0], set_up.f_hz[-1], 20_001)
    z_ohm = set_up.antenna.z_ohm(f_hz)
    size = np.abs((z_ohm - 50) / (z_ohm + 50))
    k = int(np.argmin(size))
    none = dict.fromkeys(("dip", "swr", "x0", "r", "low edge", "high edge"))
    if k < 20 or k > f_hz.size - 20:
        return none
    swr = (1 + size) / (1 - size)
    found = none | {"dip": float(f_hz[k]), "swr": float(swr[k])}
    zeros = np.flatnonzero(np.sign(z_ohm.imag[1:]) != np.sign(z_ohm.imag[:-1]))
    if zeros.size:
        j = int(zeros[np.argmin(np.abs(zeros - k))])
        share = z_ohm.imag[j] / (z_ohm.imag[j] - z_ohm.imag[j + 1])
        found |= {
            "x0": float(f_hz[j] + share * (f_hz[1] - f_hz[0])),
            "r": float(z_ohm.real[j] + share * (z_ohm.real[j + 1] - z_ohm.real[j])),
        }
    below, above = np.flatnonzero(swr[:k] > 2), np.flatnonzero(swr[k:] > 2)
    if swr[k] < 2 and below.size:
        found["low edge"] = float(
            np.interp(2, swr[below[-1] : below[-1] + 2][::-1], f_hz[below[-1] : below[-1] + 2][::-1])
        )
    if swr[k] < 2 and above.size:
        j = k + int(above[0])
        found["high edge"] = float(np.interp(2, swr[j - 1 : j + 1], f_hz[j - 1 : j + 1]))
    return found
