"""Text of strangers made visible: what could rule a terminal, turn the writing round or run in a spreadsheet.

File names, sites, antennas and notes come from anywhere. What cannot be printed is shown as an escape, never
dropped: two different names stay different. The writers at the end of the way call this; JSON escapes by itself.
"""

from __future__ import annotations

import re

# What a spreadsheet may take for a formula, at the beginning of a cell or of what it may cut a cell into
# (OWASP, CSV injection; full-width forms and separators of other languages included).
_RUNS = re.compile(r"(^|[;,|])(\s*)(?=[=+\-@\uff1d\uff0b\uff0d\uff20])")
_NUMBER = re.compile(r"[+-]?\d+(\.\d*)?([eE][+-]?\d+)?")


def visible(text: str) -> str:
    """One line: controls, line ends, marks that turn the writing and bytes that are no text as escapes."""
    if text.isprintable():  # nearly always
        return text
    return "".join(letter if letter.isprintable() else _escape(letter) for letter in text)


def visible_lines(text: str) -> str:
    """The same for text of our own whose line ends are meant, and nothing else is trusted."""
    if text.isprintable():
        return text
    return "\n".join(map(visible, text.split("\n")))


def cell(text: str) -> str:
    """One cell of a table that no spreadsheet runs; numbers as text stay as they are."""
    shown = visible(text)
    return shown if _NUMBER.fullmatch(shown) else _RUNS.sub(r"\1\2'", shown)


def _escape(letter: str) -> str:
    """``\\x1b``, ``\\u202e``, ``\\n``; ``\\xff`` for a byte that was no text (PEP 383), ``\\u00ff`` for a letter."""
    code = ord(letter)
    if 0xDC80 <= code <= 0xDCFF:
        return f"\\x{code - 0xDC00:02x}"
    return f"\\u{code:04x}" if 0x80 <= code <= 0xFF else letter.encode("unicode_escape").decode("ascii")
