"""Make the club's outings: two antennas put up again and again at three sites, a folder for each setup.

    python -m sample_sweeps.make_outings            # all of them, in the folder outings beside this file
    python -m sample_sweeps.make_outings 2026-04-18_ridge_dipole

Needs the extra ``models``. What differs from one setup to the next is drawn at the sizes below, seeded from names, so
that every file is the same on every run. Ground and weather are words of the diary: they move nothing.
"""

from __future__ import annotations

import json
import sys
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline

from sample_sweeps.make_samples import (
    SPIT_COIL_H,
    SPIT_GROUND_OHM,
    Coax,
    ComplexArray,
    FloatArray,
    Scene,
    touchstone_text,
)
from tests.models import nec

HERE = Path(__file__).resolve().parent / "outings"
POINTS = 201
HALF_SPAN_HZ = 0.6e6
MODEL_HZ = np.arange(6.0e6, 8.2e6, 25e3)

# Spread, one sigma as a fraction of f and of R: common practice, no source.
REERECTED = {"dipole": (0.004, 0.08), "whip": (0.015, 0.12)}
NEW_SITE = {"dipole": (0.013, 0.25), "whip": (0.02, 0.30)}
RECONNECTED = (0.001, 0.02)
# Against four radials: f as a fraction, R as a factor; common practice, no source, and for one radial invented.
RADIALS = {1: (0.13, 1.7), 2: (0.05, 1.25), 4: (0.0, 1.0), 8: (-0.03, 0.87)}
# A tail taped along the wire does 0.91 of a cut, and its first 7 mm nothing: common practice, no source.
FOLD_WORTH, FOLD_DEAD_M = 0.91, 0.007
WIRE_M = 10.58  # of each leg, none of it folded
TAIL_M = 0.29  # of each leg since the first outing

# RG-58 as it was laid: not quite the catalogue's constants.
LINES = {
    "dipole": Coax(15.08, 50.0, 0.655, 1.45, 0.0142),
    "whip": Coax(6.97, 50.0, 0.655, 1.45, 0.0142),
}
ANTENNAS: dict[str, dict[str, Any]] = {
    "dipole": {
        "antenna": "dipole-40m",
        "kind": "dipole",
        "parts": ["two legs of bare wire, 1.2 mm"],
        "line": ["RG-58 15 m"],
        "choke": "12 turns on a ring, at the feedpoint",
        "form": "flat",
        "feed_height": "9 m",
        "analyzer": "club analyzer",
    },
    "whip": {
        "antenna": "whip-40m",
        "kind": "loaded-whip",
        "parts": ["whip of 2.6 m", "coil of 28 uH at its base"],
        "line": ["RG-58 7 m"],
        "choke": "12 turns on a ring, at the feedpoint",
        "form": "vertical",
        "coil": "27.8 uH",
        "tap": "none",
        "radial_length": "2.5 m",
        "radial_height": "0.3 m",
        "analyzer": "club analyzer",
    },
}
SITES = {
    "ridge": {"ground": "rock", "near": "a wire fence 12 m to the north"},
    "valley": {"ground": "average", "near": "alders within 10 m"},
    "meadow": {"ground": "wet", "near": "nothing within 40 m"},
}


@dataclass(frozen=True)
class Visit:
    """One sweep of an outing: when, with how much wire folded, what else is stated of it."""

    when: str
    tail_m: float = TAIL_M
    facts: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Outing:
    """One setup, from its diary; ``erected`` names the erection whose draw it shares."""

    weather: tuple[str, ...]
    temperature: str
    visits: tuple[Visit, ...]
    measured_at: str = "radio"
    radials: int = 4
    erected: str = ""
    note: str = ""


def _day(weather: str, temperature: str, when: str, **more: Any) -> Outing:
    """An outing of one sweep."""
    return Outing(tuple(weather.split()), temperature, (Visit(when),), **more)


def _radials(count: int, when: str) -> Outing:
    """The whip as it stood that afternoon, over this many radials."""
    note = "one of four setups of one afternoon: only the number of radials differs"
    return _day(
        "dry calm", "24 C", when, radials=count, erected="meadow whip, afternoon of radials", note=note
    )


