"""One table of a kit file: takes values out key by key, checks what they are, and knows where they stand."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.limits import complaint
from sweepkit.quantities import parse_frequency_hz, parse_impedance_ratio, parse_inductance_h, parse_length_m
from sweepkit.visible import visible

LONGEST_NAME = 100  # letters; common practice, no source
LARGEST_NUMBER = 1e18  # no figure of a kit comes near it; nan and inf fail the comparison
Key = tuple[str, ...]

_PART = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\]|\\.)*"|'[^']*')"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER = re.compile(rf"\s*\[\[?\s*({_DOTTED})\s*\]")
_ASSIGNMENT = re.compile(rf"\s*({_DOTTED})\s*=(.*)", re.DOTALL)


@dataclass(frozen=True)
class Table:
    """Values of one table, as the standard parser made them, with the line numbers of its keys."""

    values: dict[str, Any]
    where: tuple[str, ...]  # its place in the file, such as ("lines", "spool"); empty for the file itself
    lines: KeyLines

    @property
    def name(self) -> str:
        """Its place as the operator writes it: ``lines.spool``."""
        return ".".join(self.where)

    def error(self, key: str, text: str) -> BadInput:
        """The mistake at a key, with its line."""
        return BadInput(text, line=self.lines.line_of(*self.where, key))

    @contextmanager
    def at(self, key: str) -> Iterator[None]:
        """What cannot be read within is a mistake at a key."""
        try:
            yield
        except BadInput as error:
            raise self.error(key, f"{self._path(key)}: {error.text}") from error

    def refuse_unknown(self, known: tuple[str, ...]) -> None:
        """Raise at the first key that is not known, with the nearest one that is."""
        for key in self.values:
            if key not in known:
                inside = f"in [{self.name}]" if self.where else "at the top of the file"
                raise self.error(key, f"{key!r} is no key {inside}; {_near(key, known)}")

    def number(self, key: str, *, example: str, limit: str | None = None, remark: str = "") -> float | None:
        """A finite number inside its row of ``limits``, or ``None`` where the key is left out."""
        value = self.values.get(key)
        if value is None:
            return None
        if not _is_number(value):
            raise self._wrong(key, "a number without quotes or unit was expected", f"{key} = {example}")
        wrong = limit and complaint(limit, value)
        if wrong:
            remark = f" ({remark})" if remark else ""
            raise self.error(key, f"{self._path(key)} {wrong}{remark}; write {key} = {example}")
        return float(value)

    def whole(self, key: str, *, example: str) -> int | None:
        """A whole number, or ``None`` where the key is left out."""
        value = self.values.get(key)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int)):
            raise self._wrong(key, "a whole number was expected", f"{key} = {example}")
        return value

    def text(self, key: str, *, example: str) -> str | None:
        """A text that is not empty, or ``None`` where the key is left out."""
        value = self.values.get(key)
        if value is not None and not (isinstance(value, str) and value.strip()):
            raise self._wrong(key, "a text in quotes was expected", f'{key} = "{example}"')
        return value

    def flag(self, key: str) -> bool | None:
        """True or false, or ``None`` where the key is left out."""
        value = self.values.get(key)
        if value is not None and not isinstance(value, bool):
            raise self._wrong(key, "true or false was expected", f"{key} = true")
        return value

    def texts(self, key: str, *, example: str) -> tuple[str, ...]:
        """One text or a list of texts; empty where the key is left out."""
        value = self.values.get(key, [])
        listed = [value] if isinstance(value, str) else value
        if not (isinstance(listed, list) and all(isinstance(item, str) and item.strip() for item in listed)):
            raise self._wrong(
                key, "a text in quotes, or a list of them, was expected", f'{key} = "{example}"'
            )
        return tuple(listed)

    def length_m(self, key: str) -> float | None:
        """A length with its unit [m], or ``None`` where the key is left out."""
        return self._quantity(key, parse_length_m, f'{key} = "15 m"')

    def frequency_hz(self, key: str) -> float | None:
        """A frequency with its unit [Hz], or ``None`` where the key is left out."""
        return self._quantity(key, parse_frequency_hz, f'{key} = "7 MHz"')

    def frequencies_hz(self, key: str, *, example: str) -> tuple[float, ...] | None:
        """Frequencies with their unit [Hz], each above 0, or ``None`` where the key is left out."""
        texts = self.texts(key, example=example)
        with self.at(key):
            listed = tuple(map(parse_frequency_hz, texts))
        if any(not f_hz > 0 for f_hz in listed):
            raise self._wrong(key, "frequencies above 0 were expected", f'{key} = ["{example}"]')
        return listed or None

    def inductance_h(self, key: str) -> float | None:
        """An inductance with its unit [H], or ``None`` where the key is left out."""
        return self._quantity(key, parse_inductance_h, f'{key} = "11.3 uH"')

    def impedance_ratio(self, key: str) -> float | None:
        """A ratio such as 49:1 [-], or ``None`` where the key is left out."""
        return self._quantity(key, parse_impedance_ratio, f'{key} = "49:1"')

    def numbers(self, key: str, *, example: str) -> tuple[float, ...] | None:
        """A list of finite numbers, or ``None`` where the key is left out."""
        value = self.values.get(key)
        if value is not None and not (isinstance(value, list) and all(map(_is_number, value))):
            raise self._wrong(key, "a list of numbers was expected", f"{key} = {example}")
        return None if value is None else tuple(float(item) for item in value)

    def pair(self, key: str, *, example: str) -> tuple[float, float] | None:
        """A low and a high end, or ``None`` where the key is left out."""
        value = self.numbers(key, example=example)
        if value is not None and len(value) != 2:
            raise self._wrong(key, "a low and a high end were expected", f"{key} = {example}")
        return None if value is None else (value[0], value[1])

    def rows(self, key: str, *, example: str) -> tuple[tuple[float, float], ...] | None:
        """A list of pairs of numbers, or ``None`` where the key is left out."""
        rows = self._rows(key, 2, "pairs", example)
        return None if rows is None else tuple((row[0], row[1]) for row in rows)

    def triples(self, key: str, *, example: str) -> tuple[tuple[float, float, float], ...] | None:
        """A list of three numbers each, or ``None`` where the key is left out."""
        rows = self._rows(key, 3, "triples", example)
        return None if rows is None else tuple((row[0], row[1], row[2]) for row in rows)

    def _rows(self, key: str, size: int, what: str, example: str) -> list[list[float]] | None:
        value = self.values.get(key)
        if value is None:
            return None
        fits = isinstance(value, list) and all(
            isinstance(row, list) and len(row) == size and all(map(_is_number, row)) for row in value
        )
        if not fits:
            raise self._wrong(key, f"a list of {what} of numbers was expected", f"{key} = {example}")
        return [[float(number) for number in row] for row in value]

    def table(self, key: str) -> Table:
        """The table below a key; an empty one where it is left out."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            header = ".".join([*self.where, key if self.where == () else "NAME"])
            raise self._wrong(key, "a table of its own was expected", f"[{header}] on a line above its keys")
        return Table(value, (*self.where, key), self.lines)

    def tables(self, key: str) -> Iterator[tuple[str, Table]]:
        """Name and table of everything below a key, in the order of the file."""
        below = self.table(key)
        for name in below.values:
            if not name.isprintable() or len(name) > LONGEST_NAME:
                rule = f"a name of up to {LONGEST_NAME} printed letters was expected; rename it"
                raise below.error(name, f"{visible(name)[:60]!r} cannot be shown on one line; {rule}")
            yield name, below.table(name)

    def _quantity(self, key: str, parse: Callable[[str], float], example: str) -> float | None:
        """A number with its unit, as a text."""
        value = self.values.get(key)
        if value is None:
            return None
        if not isinstance(value, str):
            raise self._wrong(key, "a number with its unit, in quotes, was expected", example)
        with self.at(key):
            return parse(value)

    def _path(self, key: str) -> str:
        return ".".join([*self.where, key])

    def _wrong(self, key: str, expected: str, example: str) -> BadInput:
        """A value of the wrong sort."""
        return self.error(key, f"{self._path(key)} is {self.values[key]!r:.60}; {expected}; write {example}")


