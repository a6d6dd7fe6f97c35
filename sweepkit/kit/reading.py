"""Read kit.toml; anything wrong is refused with file, line, what was found and what to write."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, TypeVar

from sweepkit.errors import BadInput
from sweepkit.kit.analyzer import Analyzer
from sweepkit.kit.antenna import KINDS, AntennaNote
from sweepkit.kit.bad_gear import BadGear
from sweepkit.kit.box import Box
from sweepkit.kit.choosing import resolve_pieces
from sweepkit.kit.gear import Kit
from sweepkit.kit.line_table import LINE_KEYS, line_from_table
from sweepkit.kit.radio import Radio
from sweepkit.kit.table import Table
from sweepkit.kit.toml_lines import find_key_lines
from sweepkit.kit.tuner import Tuner
from sweepkit.lines import LinePiece
from sweepkit.quantities import parse_length_m

KEYS = {  # every table with its keys; docs/kit.md explains each
    "": ("region", "lines", "analyzer", "radio", "tuner", "antennas", "boxes"),
    "lines": LINE_KEYS,
    "analyzer": (
        "directivity_db",
        "noise",
        "points",
        "spans",
        "tracking",
        "source_match_db",
        "columns",
        "unit",
        "decimal",
        "reference_ohm",
    ),
    "radio": ("power_w", "z0_ohm", "power_at_swr", "direct_swr", "power_at_volts"),
    "tuner": ("max_swr", "r_ohm", "x_ohm", "loss_db", "coil_q"),
    "antennas": (
        "kind",
        "length",
        "line",
        "radials",
        "radial_length",
        "radials_on_ground",
        "counterpoise",
        "coil",
        "transformer",
        "lengths",
        "tap",
        "turns",
        "tap_step",
        "coil_diameter",
        "coil_pitch",
        "whip_range",
        "choke_at",
        "places",
        "weights",
    ),
    "boxes": ("ratio", "loss_db", "loss_tolerance_db"),
}
NO_TUNER = "none"  # tuner = "none" says that there is no tuner

Gear = TypeVar("Gear", Analyzer, Radio, Tuner, AntennaNote, Box)


def read_kit(path: str | Path) -> Kit:
    """Read the operator's gear.

    Gives what is left out has the stated default; ``given`` names what was told.
    Raises ``BadInput``: no such file, not TOML, an unknown key or a value that cannot be; with file and line.
    """
    name = str(path)
    try:
        return _kit_from_text(_read_text(Path(path)), name)
    except BadInput as error:
        raise BadInput(error.text, path=name, line=error.line) from error


def _read_text(path: Path) -> str:
    """The file's text; a byte-order mark is left out."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise BadInput(f"cannot open the kit: {reason}; a kit.toml was expected; check the path") from error
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise BadInput(
            "this is not UTF-8 text; a kit.toml was expected; save it as UTF-8", line=line
        ) from error


def _kit_from_text(text: str, path: str) -> Kit:
    """Parse, look up the lines, fill the values."""
    import tomllib

    unix = text.replace("\r\n", "\n") + "\n"  # the parser says no line for what ends the file
    try:
        values = tomllib.loads(unix)
    except (ValueError, RecursionError) as error:  # beside its own error: huge numbers, brackets too deep
        raise _not_toml(unix, str(error)) from error
    return _kit(Table(values, (), find_key_lines(unix)), path)


def _not_toml(text: str, reason: str) -> BadInput:
    """What the parser could not take, in our words: the line and what most often is wrong with it."""
    at = re.search(r"at line (\d+)", reason)
    number = int(at.group(1)) if at else text.rstrip().count("\n") + 1
    found = repr(text.split("\n")[number - 1].strip()[:60]) if at else "the file up to its end"
    if re.match(r"Cannot (declare|overwrite|mutate)", reason):
        what = "stands here for the second time; each table and key stands once; remove one"
    else:
        example = 'close brackets and write text in quotes, as in length = "15 m"'
        what = f"does not fit here; [table] or key = value was expected; {example}"
    return BadInput(f"{found} {what}", line=number)


def _kit(top: Table, path: str) -> Kit:
    """The whole file."""
    top.refuse_unknown(KEYS[""])
    lines = {name: line_from_table(name, table) for name, table in top.tables("lines")}
    boxes = {name: _box(table) for name, table in top.tables("boxes")}
    antennas = {name: _antenna(table, lines, boxes) for name, table in top.tables("antennas")}
    try:
        return Kit(
            region=top.whole("region", example="2"),
            lines=lines,
            analyzer=_analyzer(top.table("analyzer")),
            radio=_radio(top.table("radio")),
            tuner=None if top.values.get("tuner") == NO_TUNER else _tuner(top.table("tuner")),
            antennas=antennas,
            boxes=boxes,
            given=_given(top.values),
            path=path,
        )
    except BadGear as error:
        raise top.error(error.key, error.text) from error


def _given(values: dict[str, Any]) -> frozenset[str]:
    """Names of what was told: ``radio.power_w`` and so on; a table by its own name too."""
    names = set(values)
    for table in ("analyzer", "radio", "tuner"):
        if isinstance(values.get(table), dict):
            names |= {f"{table}.{key}" for key in values[table]}
    return frozenset(names)


def _analyzer(table: Table) -> Analyzer:
    table.refuse_unknown(KEYS["analyzer"])
    return _made(
        Analyzer,
        table,
        directivity_db=table.number("directivity_db", example="40"),
        noise=table.number("noise", example="0.002"),
        points=table.numbers("points", example="[101, 201]"),
        spans_hz=table.frequencies_hz("spans", example="1 MHz"),
        tracking=table.number("tracking", example="0.01"),
        source_match_db=table.number("source_match_db", example="30"),
        columns=table.text("columns", example="f,r,x"),
        unit=table.text("unit", example="MHz"),
        decimal=table.text("decimal", example="comma"),
        reference_ohm=table.number("reference_ohm", example="50"),
    )


