"""On which line of a TOML file each key stands; the standard parser does not say.

It reads text that the standard parser has already accepted, so it only looks at table headers, at keys and at
what makes a value run on over several lines.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

Key = tuple[str, ...]

_PART = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\]|\\.)*"|'[^']*')"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER = re.compile(rf"\s*\[\[?\s*({_DOTTED})\s*\]")
_ASSIGNMENT = re.compile(rf"\s*({_DOTTED})\s*=(.*)", re.DOTALL)


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
