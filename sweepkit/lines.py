"""A piece of feed line as an operator knows it: type or constants, length, and how well each is known."""

from __future__ import annotations

import csv
import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.quantities import parse_length_m

CATALOGUE_PATH = Path(__file__).parent / "data" / "feedlines.csv"
LENGTH_SIGMA_SHARE = 0.01  # one sigma of a length told by an operator; common practice, no source
LENGTH_SIGMA_M = 0.05  # and of its ends, connectors and where the tape was held; common practice, no source
VELOCITY_FACTOR_SIGMA = 0.01  # one sigma, fraction; common practice, no source
# Coaxial lines are specified to 2 of 50 ohm (MIL-DTL-17), taken as three sigma.
Z0_SIGMA = 0.014
OWN_LOSS_SIGMA = 0.10  # one sigma, fraction, of constants an operator enters; common practice, no source


@dataclass(frozen=True)
class LinePiece:
    """One piece of line between two connectors.

    Matched loss is ``k1*sqrt(f_MHz) + k2*f_MHz`` dB/100 m: conductors and dielectric.

    ``name``: what the operator calls it.
    ``z0_ohm``: characteristic impedance in the high-frequency limit, above 0; with ``z0_at_hz`` its real part
    there. [ohm]
    ``velocity_factor``: high-frequency limit, above 0 and at most 1; with ``velocity_factor_at_hz`` as it acts
    there. [-]
    ``k1_db_per_100m``, ``k2_db_per_100m``: loss constants, 0 or more. [dB/100 m per sqrt(MHz), dB/100 m per MHz]
    ``length_m``: length, 0 or more. [m]
    ``length_sigma_m``: one sigma of the length; left out or ``None``: :func:`default_length_sigma_m`.
    [m]
    ``velocity_factor_sigma``, ``loss_sigma``, ``z0_sigma``: one sigma, as a fraction. [-]
    ``scale_sigma``: one sigma of length and velocity factor together, their delay being measured: longer and faster,
    or shorter and slower. [-]
    ``velocity_factor_at_hz``: frequency at which the velocity factor was measured in place. [Hz]
    ``z0_at_hz``: frequency at which the impedance was measured or published. [Hz]
    ``type``: type in the catalogue.
    ``fit_low_hz``, ``fit_high_hz``: range in which the loss constants were fitted. [Hz]
    ``source``: where the constants come from.
    Raises ``BadInput``: a value that no line can have.
    """

    name: str
    z0_ohm: float
    velocity_factor: float
    k1_db_per_100m: float
    k2_db_per_100m: float
    length_m: float
    length_sigma_m: float = None  # type: ignore[assignment]  # filled in when made; never None afterwards
    velocity_factor_sigma: float = VELOCITY_FACTOR_SIGMA
    loss_sigma: float = OWN_LOSS_SIGMA
    z0_sigma: float = Z0_SIGMA
    scale_sigma: float = 0.0
    velocity_factor_at_hz: float | None = None
    z0_at_hz: float | None = None
    type: str | None = None
    fit_low_hz: float | None = None
    fit_high_hz: float | None = None
    source: str = ""

    def __post_init__(self) -> None:
        self._refuse(self.z0_ohm > 0, "impedance", self.z0_ohm, "above 0 ohm")
        self._refuse(
            0 < self.velocity_factor <= 1, "velocity factor", self.velocity_factor, "above 0 and at most 1"
        )
        for what, value in (("loss k1", self.k1_db_per_100m), ("loss k2", self.k2_db_per_100m)):
            self._refuse(value >= 0, what, value, "0 or more dB/100 m; a loss is positive")
        self._refuse(self.length_m >= 0, "length", self.length_m, "0 m or more")
        if self.length_sigma_m is None:
            object.__setattr__(self, "length_sigma_m", default_length_sigma_m(self.length_m))
        for what, value in (
            ("length tolerance", self.length_sigma_m),
            ("velocity factor tolerance", self.velocity_factor_sigma),
            ("loss tolerance", self.loss_sigma),
            ("impedance tolerance", self.z0_sigma),
            ("scale tolerance", self.scale_sigma),
        ):
            self._refuse(value is not None and value >= 0, what, value, "0 or more")
        for what, f_hz in (
            ("frequency of the velocity factor", self.velocity_factor_at_hz),
            ("frequency of the impedance", self.z0_at_hz),
            ("lower end of the fit", self.fit_low_hz),
            ("upper end of the fit", self.fit_high_hz),
        ):
            self._refuse(f_hz is None or f_hz > 0, what, f_hz, "above 0 Hz")

    def _refuse(self, holds: bool, what: str, value: float | None, rule: str) -> None:
        """Raise where the value is not finite or the rule does not hold."""
        if not holds or (value is not None and not math.isfinite(value)):
            number = "not given" if value is None else f"{value:g}"
            raise BadInput(f"line {self.name!r}: {what} is {number}; it must be {rule}; correct it")


@dataclass(frozen=True)
class LineType:
    """A row of the catalogue; units as in :class:`LinePiece`, spreads are its sigmas.

    ``formerly`` is a name that kit files and logbooks may still have for it; empty for none.
    """

    type: str
    formerly: str
    z0_ohm: float
    velocity_factor: float
    k1_db_per_100m: float
    k2_db_per_100m: float
    loss_spread: float
    z0_spread: float
    z0_at_hz: float | None
    fit_low_hz: float
    fit_high_hz: float
    source: str


