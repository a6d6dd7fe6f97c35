"""The Touchstone option line, in any word order, with nothing left over.

Touchstone File Format Specification, version 2.1 (IBIS Open Forum, 2024), "Option Line": the defaults are
GHz, S, MA and R 50.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from sweepkit.errors import UnreadableFile
from sweepkit.readers.hints import UNIT_HZ
from sweepkit.readers.numbers import is_plain_number

PARAMETERS = ("S", "Y", "Z", "G", "H")
FORMATS = ("RI", "MA", "DB")
_GLUED_R = re.compile(r"R=?([0-9.+-].*)", re.IGNORECASE)
EXAMPLE = "# MHz S RI R 50"


@dataclass(frozen=True)
class Options:
    """What an option line says."""

    unit_hz: float = 1e9  # of the frequencies
    parameter: str = "S"  # kind of network parameter
    number_format: str = "MA"  # how a complex number is written
    reference_ohm: float | None = None  # None where the line states none (the rule is then 50)
    bare_r: bool = False  # an R stands there without a number


@lru_cache(maxsize=64)  # files of one analyzer have one option line
def looks_like_options(line: str) -> bool:
    """Whether a line that begins with ``#`` means a Touchstone option line rather than a table's remark."""
    words = line.partition("!")[0].strip().lstrip("#").upper().split()
    known = [w for w in words if w in (*PARAMETERS, *FORMATS, "R") or w.lower() in UNIT_HZ]
    if len(known) == len([w for w in words if not is_plain_number(w)]):
        return len(known) > 0 or not words
    return any(w in FORMATS for w in words) and any(w in (*PARAMETERS, "R") for w in words)


def parse_options(text: str, *, line: int | None = None) -> Options:
    """Read an option line; a word that means nothing there, or is given twice, is refused."""
    try:
        return _parsed(text)
    except UnreadableFile as error:
        error.line = line
        raise


@lru_cache(maxsize=64)
def _parsed(text: str) -> Options:
    words = text.partition("!")[0].strip().lstrip("#").split()
    found: dict[str, str] = {}
    reference_ohm, bare_r = None, False
    while words:
        word = words.pop(0)
        kind = _kind(word)
        if kind == "r":
            bare_r = word.upper() == "R" and not words
            reference_ohm = None if bare_r else _reference(word, words)
        if kind in found:
            raise UnreadableFile(
                f"option line says both {found[kind]!r} and {word!r}; expected one of them; correct the line"
            )
        found[kind] = word
    return Options(
        UNIT_HZ[found.get("unit", "GHz").lower()],
        found.get("parameter", "S").upper(),
        found.get("format", "MA").upper(),
        reference_ohm,
        bare_r,
    )


def _kind(word: str) -> str:
    upper = word.upper()
    if upper.lower() in UNIT_HZ:
        return "unit"
    if upper in PARAMETERS:
        return "parameter"
    if upper in FORMATS:
        return "format"
    if upper == "R" or _GLUED_R.fullmatch(word):
        return "r"
    if is_plain_number(word):
        raise UnreadableFile(
            f"option line has {word!r} without R before it; expected a line like {EXAMPLE}; write R {word}"
        )
    raise UnreadableFile(
        f"option line has the word {word!r}; expected Hz, kHz, MHz or GHz, S, Y or Z, RI, MA or DB, "
        f"and R with ohms, like {EXAMPLE}; correct the line"
    )


def _reference(word: str, rest: list[str]) -> float:
    """The resistance after R, glued or apart, with an optional word for ohm."""
    glued = _GLUED_R.fullmatch(word)
    text = glued.group(1) if glued else (rest.pop(0) if rest else "")
    if not is_plain_number(text):
        raise UnreadableFile(
            f"option line has R followed by {text or 'nothing'!r}; expected ohms, like {EXAMPLE}; "
            "correct the line"
        )
    if rest and rest[0].lower() in ("ohm", "ohms", "ω", "Ω"):
        rest.pop(0)
    value = float(text)
    if not (math.isfinite(value) and value > 0):
        raise UnreadableFile(
            f"option line has the reference R {text}; expected ohms above 0, like {EXAMPLE}; correct the line"
        )
    return value
