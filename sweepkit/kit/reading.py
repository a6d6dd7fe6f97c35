"""Read kit.toml; anything wrong is refused with file, line, what was found and what to write."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any, TypeVar

from sweepkit.errors import BadInput
from sweepkit.facts import IN_KIT, KINDS, Fact, Owner
from sweepkit.kit.analyzer import Analyzer
from sweepkit.kit.antenna import AntennaNote
from sweepkit.kit.bad_gear import BadGear
from sweepkit.kit.box import Box
from sweepkit.kit.choosing import resolve_pieces
from sweepkit.kit.gear import Kit
from sweepkit.kit.line_table import LINE_KEYS, line_from_table
from sweepkit.kit.radio import Radio
from sweepkit.kit.table import Table, find_key_lines
from sweepkit.kit.tuner import Tuner
from sweepkit.lines import LinePiece
from sweepkit.quantities import parse_length_m, parse_wire

TABLES: dict[str, Owner] = {"analyzer": "analyzer", "radio": "radio", "tuner": "tuner", "antennas": "antenna"}
OWN = "own"  # read by a function of its own
READ = {
    "word": "text", "text": "text", "texts": "texts", "count": "whole", "number": "number",
    "length": "length_m", "inductance": "inductance_h", "numbers": "numbers", "pair": "pair", "rows": "rows",
    "frequencies": "frequencies_hz",
}  # fmt: skip
BY_ITSELF = ("transformer", "lengths", "whip_range", "choke_at", "choke", "wire", "weights")


def _key_of(fact: Fact) -> tuple[str, dict[str, str], str]:
    """How a fact is read: a method of :class:`Table`, what that takes besides, and the field."""
    read = OWN if fact.key in BY_ITSELF else READ[fact.kit_kind]
    takes_example = read not in ("length_m", "inductance_h")
    return read, {"example": fact.in_kit.strip('"')} if takes_example else {}, fact.name


FILLED = {  # tables whose keys fill the fields of a value
    table: {fact.key: _key_of(fact) for fact in IN_KIT[of]} for table, of in TABLES.items()
}
ON_GROUND = "radials_on_ground"  # an older word for radials at a height of 0 m, still read
KEYS = {  # every table with its keys; docs/kit.md explains each
    "": ("region", "lines", "analyzer", "radio", "tuner", "antennas", "boxes"),
    "lines": LINE_KEYS,
    **{name: tuple(keys) for name, keys in FILLED.items()},
    "boxes": ("ratio", "loss_db", "loss_tolerance_db", "choke_ohm"),
}

NO_TUNER = "none"  # tuner = "none" says that there is no tuner

Gear = TypeVar("Gear", Analyzer, Radio, Tuner, AntennaNote, Box)


def as_kit(kit: Kit | str | os.PathLike[str] | None) -> Kit:
    """The kit itself, that of the file, or the stated defaults."""
    if isinstance(kit, Kit):
        return kit
    return Kit() if kit is None else read_kit(Path(kit))


def read_kit(path: str | Path) -> Kit:
    """Read the operator's gear; what is left out has the stated default, ``given`` names what was told.

    What cannot be is a ``BadInput`` with file and line.
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
    top.refuse_unknown(KEYS[""])
    lines = {name: line_from_table(name, table) for name, table in top.tables("lines")}
    boxes = {name: _box(table) for name, table in top.tables("boxes")}
    antennas = {name: _antenna(table, lines, boxes) for name, table in top.tables("antennas")}
    try:
        return Kit(
            region=top.whole("region", example="2"),
            lines=lines,
            analyzer=_filled(Analyzer, _known(top, "analyzer"), "analyzer"),
            radio=_filled(Radio, _known(top, "radio"), "radio"),
            tuner=None
            if top.values.get("tuner") == NO_TUNER
            else _filled(Tuner, _known(top, "tuner"), "tuner"),
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


def _known(top: Table, name: str) -> Table:
    """A table of the file, with no key that is not known."""
    table = top.table(name)
    table.refuse_unknown(KEYS[name])
    return table


def _filled(make: type[Gear], table: Table, name: str, **told: Any) -> Gear:
    """The value with all that the table tells, and what was read otherwise."""
    for key, (read, words, field) in FILLED[name].items():
        if read != OWN and field not in told:
            told[field] = getattr(table, read)(key, **words)
    return _made(make, table, **told)


def _box(table: Table) -> Box:
    table.refuse_unknown(KEYS["boxes"])
    example = "[[3.6, 0.9], [7.1, 0.7]]"
    rows = table.rows("loss_db", example=example)
    choke = table.triples("choke_ohm", example="[[3.6, 900, 1200], [7.1, 2100, 800]]")
    if rows is None and choke is None:
        raise table.error(
            "loss_db",
            f"[{table.name}] has no loss_db; rows of MHz and dB were expected, or choke_ohm with rows of MHz, R and X; "
            f"write loss_db = {example}",
        )
    return _made(
        Box,
        table,
        ratio=table.impedance_ratio("ratio") or 1.0,
        loss_db=() if rows is None else rows,
        loss_tolerance_db=table.number("loss_tolerance_db", example="0.1"),
        choke_ohm=choke,
    )


def _transformer(table: Table, boxes: dict[str, Box]) -> tuple[float | None, str | None]:
    """Its ratio, and its name where a box of the kit was told in place of that."""
    name = table.values.get("transformer")
    if isinstance(name, str) and name in boxes:
        if boxes[name].loss_db:
            return boxes[name].ratio, name
        text = f'{table.name}.transformer is {name!r}, which is a choke; write choke = "{name}"'
        raise table.error("transformer", text)
    try:
        return table.impedance_ratio("transformer"), None
    except BadInput as error:
        listed = f"the boxes are {', '.join(boxes)}" if boxes else "there is no [boxes.NAME]"
        raise BadInput(f"{error.text}, or the name of a box; {listed}", line=error.line) from error


def _choke(table: Table, boxes: dict[str, Box]) -> str | None:
    """The name of a box whose choke is known."""
    name = table.text("choke", example="mine") if "choke" in table.values else None
    if name is not None and not (name in boxes and boxes[name].choke_ohm):
        chokes = [key for key, box in boxes.items() if box.choke_ohm]
        listed = f"the chokes are {', '.join(chokes)}" if chokes else "no [boxes.NAME] has choke_ohm"
        text = f"{table.name}.choke is {name!r}; a box with choke_ohm was expected; {listed}"
        raise table.error("choke", text)
    return name


def _antenna(table: Table, lines: dict[str, LinePiece], boxes: dict[str, Box]) -> AntennaNote:
    table.refuse_unknown((*KEYS["antennas"], ON_GROUND))
    if "kind" not in table.values:
        raise table.error(
            "kind",
            f'[{table.name}] has no kind; one of {", ".join(KINDS)} was expected; write kind = "dipole"',
        )
    line = table.texts("line", example="spool")
    ratio, box = _transformer(table, boxes)
    with table.at("line"):
        resolve_pieces(line, lines)
    lie_there = {"radial_height_m": 0.0} if _lie_on_ground(table) else {}
    return _filled(
        AntennaNote,
        table,
        "antennas",
        **lie_there,
        transformer=ratio,
        box=box,
        lengths_m=_by_place(table.table("lengths"), "length"),
        whip_range_m=_whip_range(table),
        choke_at=_choke_at(table),
        wire=_wire(table),
        choke=_choke(table, boxes),
        weights=_by_place(table.table("weights"), "number"),
    )


def _lie_on_ground(table: Table) -> bool:
    """Whether the older word for the height of radials says so."""
    told = table.flag(ON_GROUND)
    if told is not None and "radial_height" in table.values:
        text = f"{table.name} has {ON_GROUND} and radial_height; one of them was expected; keep radial_height"
        raise table.error(ON_GROUND, text)
    return bool(told)


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
    with table.at("whip_range"):
        lengths = [parse_length_m(end) for end in ends]
        if len(lengths) != 2:
            raise BadInput('a shortest and a longest whip were expected; write ["1.8 m", "4.0 m"]')
    return lengths[0], lengths[1]


def _choke_at(table: Table) -> str | None:
    """A length from 0 on, or none."""
    text = table.text("choke_at", example='"0 m"') if "choke_at" in table.values else None
    if text in (None, "none"):
        return text
    with table.at("choke_at"):
        length_m = parse_length_m(text)
    if length_m < 0:
        raise table.error(
            "choke_at", f"{table.name}.choke_at is {text!r}; 0 m at the box, a length or none was expected"
        )
    return text


def _wire(table: Table) -> str | None:
    text = table.text("wire", example='"1 mm in 2.2 mm"') if "wire" in table.values else None
    if text is not None:
        try:
            parse_wire(text)
        except BadInput as error:
            raise table.error("wire", f"{table.name}.{error.text}") from error
    return text


def _made(make: type[Gear], table: Table, **told: Any) -> Gear:
    """The value with everything told; what was left out keeps its default."""
    try:
        return make(**{name: value for name, value in told.items() if value is not None})
    except BadGear as error:
        raise table.error(error.key, f"{table.name}.{error.text}") from error