def default_length_sigma_m(length_m: float) -> float:
    """One sigma of a length told by an operator: 1 % and 5 cm (common practice, no source), which have nothing to do
    with each other and add in squares (JCGM 100:2008, 5.1.2).
    """
    return math.hypot(LENGTH_SIGMA_SHARE * length_m, LENGTH_SIGMA_M)


@lru_cache(maxsize=1)
def read_catalogue() -> dict[str, LineType]:
    """All catalogued types by name, in file order."""
    with CATALOGUE_PATH.open(encoding="utf-8", newline="") as file:
        return {row["type"]: _line_type(row) for row in csv.DictReader(file)}


def _line_type(row: dict[str, str]) -> LineType:
    """One row of ``data/feedlines.csv``."""
    return LineType(
        type=row["type"],
        formerly=row["formerly"],
        z0_ohm=float(row["z0_ohm"]),
        velocity_factor=float(row["velocity_factor"]),
        k1_db_per_100m=float(row["k1_db_per_100m_per_sqrt_mhz"]),
        k2_db_per_100m=float(row["k2_db_per_100m_per_mhz"]),
        loss_spread=float(row["loss_spread"]),
        z0_spread=float(row["z0_spread"]),
        z0_at_hz=float(row["z0_at_mhz"]) * 1e6 if row["z0_at_mhz"] else None,
        fit_low_hz=float(row["fit_low_mhz"]) * 1e6,
        fit_high_hz=float(row["fit_high_mhz"]) * 1e6,
        source=row["source"],
    )


def find_line_type(type_name: str) -> LineType:
    """The catalogued type of that name, whatever case, spaces and hyphens, else a ``BadInput`` with the near names."""
    catalogue = read_catalogue()
    for line_type in catalogue.values():
        if _bare(type_name) in (_bare(line_type.type), _bare(line_type.formerly) or None):
            return line_type
    near = _near_names(type_name, catalogue)
    listed = f"near it are {', '.join(near)}" if near else f"known are {', '.join(catalogue)}"
    raise BadInput(
        f"line type {type_name!r} is not in the catalogue; {listed}; "
        "choose one, or give the constants of this line in kit.toml"
    )


def _near_names(type_name: str, catalogue: Mapping[str, LineType]) -> list[str]:
    """Names that look alike or share a number of two digits or more, now or formerly."""
    by_word = {word: row.type for row in catalogue.values() for word in (row.type, row.formerly) if word}
    by_bare = {_bare(word): name for word, name in by_word.items()}
    alike = [by_bare[bare] for bare in difflib.get_close_matches(_bare(type_name), by_bare, n=4, cutoff=0.6)]
    numbers = set(re.findall(r"\d{2,}", type_name))
    sharing = [name for word, name in by_word.items() if numbers & set(re.findall(r"\d{2,}", word))]
    return list(dict.fromkeys([*alike, *sharing]))


def _bare(name: str) -> str:
    """Letters and digits only, lower case."""
    return re.sub(r"[\W_]+", "", name.lower())


def catalogued_piece(type_name: str, length_m: float, **overrides: Any) -> LinePiece:
    """A piece of a catalogued type; ``overrides`` are other fields, where the operator knows better."""
    line_type = find_line_type(type_name)
    known: dict[str, Any] = {
        "name": line_type.type,
        "z0_ohm": line_type.z0_ohm,
        "velocity_factor": line_type.velocity_factor,
        "k1_db_per_100m": line_type.k1_db_per_100m,
        "k2_db_per_100m": line_type.k2_db_per_100m,
        "loss_sigma": line_type.loss_spread,
        "z0_sigma": line_type.z0_spread,
        "z0_at_hz": line_type.z0_at_hz,
        "type": line_type.type,
        "fit_low_hz": line_type.fit_low_hz,
        "fit_high_hz": line_type.fit_high_hz,
        "source": line_type.source,
    }
    return LinePiece(**{**known, "length_m": length_m, **overrides})


def parse_piece(spec: str) -> LinePiece:
    """Read a piece such as ``RG-58 15 m`` or ``6.1 mm foam coax 33 ft 4 in``: type, space, length with its unit."""
    type_name, length_text = _split_spec(spec)
    length_m = parse_length_m(length_text)
    line_type = find_line_type(type_name)
    if not length_m > 0:
        raise BadInput(
            f"line {spec!r} is {length_m:g} m long; a length above zero was expected; "
            "write it like RG-58 15 m"
        )
    name = f"{line_type.type} {length_text}" if _bare(type_name) == _bare(line_type.formerly) else spec
    return catalogued_piece(line_type.type, length_m, name=" ".join(name.split()))


def _split_spec(spec: str) -> tuple[str, str]:
    """Type and length; the length is the longest tail of one or two numbers with units."""
    number = r"[+-]?(?:\d+\.?\d*|\.\d+)"
    with_unit = rf"{number}\s*(?:[^\W\d_]+|['\"])"
    match = re.fullmatch(rf"\s*(\S.*?)[\s,]+({with_unit}(?:\s*{with_unit})?|{number})\s*", spec)
    if not match:
        raise BadInput(
            f"line {spec!r} is not a type followed by a length with its unit; write it like RG-58 15 m, "
            "or name a line of the kit"
        )
    return match.group(1), match.group(2)