def _radio(table: Table) -> Radio:
    table.refuse_unknown(KEYS["radio"])
    return _made(
        Radio,
        table,
        power_w=table.number("power_w", example="50"),
        z0_ohm=table.number("z0_ohm", example="50"),
        power_at_swr=table.rows("power_at_swr", example="[[1.5, 1.0], [2.0, 0.75], [3.0, 0.4]]"),
        direct_swr=table.number("direct_swr", example="2.0"),
        power_at_volts=table.rows("power_at_volts", example="[[13.8, 1.0], [11.5, 0.8]]"),
    )


def _tuner(table: Table) -> Tuner:
    table.refuse_unknown(KEYS["tuner"])
    return _made(
        Tuner,
        table,
        max_swr=table.number("max_swr", example="3.0"),
        r_ohm=table.pair("r_ohm", example="[16, 150]"),
        x_ohm=table.pair("x_ohm", example="[-100, 100]"),
        loss_db=table.number("loss_db", example="0.3"),
        coil_q=table.number("coil_q", example="100"),
    )


def _box(table: Table) -> Box:
    table.refuse_unknown(KEYS["boxes"])
    example = "[[3.6, 0.9], [7.1, 0.7]]"
    rows = table.rows("loss_db", example=example)
    if rows is None:
        raise table.error(
            "loss_db",
            f"[{table.name}] has no loss_db; rows of MHz and dB were expected; write loss_db = {example}",
        )
    return _made(
        Box,
        table,
        ratio=table.impedance_ratio("ratio") or 1.0,
        loss_db=rows,
        loss_tolerance_db=table.number("loss_tolerance_db", example="0.1"),
    )


def _transformer(table: Table, boxes: dict[str, Box]) -> tuple[float | None, str | None]:
    """Its ratio, and its name where a box of the kit was told in place of that."""
    name = table.values.get("transformer")
    if isinstance(name, str) and name in boxes:
        return boxes[name].ratio, name
    try:
        return table.impedance_ratio("transformer"), None
    except BadInput as error:
        listed = f"the boxes are {', '.join(boxes)}" if boxes else "there is no [boxes.NAME]"
        raise BadInput(f"{error.text}, or the name of a box; {listed}", line=error.line) from error


def _antenna(table: Table, lines: dict[str, LinePiece], boxes: dict[str, Box]) -> AntennaNote:
    table.refuse_unknown(KEYS["antennas"])
    if "kind" not in table.values:
        raise table.error(
            "kind",
            f'[{table.name}] has no kind; one of {", ".join(KINDS)} was expected; write kind = "dipole"',
        )
    line = table.texts("line", example="spool")
    ratio, box = _transformer(table, boxes)
    try:
        resolve_pieces(line, lines)
    except BadInput as error:
        raise table.error("line", f"{table.name}.line: {error.text}") from error
    return _made(
        AntennaNote,
        table,
        kind=table.text("kind", example="dipole"),
        length_m=table.length_m("length"),
        line=line,
        radials=table.whole("radials", example="4"),
        radial_length_m=table.length_m("radial_length"),
        radials_on_ground=table.flag("radials_on_ground"),
        counterpoise_m=table.length_m("counterpoise"),
        coil_h=table.inductance_h("coil"),
        transformer=ratio,
        box=box,
        lengths_m=_by_place(table.table("lengths"), "length"),
        tap=table.number("tap", example="24"),
        turns=table.number("turns", example="40"),
        tap_step=table.number("tap_step", example="1"),
        coil_diameter_m=table.length_m("coil_diameter"),
        coil_pitch_m=table.length_m("coil_pitch"),
        whip_range_m=_whip_range(table),
        choke_at=_choke_at(table),
        places=table.texts("places", example='["40 m", "20 m"]'),
        weights=_by_place(table.table("weights"), "number"),
    )


def _by_place(table: Table, what: str) -> dict[str, float]:
    """A length or a number for each place."""
    read = {
        name: table.length_m(name) if what == "length" else table.number(name, example="3")
        for name in table.values
    }
    return {name: value for name, value in read.items() if value is not None}


def _whip_range(table: Table) -> tuple[float, float] | None:
    ends = table.texts("whip_range", example='["1.8 m", "4.0 m"]')
    if not ends:
        return None
    try:
        lengths = [parse_length_m(end) for end in ends]
    except BadInput as error:
        raise table.error("whip_range", f"{table.name}.whip_range: {error.text}") from error
    if len(lengths) != 2:
        text = 'a shortest and a longest whip were expected; write ["1.8 m", "4.0 m"]'
        raise table.error("whip_range", f"{table.name}.whip_range: {text}")
    return lengths[0], lengths[1]


def _choke_at(table: Table) -> str | None:
    """A length from 0 on, or none."""
    text = table.text("choke_at", example='"0 m"') if "choke_at" in table.values else None
    if text in (None, "none"):
        return text
    try:
        length_m = parse_length_m(text)
    except BadInput as error:
        raise table.error("choke_at", f"{table.name}.choke_at: {error.text}") from error
    if length_m < 0:
        raise table.error(
            "choke_at", f"{table.name}.choke_at is {text!r}; 0 m at the box, a length or none was expected"
        )
    return text


def _made(make: type[Gear], table: Table, **told: Any) -> Gear:
    """The value with everything told; what was left out keeps its default."""
    try:
        return make(**{name: value for name, value in told.items() if value is not None})
    except BadGear as error:
        raise table.error(error.key, f"{table.name}.{error.text}") from error