def _folded(when: str, tail_m: float, change: str, predicted: tuple[str, str, str]) -> Visit:
    """A sweep after a fold, with the dip `sweepkit trim` foretold from the sweeps before it."""
    words = ("by", "change", "predicted", "predicted_low", "predicted_high")
    return Visit(when, tail_m, dict(zip(words, ("fold", change, *predicted), strict=True)))


TRIMMING = (
    Visit("2026-04-18T10:05+02:00", 0.0),
    _folded("2026-04-18T10:25+02:00", 0.20, "-20 cm", ("7.040 MHz", "6.951 MHz", "7.067 MHz")),
    _folded("2026-04-18T10:40+02:00", TAIL_M, "-9 cm", ("7.100 MHz", "7.093 MHz", "7.107 MHz")),
)

OUTINGS = {
    "2026-04-18_ridge_dipole": Outing(
        ("dry", "wind"), "11 C", TRIMMING, note="trimmed for 7.1 MHz; the tails are taped along the wire"
    ),
    "2026-04-18_ridge_whip": _day("dry wind", "13 C", "2026-04-18T14:20+02:00"),
    "2026-05-03_valley_dipole": _day("damp", "14 C", "2026-05-03T09:40+02:00"),
    "2026-05-03_valley_whip": _day("damp", "16 C", "2026-05-03T11:15+02:00"),
    "2026-05-16_ridge_dipole": _day("dry calm", "17 C", "2026-05-16T16:30+02:00"),
    "2026-05-30_meadow_dipole": _day("dry", "19 C", "2026-05-30T10:10+02:00"),
    "2026-05-30_meadow_whip": _day("dry", "21 C", "2026-05-30T13:00+02:00"),
    "2026-06-13_ridge_dipole": _day(
        "rain wind", "12 C", "2026-06-13T09:15+02:00", measured_at="feedpoint"
    ),
    "2026-06-13_ridge_whip": _day("rain wind", "12 C", "2026-06-13T10:50+02:00"),
    "2026-06-27_meadow_whip": _day("dry hot", "28 C", "2026-06-27T15:05+02:00", measured_at="feedpoint"),
    "2026-07-11_meadow_whip_1_radial": _radials(1, "2026-07-11T14:00+02:00"),
    "2026-07-11_meadow_whip_2_radials": _radials(2, "2026-07-11T14:10+02:00"),
    "2026-07-11_meadow_whip_4_radials": _radials(4, "2026-07-11T14:20+02:00"),
    "2026-07-11_meadow_whip_8_radials": _radials(8, "2026-07-11T14:35+02:00"),
    "2026-07-25_valley_dipole": _day("dry hot", "26 C", "2026-07-25T17:45+02:00"),
    "2026-07-25_valley_whip": _day("dry hot", "25 C", "2026-07-25T18:30+02:00"),
    "2026-08-08_ridge_dipole": _day("dry", "20 C", "2026-08-08T08:50+02:00"),
    "2026-08-22_meadow_dipole": _day("wet", "15 C", "2026-08-22T11:20+02:00", measured_at="feedpoint"),
    "2026-08-22_meadow_whip": _day("wet", "15 C", "2026-08-22T12:40+02:00"),
}  # fmt: skip


def _factors(name: str, sigma: tuple[float, float]) -> tuple[float, float]:
    """Factors on f and R, drawn once for a name."""
    dice = np.random.default_rng(zlib.crc32(name.encode()))
    f_part, r_part = np.exp(np.array(sigma) * dice.standard_normal(2))
    return float(f_part), float(r_part)


def factors(name: str, visit: int = 0) -> tuple[float, float]:
    """On f and R of the model: site, erection, reconnection and radials together."""
    outing = OUTINGS[name]
    _, site, antenna = name.split("_")[:3]
    parts = [
        _factors(f"{site} {antenna}", NEW_SITE[antenna]),
        _factors(outing.erected or name, REERECTED[antenna]),
        _factors(f"{name} {visit}", RECONNECTED),
    ]
    if antenna == "whip":
        shift, factor = RADIALS[outing.radials]
        parts.append((1 + shift, factor))
    f_part, r_part = np.prod(parts, axis=0)
    return float(f_part), float(r_part)


