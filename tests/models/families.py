"""Seeded families of antennas to try the trim answer on: how each answers to length, as a smooth surface.

    python -m tests.models.families FOLDER SEED COUNT      # COUNT of each family, one .npz each
    python -m tests.models.families tests/data/models/specimens.npz 12 2
    python -m tests.models.families tests/data/models/end_feds.npz 61 6 end-fed

A specimen is one antenna at one site with one length that is trimmed. Its wires' impedance is computed on
Chebyshev nodes of ln L and ln(f L) and interpolated, so that a sweep at any length costs nothing. Coil,
ground loss and transformer are added afterwards. The ranges are those of portable practice (3 to 15 m
high, three soils, wire of 0.4 to 2 mm); nothing in the package reads these files.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.conversions import gamma_from_z, z_from_gamma
from tests.models import nec

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

SPEED_OF_LIGHT_M_S = 299_792_458.0  # exact, SI
BANDS_HZ = (3.65e6, 5.36e6, 7.1e6, 10.12e6, 14.15e6, 18.1e6, 21.2e6, 24.94e6, 28.5e6)
SOIL_NAMES = ("dry", "average", "wet")
ALL_SOILS = (*SOIL_NAMES, "sandy", "meadow")
F_NODES, F_NODES_END_FED, LENGTH_NODES = 13, 33, 6
F_NODES_REAL, LENGTH_NODES_REAL = {"end-fed-box": 23, "whip-mast": 21}, 5
END_FED_REFERENCE_OHM = 1000.0  # damps both kinds of resonance, so that the interpolated reflection is smooth
LARGEST_MISFIT = 0.1  # of the surface, as reflection; the dip of a narrow whip moves by a thousandth then
ROUGHEST = (
    0.005  # last terms of a reflection that is a smooth function of frequency: above, the wire engine failed
)
F_SPAN = (0.82, 1.18)  # of target frequency times guessed length over length: the dip stays near its middle
LENGTH_SPAN = (0.90, 1.16)  # of the first guess of the right length


@dataclass(frozen=True)
class Spec:
    """One antenna in words: what the builder needs, what an operator could know, what stands at the feed."""

    kind: str
    family: str
    target_hz: float
    guess_m: float
    shape: dict[str, Any]
    known: dict[str, Any] = field(default_factory=dict)
    coil_h: float = 0.0
    coil_q: float = 200.0
    coil_f: float = 0.0
    series_ohm: float = 0.0
    transformer: dict[str, float] | None = None

    @property
    def has_poles(self) -> bool:
        """Whether the wires' impedance may have a pole near the dip: its reflection is smooth then."""
        return self.transformer is not None or self.family == "whip-mast"


def _real_end_fed(length_m: float, soil: nec.Soil, shape: dict[str, Any]) -> nec.Antenna:
    sleeve, shield_m = shape.pop("sleeve"), shape.pop("shield_m")
    antenna = replace(nec.end_fed(length_m, soil=soil, **shape), sleeve=sleeve)
    return nec.with_shield(antenna, shield_m) if shield_m else antenna


def _real_dipole(length_m: float, soil: nec.Soil, shape: dict[str, Any]) -> nec.Antenna:
    sleeve, shield_m = shape.pop("sleeve"), shape.pop("shield_m")
    antenna = replace(nec.inverted_vee(length_m, soil=soil, **shape), sleeve=sleeve)
    return nec.with_shield(antenna, shield_m) if shield_m else antenna


def _real_loop(length_m: float, soil: nec.Soil, shape: dict[str, Any]) -> nec.Antenna:
    sleeve = shape.pop("sleeve")
    return replace(nec.loop(length_m, soil=soil, **shape), sleeve=sleeve)


def _real_vertical(length_m: float, soil: nec.Soil, shape: dict[str, Any]) -> nec.Antenna:
    sleeve = shape.pop("sleeve")
    return replace(nec.vertical(length_m, soil=soil, **shape), sleeve=sleeve)


