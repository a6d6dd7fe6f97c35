"""Frequencies, lengths and losses as people write them, to SI units and back.

A bare number is refused: 14 may be megahertz or metres, and a wrong guess burns wire.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from sweepkit.errors import BadInput
from sweepkit.limits import LIMITS

FOOT_M = 0.3048  # exact, international foot (1959)
INCH_M = 0.0254  # exact
WIRES_M = (0.05e-3, 20e-3)  # diameters of wires and their insulation
SPEED_OF_LIGHT_M_S = 299_792_458.0  # exact, SI (BIPM 2019)

_FREQUENCY_UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_LENGTH_UNITS = {
    "mm": 1e-3,
    "cm": 1e-2,
    "m": 1.0,
    "ft": FOOT_M,
    "feet": FOOT_M,
    "foot": FOOT_M,
    "'": FOOT_M,
    "in": INCH_M,
    "inch": INCH_M,
    "inches": INCH_M,
    '"': INCH_M,
}
_INDUCTANCE_UNITS = {"nh": 1e-9, "uh": 1e-6, "µh": 1e-6, "μh": 1e-6, "mh": 1e-3, "h": 1.0}
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"


def parse_frequency_hz(text: str) -> float:
    """Read a frequency such as ``14.175 MHz`` or ``7100 kHz`` (Hz to GHz, any case), above 0."""
    value = _one_value(text, _FREQUENCY_UNITS, "a frequency", "14.175 MHz")
    if not value > 0:
        raise BadInput(f"{text!r} is not a frequency above zero; write it like 14.175 MHz")
    return _inside("f_hz", value, text)


def parse_length_m(text: str) -> float:
    """Read a length such as ``10.2 m``, ``33 ft 4 in`` or ``-3 cm`` (mm, cm, m, ft, in); a sign goes in front."""
    feet_and_inches = re.fullmatch(
        rf"\s*([+-]?)\s*({_NUMBER})\s*(?:ft|feet|foot|')\s*({_NUMBER})\s*(?:in|inch|inches|\")\s*",
        text,
        re.IGNORECASE,
    )
    if feet_and_inches:
        sign, feet, inches = feet_and_inches.groups()
        negative = sign == "-" or feet.startswith("-")
        size_m = abs(float(feet)) * FOOT_M + float(inches) * INCH_M
        return _inside("change_m", -size_m if negative else size_m, text)
    return _inside("change_m", _one_value(text, _LENGTH_UNITS, "a length", "10.2 m or 33 ft 4 in"), text)


def parse_inductance_h(text: str) -> float:
    """Read an inductance such as ``11.3 uH`` (nH to H), above 0."""
    value = _one_value(text, _INDUCTANCE_UNITS, "an inductance", "11.3 uH")
    if not value > 0:
        raise BadInput(f"{text!r} is not an inductance above zero; write it like 11.3 uH")
    return _inside("coil_h", value, text)


def parse_impedance_ratio(text: str) -> float:
    """Read the impedance ratio of a transformer at a feedpoint such as ``49:1``."""
    found = re.fullmatch(r"\s*(\d{1,4}(?:\.\d{1,6})?)\s*:\s*1\s*", text, re.ASCII)
    if not found:
        raise BadInput(f"{text[:60]!r} is not an impedance ratio; write it like 49:1")
    return _inside("transformer", float(found.group(1)), text)


def parse_wire(text: str) -> tuple[float | None, float | None]:
    """Read a wire: ``1 mm`` thick and bare, ``1 mm in 2.2 mm`` with its insulation, ``bare`` or ``insulated``.

    Its diameter in metres and what that is to its insulation, outer over inner, 1 without; ``None`` where not told.
    """
    if text.strip() in ("bare", "insulated"):
        return None, 1.0 if text.strip() == "bare" else None
    try:
        sizes_m = [parse_length_m(size) for size in re.split(r"\s+in\s+(?=[\d.])", text, maxsplit=1)]
    except BadInput as error:
        raise BadInput(
            f"wire is {text[:60]!r}; 1 mm, 1 mm in 2.2 mm, bare or insulated was expected"
        ) from error
    if not WIRES_M[0] <= sizes_m[0] <= sizes_m[-1] <= WIRES_M[1]:
        raise BadInput(
            f"wire is {text[:60]!r}; a diameter of 0.05 to 20 mm was expected, and behind in that of its "
            "insulation; write it like 1 mm in 2.2 mm"
        )
    return sizes_m[0], sizes_m[-1] / sizes_m[0]


def impedance_ratio_text(ratio: float) -> str:
    """``49:1``."""
    return f"{ratio:g}:1"


def parse_volts(text: str) -> float:
    """Read a voltage such as ``12.2 V`` (V, mV), above 0."""
    return _inside("volts", _one_value(text, {"v": 1.0, "mv": 1e-3}, "a voltage", "12.2 V"), text)


def _inside(limit: str, value: float, text: str) -> float:
    """The value, or an error where no station has it."""
    row = LIMITS[limit]
    if not row.holds(value):
        raise BadInput(
            f"{text[:60]!r} is no {row.help.split(';')[0]}; {row.rule} was expected; check the unit"
        )
    return value


def rising_pair(text: str, parse: Callable[[str], float]) -> tuple[float, float] | None:
    """Two values with a dash or "to" between, the unit at the end alone or at both; nothing unless they rise."""
    parts = re.split(r"\s*(?:-|\u2013|\bto\b)\s*", text.strip())
    if len(parts) != 2:
        return None
    unit = re.search(r"[A-Za-z\"']+\s*$", parts[1])
    if unit and not re.search(r"[A-Za-z\"']", parts[0]):
        parts[0] = f"{parts[0]} {unit.group()}"
    low, high = map(parse, parts)
    return (low, high) if low < high else None


def _one_value(text: str, units: dict[str, float], what: str, example: str) -> float:
    """Number times unit, or an error that names the missing part."""
    match = re.fullmatch(rf"\s*({_NUMBER})\s*(\S*)\s*", text)
    if not match:
        raise BadInput(f"{text!r} is not {what}; write a number and a unit, like {example}")
    number, unit = match.groups()
    if not unit:
        raise BadInput(f"{text!r} has no unit; write it like {example}")
    factor = units.get(unit.lower())
    if factor is None:
        known = ", ".join(name for name in units if name.isalpha())
        raise BadInput(
            f"{text!r} has the unit {unit!r}, which is not one of {known}; write it like {example}"
        )
    return float(number) * factor


def count_text(count: int, noun: str) -> str:
    """``1 setup``, ``2 setups``: of nouns that take an s."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def frequency_text(f_hz: float) -> str:
    """A frequency for people, to 1 kHz: ``7.123 MHz``."""
    return f"{f_hz / 1e6:.3f} MHz"


def length_text(length_m: float, *, imperial: bool = False) -> str:
    """A length for people: centimetres below one metre, metres above, feet and inches beside on request."""
    size_m = abs(length_m)
    sign = "-" if length_m < 0 else ""
    if size_m < 0.10:
        metric = f"{sign}{size_m * 100:.1f} cm"
    elif size_m < 1.0:
        metric = f"{sign}{size_m * 100:.0f} cm"
    else:
        metric = f"{sign}{size_m:.2f} m"
    if not imperial:
        return metric
    return f"{metric} ({feet_text(length_m)})"


def feet_text(length_m: float) -> str:
    """``33 ft 4.25 in``: to a quarter of an inch."""
    feet, rest = divmod(round(abs(length_m) / INCH_M * 4), 48)
    return f"{'-' if length_m < 0 else ''}{f'{feet} ft ' if feet else ''}{rest / 4:g} in"
