"""Which columns of a table are used: their names, the frequency, and one port or trace of several."""

from __future__ import annotations

import re
from dataclasses import replace

from sweepkit.errors import BadInput, LikelyNoSweep, NeedsHint, UnreadableFile
from sweepkit.readers.hints import Hints
from sweepkit.readers.tables.cells import split
from sweepkit.readers.tables.headings import BY_UNIT, Column, describe
from sweepkit.readers.tables.layout import Layout
from sweepkit.readers.tables.vocabulary import plain

KNOWN_NAMES = "f, r, x, z, deg, rad, re, im, mag, s11_db, rl, swr, |x|, rp, xp, g_ms, b_ms, z0 or -"
USABLE = ("gamma", "part", "z", "r", "x", "rp", "xp", "y", "g", "b", "theta", "l", "c", "swr", "rl")
_WITH_PHASE = ("gamma", "part", "z", "r", "x", "rp", "xp", "y", "g", "b", "theta", "l", "c")  # or half of it
_SKIPPED = ("-", "", "_", "skip", "ignore")


def name_columns(layout: Layout, hints: Hints, first_row: str) -> list[Column]:
    """What each column holds, from the hints or the headings."""
    named = (
        [
            describe(f"{name} [{unit}]" if unit and not describe(name, 0).unit else name, at)
            for at, (name, unit) in enumerate(
                zip(layout.headings, layout.units or ("",) * layout.width, strict=True)
            )
        ]
        if layout.headings
        else []
    )
    if hints.columns is not None:
        return _hinted(layout, hints.columns, named, first_row)
    if named:
        return _by_letters(named)
    _refuse_other_width(layout)
    examples = {2: "f,swr or f,s11_db", 3: "f,r,x or f,re,im or f,mag,deg"}.get(layout.width, "f,r,x,-")
    raise NeedsHint(
        f"no names of columns above the rows; expected a line such as Frequency (MHz),R,X, or a Touchstone "
        f"option line (# MHz S RI R 50); pass --columns {examples}, and --unit MHz",
        hint="columns",
        line=layout.first_row,
    )


def _by_letters(columns: list[Column]) -> list[Column]:
    """R and X of a table whose words do not name both, by the letter beside them and their unit."""
    told = [c.letter or c.quantity for c in columns if c.letter or c.quantity in _WITH_PHASE]
    if sorted(told) != ["r", "x"]:
        return columns
    return [replace(c, quantity=c.letter, named=True) if c.letter else c for c in columns]


def _hinted(layout: Layout, names: tuple[str, ...], named: list[Column], first_row: str) -> list[Column]:
    """Columns as the user names them; units still come from the file where the hint has none."""
    fewer_is_safe = layout.separator != "," or "." in first_row
    if len(names) > layout.width or (len(names) < layout.width and not fewer_is_safe):
        raise UnreadableFile(
            f"row has {layout.width} cells, --columns names {len(names)}; expected a name for each, - for those "
            "to leave out; a comma that is both decimal mark and separator cannot be read",
            line=layout.first_row,
        )
    columns = []
    for at, name in enumerate(names):
        if name.lower() in _SKIPPED:
            continue
        column = describe(name, at)
        if column.quantity == "part" and column.part:
            column = replace(column, quantity="gamma")
        if column.quantity not in (*USABLE, "f", "z0") or ">" in column.port:
            raise BadInput(f"--columns has {name!r}; it must be one of {KNOWN_NAMES}")
        if not column.unit and named and named[at].unit and named[at].quantity == column.quantity:
            column = replace(column, unit=named[at].unit)
        columns.append(replace(column, hinted=True))
    return columns


def _refuse_other_width(layout: Layout) -> None:
    """A line of names that has another number of names than the rows have cells."""
    for number, text in layout.preamble:
        names = [describe(name, 0).quantity for name in split(text, layout.separator)]
        if "f" in names and any(name in USABLE for name in names):
            raise UnreadableFile(
                f"row has {layout.width} cells, line {number} names {len(names)} columns; expected as many; "
                "a comma that is both decimal mark and separator cannot be read - export with another separator",
                line=layout.first_row,
            )


def frequency_column(columns: list[Column], layout: Layout) -> Column:
    """The column of frequencies."""
    found = [column for column in columns if column.quantity == "f"]
    found = found or [column for column in columns if column.quantity == BY_UNIT]
    if len(found) == 1:
        return found[0]
    line = layout.headings_line or layout.first_row
    if len(found) > 1:
        names = ", ".join(repr(column.heading) for column in found)
        raise NeedsHint(
            f"several frequency columns: {names}; expected one; pass --columns with - for the others",
            hint="columns",
            line=line,
        )
    kind = (
        NeedsHint if any(column.named for column in columns if column.quantity in USABLE) else LikelyNoSweep
    )
    raise kind(
        f"no frequency column among {_listed(columns)}; expected one such as Frequency (MHz); "
        "if this is a sweep, pass --columns f,r,x (or what the columns hold) and --unit MHz",
        hint="columns",
        line=line,
    )


def reflection_columns(columns: list[Column], layout: Layout, trace: str | None) -> list[Column]:
    """The columns that tell the reflection of one port."""
    line = layout.headings_line or layout.first_row
    usable = [c for c in columns if c.quantity in USABLE and ">" not in c.port]
    if not usable:
        others = [c for c in columns if c.quantity not in ("f", BY_UNIT)]
        is_other = others and all(c.quantity in ("other", "z0") or ">" in c.port for c in others)
        has_frequency = len(others) < len(columns)
        kind = LikelyNoSweep if is_other or not has_frequency else NeedsHint
        raise kind(
            f"no reflection column among {_listed(columns)}; expected R and X, SWR, return loss or S11; "
            "if this is a sweep, pass --columns f,r,x (or what the columns hold)",
            hint="columns",
            line=line,
        )
    ports = {column.port for column in usable}
    if trace is not None:
        return _traced(usable, trace)
    if "1" in ports:
        return [column for column in usable if column.port in ("", "1")]
    if "" in ports:
        return [column for column in usable if not column.port]
    if len(ports) == 1 and not next(iter(ports)).isdigit():
        return usable
    raise NeedsHint(
        f"reflections of port {' and '.join(sorted(ports))} among {_listed(usable)}, none of port 1; "
        f"expected S11; pass --trace s{min(ports)}{min(ports)} if that is the antenna",
        hint="trace",
        line=line,
    )


def _traced(usable: list[Column], trace: str) -> list[Column]:
    """Columns of the port, or with the words, that the user named."""
    number = re.fullmatch(r"s?(\d)\1|s\(?(\d+),(\d+)\)?", trace.replace(" ", "").lower())
    if number and (number.group(1) or number.group(2) == number.group(3)):
        port = number.group(1) or number.group(2)
        found = [column for column in usable if column.port == port]
        if not found and port == "1":
            found = [column for column in usable if not column.port]
    else:
        word = re.compile(rf"(?<!\w){re.escape(plain(trace))}(?!\w)")
        found = [column for column in usable if word.search(plain(column.heading).replace("_", " "))]
        found = found or [column for column in usable if plain(trace) in plain(column.heading)]
    if not found:
        raise BadInput(f"--trace is {trace!r}; expected words of one of {_listed(usable)}, or s11, s22")
    return found


def _listed(columns: list[Column]) -> str:
    names = [repr(column.heading) for column in columns[:8]]
    return ", ".join(names) + (f" and {len(columns) - 8} more" if len(columns) > 8 else "")