def _whip_on_mast(length_m: float, soil: nec.Soil, shape: dict[str, Any]) -> nec.Antenna:
    mast_m, coil = shape.pop("mast_m"), {key: shape.pop(key) for key in ("coil_h", "coil_q", "coil_f")}
    return nec.with_coil_up(nec.vertical(length_m, soil=soil, **shape), mast_m, **coil)


REAL: dict[str, Callable[[float, nec.Soil, dict[str, Any]], nec.Antenna]] = {
    "end-fed-box": _real_end_fed,
    "dipole-real": _real_dipole,
    "loop-box": _real_loop,
    "vertical-real": _real_vertical,
    "whip-mast": _whip_on_mast,
}


def build(spec: Spec, length_m: float) -> nec.Antenna:
    """The specimen with its trimmed part ``length_m`` long; coil and losses left out."""
    shape = dict(spec.shape)
    soil = nec.SOILS[shape.pop("soil", "average")]
    if spec.family == "dipole":
        return nec.dipole(length_m, soil=soil, **shape)
    if spec.family == "inverted-vee":
        return nec.inverted_vee(length_m, soil=soil, **shape)
    if spec.family in (
        "vertical-radials",
        "vertical-counterpoise",
        "vertical-low",
        "whip-radials",
        "whip-low",
    ):
        return nec.vertical(length_m, soil=soil, **shape)
    if spec.family in REAL:
        return REAL[spec.family](length_m, soil, shape)
    if spec.family in ("vertical-ground", "whip-ground"):
        return nec.vertical_over_mirror(length_m, ground_loss_ohm=0.0, **shape)
    if spec.family == "end-fed":
        return nec.end_fed(length_m, soil=soil, **shape)
    return nec.loop(length_m, soil=soil, **shape)