def _is_number(value: Any) -> bool:
    """A finite number and not true or false."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < LARGEST_NUMBER


def _near(key: str, known: tuple[str, ...]) -> str:
    """What to write instead of an unknown key."""
    from difflib import get_close_matches  # only when something is wrong: reading a kit stays quick

    near = get_close_matches(key, known, n=1, cutoff=0.55)
    listed = f"known are {', '.join(known)}"
    return f"{listed}; did you mean {near[0]}?" if near else f"{listed}; take it out or correct it"


@dataclass(frozen=True)
class KeyLines:
    """Line numbers of keys, counted from 1."""

    by_key: dict[Key, int]

    def line_of(self, *key: str) -> int | None:
        """Line of a key, or of the nearest table around it; ``None`` where none is known."""
        for length in range(len(key), 0, -1):
            if key[:length] in self.by_key:
                return self.by_key[key[:length]]
        return None


def find_key_lines(text: str) -> KeyLines:
    """Where each table header and key of a valid TOML text stands; an inline table's keys at that table's line."""
    by_key: dict[Key, int] = {}
    table: Key = ()
    still_open = _Open()
    for number, line in enumerate(text.split("\n"), start=1):
        if still_open:
            still_open = still_open.after(line)
            continue
        header = _HEADER.match(line)
        if header:
            table = _split(header.group(1))
            _note(by_key, (), table, number)
            continue
        assignment = _ASSIGNMENT.match(line)
        if assignment:
            _note(by_key, table, _split(assignment.group(1)), number)
            still_open = _Open().after(assignment.group(2))
    return KeyLines(by_key)


def _note(by_key: dict[Key, int], table: Key, parts: Key, number: int) -> None:
    """Where a key and the tables in its name are seen first."""
    for length in range(1, len(parts) + 1):
        by_key.setdefault(table + parts[:length], number)


@dataclass(frozen=True)
class _Open:
    """What is still open at the end of a line: a multi-line string, or brackets of an array."""

    quote: str = ""
    depth: int = 0

    def __bool__(self) -> bool:
        return bool(self.quote) or self.depth > 0

    def after(self, text: str) -> _Open:
        """The same after more text."""
        quote, depth = self.quote, self.depth
        for token in re.findall(r'\\.|"""|\'\'\'|"|\'|[\[\]#]', text):
            if quote:
                quote = "" if token == quote else quote
            elif token in ('"', "'", '"""', "'''"):
                quote = token
            elif token == "#":
                break
            else:
                depth += {"[": 1, "]": -1}.get(token, 0)
        one_line = quote in ('"', "'")  # a plain string ends with its line
        return _Open("" if one_line else quote, depth)


def _split(dotted: str) -> Key:
    """Parts of a dotted key without their quotes."""
    return tuple(part.strip("\"'") for part in re.findall(_PART, dotted))