@cache
def _model(antenna: str, tail_m: float) -> CubicSpline:
    """Impedance over frequency of the antenna before anything is drawn, smooth between modelled points."""
    return CubicSpline(MODEL_HZ, _model_z_ohm(antenna, tail_m, MODEL_HZ))


def _model_z_ohm(antenna: str, tail_m: float, f_hz: FloatArray) -> ComplexArray:
    if antenna == "dipole":
        leg_m = WIRE_M - FOLD_WORTH * max(tail_m - FOLD_DEAD_M, 0.0)
        return nec.z_ohm(nec.dipole(leg_m, height_m=9.0, radius_m=0.6e-3), f_hz)
    whip = nec.vertical(
        2.6, radials=4, radial_m=2.5, base_m=0.3, radius_m=1.5e-3, coil_h=SPIT_COIL_H, coil_q=180.0
    )
    return nec.z_ohm(whip, f_hz) + SPIT_GROUND_OHM


def scenes(name: str) -> Iterator[tuple[str, Scene]]:
    """The sweeps of an outing, by file name without its end."""
    outing = OUTINGS[name]
    day, site, antenna = name.split("_")[:3]
    for number, visit in enumerate(outing.visits):
        f_part, r_part = factors(name, number)

        def z_ohm(
            f_hz: FloatArray, tail_m: float = visit.tail_m, f_part: float = f_part, r_part: float = r_part
        ) -> ComplexArray:
            z = _model(antenna, tail_m)(f_hz / f_part)
            return z.real * r_part + 1j * z.imag

        centre_hz = 7.1e6 * (1 + RADIALS[outing.radials][0])
        line = LINES[antenna] if outing.measured_at == "radio" else None
        remark = f"{site}, {day}, at the {outing.measured_at}"
        stem = f"{name[11:]}_{day[5:7]}{day[8:]}" + (f"_{number + 1}" if len(outing.visits) > 1 else "")
        yield stem, Scene(z_ohm, centre_hz - HALF_SPAN_HZ, centre_hz + HALF_SPAN_HZ, POINTS, remark, line)


def setup_text(name: str) -> str:
    """The outing as its ``setup.toml``."""
    outing = OUTINGS[name]
    _, site, antenna = name.split("_")[:3]
    facts = {"site": site, **SITES[site], **ANTENNAS[antenna]}
    if antenna == "whip":
        facts |= {"radials": outing.radials, "length": "2.6 m"}
    facts |= {"weather": list(outing.weather), "temperature": outing.temperature}
    facts |= {"measured_at": outing.measured_at}
    facts |= {"note": outing.note} if outing.note else {}
    lines = ["# made-up sample", *_lines(facts)]
    for (stem, _), visit in zip(scenes(name), outing.visits, strict=True):
        lines += ["", f'[sweep."{stem}.s1p"]', f'when = "{visit.when}"']
        if antenna == "dipole":
            lines += _lines({"length": f"{WIRE_M - visit.tail_m:.2f} m", "tail": f"{visit.tail_m:.2f} m"})
        lines += _lines(visit.facts)
    return "\n".join(lines) + "\n"


def _lines(facts: dict[str, Any]) -> list[str]:
    """Words and values; texts, whole numbers and lists of them look in TOML as they do in JSON."""
    return [f"{word} = {json.dumps(value)}" for word, value in facts.items()]


def main(names: list[str]) -> None:
    """Make the named outings, or all."""
    for name in names or OUTINGS:
        folder = HERE / name
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "setup.toml").write_text(setup_text(name), encoding="ascii")
        for stem, scene in scenes(name):
            (folder / f"{stem}.s1p").write_text(touchstone_text(stem, scene), encoding="ascii")


if __name__ == "__main__":
    main(sys.argv[1:])