def _dipole(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    shape = {"height_m": dice.uniform(3, 15), "soil": str(dice.choice(SOIL_NAMES)), "radius_m": radius_m}
    return Spec("dipole", "dipole", f_hz, 0.2405 * SPEED_OF_LIGHT_M_S / f_hz, shape)


def _vee(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    leg_m = 0.243 * SPEED_OF_LIGHT_M_S / f_hz
    droop_deg = dice.uniform(15, 50)
    lowest_apex_m = 1.16 * leg_m * np.sin(np.radians(droop_deg)) + 0.7
    apex_m = max(dice.uniform(5, 15), lowest_apex_m)
    soil = str(dice.choice(SOIL_NAMES))
    shape = {"apex_m": apex_m, "droop_deg": droop_deg, "soil": soil, "radius_m": radius_m}
    return Spec("inverted-vee", "inverted-vee", f_hz, leg_m, shape)


def _vertical_radials(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    quarter_m = 0.25 * SPEED_OF_LIGHT_M_S / f_hz
    count = int(dice.integers(2, 5))
    radial_m = quarter_m * dice.uniform(0.93, 1.03)
    base_m = dice.uniform(1.0, 4.0)
    shape = {
        "radials": count,
        "radial_m": radial_m,
        "base_m": base_m,
        "radial_end_m": base_m * dice.uniform(0.5, 1.0),
        "soil": str(dice.choice(SOIL_NAMES)),
        "radius_m": radius_m,
    }
    known = {"radials": count, "radial_length_m": radial_m}
    return Spec("vertical", "vertical-radials", f_hz, 0.2465 * SPEED_OF_LIGHT_M_S / f_hz, shape, known)


def _vertical_counterpoise(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    wavelength_m = SPEED_OF_LIGHT_M_S / f_hz
    count = int(dice.integers(1, 3))
    counterpoise_m = wavelength_m * dice.uniform(0.10, 0.20)
    shape = {
        "radials": count,
        "radial_m": counterpoise_m,
        "base_m": dice.uniform(0.7, 2.5),
        "soil": str(dice.choice(SOIL_NAMES)),
        "radius_m": radius_m,
    }
    known = {"radials": count, "counterpoise_m": counterpoise_m}
    share = counterpoise_m / wavelength_m
    guess_m = wavelength_m * (0.262 + (0.75 if count == 1 else 0.45) * (0.235 - share))
    return Spec("vertical", "vertical-counterpoise", f_hz, guess_m, shape, known)


def _vertical_ground(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    guess_m = 0.2415 * SPEED_OF_LIGHT_M_S / f_hz
    known = {"radial_height_m": 0.0}
    loss_ohm = dice.uniform(2, 25)
    return Spec(
        "vertical", "vertical-ground", f_hz, guess_m, {"radius_m": radius_m}, known, series_ohm=loss_ohm
    )


def _whip(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    wavelength_m = SPEED_OF_LIGHT_M_S / f_hz
    length_m = wavelength_m * dice.uniform(0.04, 0.16)
    on_ground = bool(dice.random() < 0.5)
    shape: dict[str, Any] = {"radius_m": dice.uniform(1e-3, 3e-3)}
    known: dict[str, Any] = {"radial_height_m": 0.0}
    if not on_ground:
        count = int(dice.choice([4, 6, 8]))
        radial_m = wavelength_m * dice.uniform(0.06, 0.12)
        shape |= {"radials": count, "radial_m": radial_m, "base_m": dice.uniform(0.1, 0.6)}
        shape |= {"soil": str(dice.choice(SOIL_NAMES))}
        known = {"radials": count, "radial_length_m": radial_m}
    family = "whip-ground" if on_ground else "whip-radials"
    spec = Spec("loaded-whip", family, f_hz, length_m, shape, known)
    z = nec.z_ohm(build(spec, length_m), [f_hz])[0]
    coil_h = -z.imag / (2 * np.pi * f_hz) * dice.uniform(0.97, 1.03)
    known = known | {"coil_h": coil_h}
    q = dice.uniform(120, 300)
    loss_ohm = dice.uniform(5, 25)
    return Spec(
        "loaded-whip", family, f_hz, length_m, shape, known, coil_h=coil_h, coil_q=q, series_ohm=loss_ohm
    )


def _end_fed(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    wavelength_m = SPEED_OF_LIGHT_M_S / f_hz
    wire_m = 0.486 * wavelength_m
    counterpoise_m = wavelength_m * dice.uniform(0.03, 0.10)
    feed_m = dice.uniform(1.0, 3.0)
    shape = {
        "feed_m": feed_m,
        "far_m": feed_m + min(dice.uniform(2, 10), 0.7 * wire_m),
        "counterpoise_m": counterpoise_m,
        "soil": str(dice.choice(SOIL_NAMES)),
        "radius_m": radius_m,
    }
    transformer = {
        "magnetising_h": dice.uniform(1.0, 2.0) * 500 / (2 * np.pi * f_hz),
        "core_loss_ohm": dice.uniform(700, 2500),
        "leakage_h": dice.uniform(0.05e-6, 0.15e-6) * 7.1e6 / f_hz,
        "capacitor_f": dice.uniform(50e-12, 120e-12) * 7.1e6 / f_hz,
    }
    known = {"counterpoise_m": counterpoise_m}
    return Spec("end-fed", "end-fed", f_hz, wire_m, shape, known, transformer=transformer)


def _loop(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    around_m = 1.055 * SPEED_OF_LIGHT_M_S / f_hz
    shape = {
        "height_m": dice.uniform(3, 15),
        "upright": bool(dice.random() < 0.4),
        "soil": str(dice.choice(SOIL_NAMES)),
        "radius_m": radius_m,
    }
    return Spec("loop", "loop", f_hz, around_m, shape)


def _sleeve(dice: np.random.Generator) -> tuple[float, float] | None:
    """Insulation of hook-up wire, or none: radii and permittivities of PVC and polyethylene, common practice."""
    return None if dice.random() < 0.4 else (float(dice.uniform(1.4, 2.6)), float(dice.uniform(2.2, 3.5)))


def _end_fed_box(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    """With a real 49:1 box, whose parts do not scale with the band, and the coax as part of the antenna."""
    wavelength_m = SPEED_OF_LIGHT_M_S / f_hz
    plain = _end_fed(dice, f_hz, radius_m)
    winding_f = dice.uniform(3e-12, 12e-12)
    sleeve = _sleeve(dice)
    has_counterpoise = dice.random() < 0.6
    # as far as to the choke that good practice puts there; longer coax takes the antenna over
    alone = has_counterpoise and dice.random() < 0.4
    shield_m = 0.0 if alone else wavelength_m * dice.uniform(0.05, 0.20)
    counterpoise_m = plain.shape["counterpoise_m"] if has_counterpoise else 0.5
    angle = 2 * np.pi * max(shield_m, counterpoise_m) / wavelength_m
    box_s = 2 * np.pi * f_hz * winding_f  # in series with what the other half of the antenna shows
    wire_m = (0.486 if sleeve is None else 0.473) * wavelength_m
    wire_m *= 1 - np.arctan(560 * box_s / (1 + 350 / np.tan(angle) * box_s)) / np.pi
    feed_m = plain.shape["feed_m"]
    shape = plain.shape | {
        "sleeve": sleeve,
        "soil": str(dice.choice(ALL_SOILS)),
        "far_m": feed_m + min(plain.shape["far_m"] - feed_m, 0.7 * wire_m),
        "shield_m": shield_m,
        "counterpoise_m": counterpoise_m,
    }
    transformer = {
        "magnetising_h": dice.uniform(3e-6, 12e-6),
        "core_loss": dice.uniform(0.05, 0.6),
        "core_loss_ohm": dice.uniform(700, 3000),
        "leakage_h": dice.uniform(0.04e-6, 0.18e-6) * min(1.0, 14e6 / f_hz),
        "capacitor_f": dice.uniform(50e-12, 120e-12) * min(1.0, 14e6 / f_hz),
        "winding_f": winding_f,
    }
    known = {"counterpoise_m": shape["counterpoise_m"]} if has_counterpoise else {}
    return Spec("end-fed", "end-fed-box", f_hz, wire_m, shape, known, transformer=transformer)


def _dipole_real(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    """Flat or drooping, insulated or not, with current on the coax where there is no choke."""
    shape = _vee(dice, f_hz, radius_m).shape
    sleeve = _sleeve(dice)
    drooping = dice.random() < 0.5
    shape |= {"droop_deg": shape["droop_deg"] if drooping else 0.0, "sleeve": sleeve}
    shape |= {"shield_m": 0.0 if dice.random() < 0.5 else dice.uniform(4.0, 15.0)}
    shape["soil"] = str(dice.choice(ALL_SOILS))
    leg_m = (0.242 if sleeve is None else 0.236) * SPEED_OF_LIGHT_M_S / f_hz
    return Spec("inverted-vee" if drooping else "dipole", "dipole-real", f_hz, leg_m, shape)


def _vertical_low(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    """Radials a hand or a knee above the soil, shorter or longer than a quarter wave."""
    plain = _vertical_radials(dice, f_hz, radius_m)
    radial_m = 0.25 * SPEED_OF_LIGHT_M_S / f_hz * dice.uniform(0.75, 1.08)
    base_m = dice.uniform(0.1, 1.0)
    shape = plain.shape | {"radial_m": radial_m, "base_m": base_m, "radial_end_m": base_m}
    known = {"radials": plain.known["radials"], "radial_length_m": radial_m}
    return Spec("vertical", "vertical-low", f_hz, plain.guess_m, shape, known)


def _whip_low(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    """Few radials low over the soil, a coil with capacitance of its own, told to 4 %."""
    wavelength_m = SPEED_OF_LIGHT_M_S / f_hz
    length_m = wavelength_m * dice.uniform(0.045, 0.15)
    count = int(dice.choice([1, 2, 3, 4, 6]))
    radial_m = wavelength_m * dice.uniform(0.06, 0.26)
    shape: dict[str, Any] = {
        "radius_m": dice.uniform(1e-3, 3e-3),
        "radials": count,
        "radial_m": radial_m,
        "base_m": float(np.exp(dice.uniform(np.log(0.05), np.log(0.6)))),
        "soil": str(dice.choice(SOIL_NAMES)),
    }
    spec = Spec("loaded-whip", "whip-low", f_hz, length_m, shape)
    x_ohm = -nec.z_ohm(build(spec, length_m), [f_hz])[0].imag * dice.uniform(0.97, 1.03)
    winding_f = dice.uniform(1e-12, 3e-12)
    coil_h = x_ohm / (2 * np.pi * f_hz) / (1 + x_ohm * 2 * np.pi * f_hz * winding_f)
    known = {"radials": count, "radial_length_m": radial_m, "coil_h": coil_h * dice.normal(1, 0.04)}
    return Spec(
        "loaded-whip",
        "whip-low",
        f_hz,
        length_m,
        shape,
        known,
        coil_h=coil_h,
        coil_q=dice.uniform(100, 300),
        coil_f=winding_f,
        series_ohm=dice.uniform(3, 15),
    )


def _loop_box(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    """Through a 2:1 or 4:1 transformer, of insulated wire or bare."""
    plain, sleeve, ratio = _loop(dice, f_hz, radius_m), _sleeve(dice), float(dice.choice([2.0, 4.0]))
    transformer = {
        "ratio": ratio,
        "magnetising_h": dice.uniform(8e-6, 30e-6),
        "core_loss_ohm": dice.uniform(1000, 4000),
        "leakage_h": dice.uniform(0.02e-6, 0.08e-6),
        "capacitor_f": 0.0,
    }
    guess_m = plain.guess_m * (1.0 if sleeve is None else 0.975)
    shape = plain.shape | {"sleeve": sleeve}
    return Spec("loop", "loop-box", f_hz, guess_m, shape, {"transformer": ratio}, transformer=transformer)


def _vertical_real(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    """Insulated wire or bare, two to four raised radials that are rarely a quarter wave long, any soil."""
    plain, sleeve = _vertical_radials(dice, f_hz, radius_m), _sleeve(dice)
    shorter = 1.0 if sleeve is None else 0.97
    radial_m = 0.25 * SPEED_OF_LIGHT_M_S / f_hz * dice.uniform(0.85, 1.05) * shorter
    base_m = dice.uniform(0.8, 3.5)
    shape = plain.shape | {
        "radial_m": radial_m,
        "base_m": base_m,
        "radial_end_m": base_m * dice.uniform(0.5, 1.0),
        "soil": str(dice.choice(ALL_SOILS)),
        "sleeve": sleeve,
    }
    known = {"radials": plain.known["radials"], "radial_length_m": radial_m}
    return Spec("vertical", "vertical-real", f_hz, plain.guess_m * shorter, shape, known)


def _whip_mast(dice: np.random.Generator, f_hz: float, radius_m: float) -> Spec:
    """The coil 0.3 to 1.3 m up a mast of its own, over low radials."""
    low = _whip_low(dice, f_hz, radius_m)
    count, radial_m = int(dice.integers(2, 7)), SPEED_OF_LIGHT_M_S / f_hz * dice.uniform(0.06, 0.20)
    mast_m = min(dice.uniform(0.3, 1.3), 0.07 * SPEED_OF_LIGHT_M_S / f_hz)
    winding = {"coil_q": low.coil_q, "coil_f": low.coil_f}
    shape = low.shape | winding | {"mast_m": mast_m, "radials": count, "radial_m": radial_m}

    def off_ohm(coil_h: float) -> float:
        built = build(replace(low, family="whip-mast", shape=shape | {"coil_h": coil_h}), low.guess_m)
        return float(nec.z_ohm(built, [f_hz])[0].imag)

    coil_h, step_h = low.coil_h, -0.1 * low.coil_h
    for _ in range(3):  # secant towards resonance
        rise = (off_ohm(coil_h + step_h) - (here := off_ohm(coil_h))) / step_h
        step_h = max(-here / rise, -0.6 * coil_h)
        coil_h += step_h
        step_h *= 0.1
    known = {"radials": count, "radial_length_m": radial_m, "coil_h": coil_h * dice.normal(1, 0.04)}
    shape = shape | {"coil_h": coil_h * dice.uniform(0.97, 1.03)}
    return Spec("loaded-whip", "whip-mast", f_hz, low.guess_m, shape, known, series_ohm=low.series_ohm)


MAKERS: dict[str, Callable[[np.random.Generator, float, float], Spec]] = {
    "dipole": _dipole,
    "inverted-vee": _vee,
    "vertical-radials": _vertical_radials,
    "vertical-counterpoise": _vertical_counterpoise,
    "vertical-ground": _vertical_ground,
    "whip": _whip,
    "end-fed": _end_fed,
    "loop": _loop,
    "end-fed-box": _end_fed_box,
    "dipole-real": _dipole_real,
    "vertical-low": _vertical_low,
    "whip-low": _whip_low,
    "loop-box": _loop_box,
    "vertical-real": _vertical_real,
    "whip-mast": _whip_mast,
}


@dataclass(frozen=True)
class Specimen:
    """A spec with the impedance of its wires on nodes, shape (length nodes, frequency nodes)."""

    spec: Spec
    wires_ohm: ComplexArray

    @property
    def roughness(self) -> float:
        """The largest of the last quarter of Chebyshev terms along frequency, of the reflection."""
        reference_ohm = END_FED_REFERENCE_OHM if self.spec.has_poles else np.abs(self.wires_ohm).mean()
        rho = gamma_from_z(self.wires_ohm, reference_ohm).T
        terms = np.polynomial.chebyshev.chebfit(
            -np.cos(np.pi * np.linspace(0, 1, len(rho))), rho, len(rho) - 1
        )
        return float(np.abs(terms[-(len(terms) // 4) :]).max())

    def z_ohm(self, f_hz: FloatArray, length_m: float) -> ComplexArray:
        """Impedance at the feedpoint connector, shape of ``f_hz``. [ohm]"""
        z = self.high_side_ohm(f_hz, length_m)
        return nec.through_transformer(z, f_hz, **self.spec.transformer) if self.spec.transformer else z

    def high_side_ohm(self, f_hz: FloatArray, length_m: float) -> ComplexArray:
        """The same before the transformer, where there is one. [ohm]"""
        spec = self.spec
        values = self.wires_ohm
        if spec.has_poles:
            values = gamma_from_z(values, END_FED_REFERENCE_OHM)
        x = _scaled(np.log(f_hz * length_m / (spec.target_hz * spec.guess_m)), F_SPAN)
        y = _scaled(np.log(length_m / spec.guess_m), LENGTH_SPAN)
        if np.abs(x).max() > 1.001 or abs(y) > 1.001:
            raise ValueError(f"{length_m:.3f} m or the sweep lies outside the computed surface")
        at_length = barycentric(y, values.shape[0]) @ values
        z = barycentric(x, at_length.size) @ at_length
        if spec.has_poles:
            z = z_from_gamma(z, END_FED_REFERENCE_OHM)
        return z + spec.series_ohm + nec.coil_z_ohm(f_hz, spec.coil_h, spec.coil_q, spec.coil_f)


def _nodes(count: int, span: tuple[float, float]) -> FloatArray:
    """Chebyshev nodes of the second kind between the logarithms of ``span``."""
    middle, half = (np.log(span[1]) + np.log(span[0])) / 2, (np.log(span[1]) - np.log(span[0])) / 2
    return middle - half * np.cos(np.pi * np.arange(count) / (count - 1))


def _scaled(value: Any, span: tuple[float, float]) -> Any:
    middle, half = (np.log(span[1]) + np.log(span[0])) / 2, (np.log(span[1]) - np.log(span[0])) / 2
    return (value - middle) / half


def barycentric(x: Any, count: int) -> FloatArray:
    """Interpolation weights from the nodes to ``x``, shape x.shape + (count,)."""
    nodes = -np.cos(np.pi * np.arange(count) / (count - 1))
    signs = (-1.0) ** np.arange(count)
    signs[[0, -1]] /= 2
    gap = np.asarray(x, dtype=np.float64)[..., None] - nodes
    hit = np.abs(gap) < 1e-14
    weights = signs / np.where(hit, 1.0, gap)
    weights = np.where(hit.any(-1, keepdims=True), hit.astype(float), weights)
    return np.asarray(weights / weights.sum(-1, keepdims=True))


def compute(spec: Spec) -> Specimen:
    """Run the wire model on all nodes."""
    nodes = F_NODES_REAL.get(spec.family, F_NODES_END_FED if spec.family == "end-fed" else F_NODES)
    real = spec.family in REAL or spec.family.endswith("-low")
    f_hz = spec.target_hz * np.exp(_nodes(nodes, F_SPAN))
    lengths_m = spec.guess_m * np.exp(_nodes(LENGTH_NODES_REAL if real else LENGTH_NODES, LENGTH_SPAN))
    rows = [nec.z_ohm(build(spec, L), f_hz * spec.guess_m / L) for L in lengths_m]
    return Specimen(spec, np.array(rows))


def follows_model(specimen: Specimen) -> bool:
    """Whether the surface is the wire model between its nodes, too: a sharp resonance may be too much for it, and the
    engine fails at single frequencies.
    """
    spec = specimen.spec
    if specimen.roughness > ROUGHEST:
        return False
    for share in (0.97, 1.04):
        f_hz = spec.target_hz * np.array([0.98, 1.01])
        built = nec.z_ohm(build(spec, share * spec.guess_m), f_hz) + spec.series_ohm
        there = built + nec.coil_z_ohm(f_hz, spec.coil_h, spec.coil_q, spec.coil_f)
        seen = specimen.high_side_ohm(f_hz, share * spec.guess_m)
        if np.abs((seen - there) / (seen + there)).max() > LARGEST_MISFIT:
            return False
    return True


def specs(family: str, seed: int, count: int) -> list[Spec]:
    """``count`` seeded specs of one family."""
    dice = np.random.default_rng([seed, list(MAKERS).index(family)])
    made = []
    for _ in range(count):
        made.append(MAKERS[family](dice, float(dice.choice(BANDS_HZ)), dice.uniform(0.2e-3, 1.0e-3)))
    return made


def save(path: Path, specimens: list[Specimen]) -> None:
    """One file: the specs as text, and the impedance of each on its nodes."""
    texts = np.array([json.dumps(asdict(specimen.spec)) for specimen in specimens])
    nodes = {f"z{number}": specimen.wires_ohm for number, specimen in enumerate(specimens)}
    np.savez_compressed(path, specs=texts, **nodes)  # type: ignore[arg-type]


def load(path: Path) -> list[Specimen]:
    """Specimens of one file."""
    with np.load(path) as stored:
        return [
            Specimen(Spec(**json.loads(str(text))), stored[f"z{number}"])
            for number, text in enumerate(stored["specs"])
        ]


def main(target: str, seed: str, count: str, *families: str) -> None:
    """Compute and save all families, or those named: a file each in a folder, or all in one ``.npz``."""
    path = Path(target)
    made = {
        family: [*filter(follows_model, map(compute, specs(family, int(seed), int(count))))]
        for family in families or MAKERS
    }
    if path.suffix == ".npz":
        save(path, [specimen for specimens in made.values() for specimen in specimens])
        return
    path.mkdir(parents=True, exist_ok=True)
    for family, specimens in made.items():
        save(path / f"{family}.npz", specimens)


if __name__ == "__main__":
    main(*sys.argv[1:])
