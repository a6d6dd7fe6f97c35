"""What a caller of the package wrote, as the floors below take it: paths to sweeps, text with a unit to SI units."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from numbers import Real
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from sweepkit.antennas.kind import Known, known_beside
from sweepkit.bands import Band, find_band, read_bands
from sweepkit.errors import BadInput
from sweepkit.facts import SETUP_FILE
from sweepkit.kit import Kit
from sweepkit.kit.known import KnownAntenna
from sweepkit.limits import LIMITS, refuse_outside
from sweepkit.lines import LinePiece
from sweepkit.quantities import parse_frequency_hz, parse_inductance_h, parse_length_m
from sweepkit.readers import read_sweep
from sweepkit.sweep import Place, Sweep
from sweepkit.trim.request import parse_ratio

SweepLike = Sweep | str | os.PathLike[str]
KitLike = Kit | str | os.PathLike[str]
LineLike = LinePiece | str
if TYPE_CHECKING:
    from sweepkit.logbook import Logbook
    from sweepkit.records.beside import Beside

    LogLike = Logbook | str | os.PathLike[str]
else:
    LogLike = str | os.PathLike[str]  # an open one too; loading what it is would cost every answer its start
Hints = Mapping[str, Any]

HINTS = ("columns", "unit", "decimal", "reference_ohm", "trace", "recover_sign")


def as_sweep(sweep: SweepLike, hints: Hints, kit: Kit) -> Sweep:
    """The sweep itself, or that of the file; hints are for files alone."""
    _refuse_unknown(hints)
    if not isinstance(sweep, Sweep):
        return read_sweep(sweep, **hints, if_needed=kit.analyzer.hints)
    if hints:
        raise BadInput(
            f"{', '.join(hints)}: a hint for reading a file, and this sweep has been read; "
            "name the file, or leave the hint out"
        )
    return sweep


def as_sweeps(sweeps: SweepLike | Iterable[SweepLike], hints: Hints, kit: Kit) -> list[Sweep]:
    """One sweep or file, or several in their order; none have no hints either."""
    _refuse_unknown(hints)
    if isinstance(sweeps, Sweep | str | os.PathLike):
        sweeps = [sweeps]
    return [as_sweep(sweep, hints, kit) for sweep in sweeps]


def _refuse_unknown(hints: Hints) -> None:
    unknown = [name for name in hints if name not in HINTS]
    if unknown:
        raise TypeError(
            f"unexpected keyword argument {unknown[0]!r}; hints for a file are {', '.join(HINTS)}"
        )


@contextmanager
def opened_log(log: LogLike) -> Iterator[Logbook]:
    """The logbook itself, or that of the file, which is closed again."""
    from sweepkit.logbook import Logbook, open_logbook

    if isinstance(log, Logbook):
        yield log
    else:
        with open_logbook(Path(log)) as opened:
            yield opened


def known_of(
    antenna: str | None, log: LogLike | None, kit: Kit, *, present: str | None = None
) -> KnownAntenna:
    """What the kit, and the logbook where one is given, know of a named antenna; nothing of one without a name."""
    if antenna is None:
        if log is not None:
            raise BadInput("log is given without antenna; name the antenna that is looked up in it")
        return KnownAntenna()
    from sweepkit.records.antenna import known_antenna

    if log is None:
        return known_antenna(None, antenna, kit=kit)
    with opened_log(log) as opened:
        return known_antenna(opened, antenna, kit=kit, present=present)


def known_told(told: Mapping[str, Any], facts: Mapping[str, Any]) -> Known:
    """What a kind of antenna takes beside its length, by the names of the arguments; else as the facts have it."""

    def length_m(name: str, limit: str = "length_m") -> float | None:
        return None if told.get(name) is None else as_length_m(told[name], name=name, limit=limit)

    coil, transformer = told.get("coil"), told.get("transformer")
    return known_beside(
        facts,
        radials=told.get("radials"),
        radial_length_m=length_m("radial_length"),
        radial_height_m=length_m("radial_height", "size_m"),
        radials_on_ground=told.get("radials_on_ground", False),
        counterpoise_m=length_m("counterpoise"),
        choke_at=told.get("choke_at"),
        wire=told.get("wire"),
        coil_h=None if coil is None else as_inductance_h(coil, name="coil"),
        transformer=None if transformer is None else parse_ratio(transformer),
    )


def as_lines(lines: LineLike | Sequence[LineLike] | None) -> Sequence[LineLike] | None:
    """One piece of line, or several in their order from the radio."""
    return [lines] if isinstance(lines, LinePiece | str) else lines


def as_place(text: str) -> Place:
    """A plane by its name."""
    for place in get_args(Place):
        if text == place:
            known: Place = place
            return known
    raise BadInput(f"measured_at is {text!r}; it is one of {', '.join(get_args(Place))}")


def line_and_place(
    known: KnownAntenna, kit: Kit, *, lines: LineLike | Sequence[LineLike] | None, measured_at: str
) -> dict[str, Any]:
    """Line and place as the caller wrote them, else as the records of the antenna know."""
    place = as_place(measured_at)
    return {
        "lines": known.line(kit) if lines is None else as_lines(lines),
        "measured_at": known.measured_at if place == "unknown" else place,
    }


def told_beside(sweep: Sweep, *, lines: Sequence[LineLike] | None, measured_at: Place) -> dict[str, Any]:
    """Line and place of a sweep: what the caller wrote, else what a ``setup.toml`` beside its file tells."""
    known: dict[str, Any] = {"lines": lines, "measured_at": measured_at}
    path = Path(sweep.source.path) if sweep.source.path else None
    if path is None or not (path.parent / SETUP_FILE).is_file():
        return known
    from sweepkit.logbook.setup_file import Folders, told_to_review

    return told_to_review(Folders().facts_beside(sweep) or {}, known)


def read_beside_all(sweeps: Sequence[Sweep], told: Mapping[str, Any]) -> Beside | None:
    """What a ``setup.toml`` beside the files of one diagnosis tells; where there is none nothing is loaded for it."""
    folders = [Path(sweep.source.path).parent for sweep in sweeps if sweep.source.path]
    if not any((folder / SETUP_FILE).is_file() for folder in folders):
        return None
    from sweepkit.records.beside import read_beside

    return read_beside(sweeps, told)


def as_bands(
    bands: str | Band | Iterable[str | Band] | None, *, region: int | None
) -> tuple[Band, ...] | None:
    """Bands by name out of the built-in table, or made by the caller."""
    if bands is None:
        return None
    named = [bands] if isinstance(bands, str | Band) else list(bands)
    table = read_bands(region=region)
    return tuple(band if isinstance(band, Band) else find_band(table, band) for band in named)


def refuse_impossible(**told: float | None) -> None:
    """Hold numbers to the row of limits that has their name."""
    for name, value in told.items():
        refuse_outside(name, value)


def as_length_m(length: str | float, *, name: str, limit: str = "length_m") -> float:
    """``"10.2 m"``, ``"33 ft 4 in"`` or metres."""
    return _quantity(length, parse_length_m, name=name, limit=limit, unit="m")


def as_frequency_hz(frequency: str | float, *, name: str) -> float:
    """``"7.1 MHz"`` or hertz."""
    return _quantity(frequency, parse_frequency_hz, name=name, limit="f_hz", unit="Hz")


def as_inductance_h(inductance: str | float, *, name: str) -> float:
    """``"11.3 uH"`` or henry."""
    return _quantity(inductance, parse_inductance_h, name=name, limit="coil_h", unit="H")


def _quantity(
    written: str | float, parse: Callable[[str], float], *, name: str, limit: str, unit: str
) -> float:
    """A number in SI units inside its limits, whichever way it was written."""
    if isinstance(written, str):
        try:
            value = parse(written)
        except BadInput as error:
            raise BadInput(f"{name}: {error.text}") from error
    elif isinstance(written, Real) and not isinstance(written, bool):
        value = float(written)
    else:
        raise TypeError(f"{name} is {written!r}; text with a unit, or a number in {unit}, was expected")
    row = LIMITS[limit]
    if not row.holds(value):
        bare = "" if isinstance(written, str) else f"; a bare number is in {unit}"
        raise BadInput(f"{name} is {written!r}; {row.rule} was expected{bare}")
    return value
