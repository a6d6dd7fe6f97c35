"""How each kind of fact is written by people, kept in the file, and shown again."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from datetime import date, datetime
from types import UnionType
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.facts import LIMIT_OF, Fact
from sweepkit.limits import LIMITS
from sweepkit.quantities import (
    frequency_text,
    impedance_ratio_text,
    length_text,
    parse_frequency_hz,
    parse_impedance_ratio,
    parse_inductance_h,
    parse_length_m,
)

LONGEST_TEXT = 10_000  # characters in one fact; common practice, no source
MOST_PIECES = 100  # entries in one list; common practice, no source
COARSE_LOCATOR = 4  # characters of a locator that name a square of 1 by 2 degrees

Parse = Callable[[Fact, Any], Any]


def parse_value(fact: Fact, written: Any) -> Any:
    """A fact as kept in the file, from what a person wrote; ``None`` for an empty text or the word ``unknown``."""
    if isinstance(written, str) and written.strip().lower() in ("", "unknown"):
        return None
    try:
        value = _PARSERS[fact.kind](fact, written)
    except BadInput as error:
        raise BadInput(f"{fact.key}: {error.text}") from error
    complaint = complaint_about(fact, value)
    if complaint:
        raise BadInput(f"{fact.key}: {complaint}")
    return value


def complaint_about(fact: Fact, value: Any) -> str | None:
    """Why a kept value, never trusted, cannot be true, or None."""
    if fact.kind in ("texts", "words"):
        if not isinstance(value, list) or not 0 < len(value) <= MOST_PIECES:
            return f"{_shown(value)} is not a list of 1 to {MOST_PIECES} entries"
        return next((bad for item in value if (bad := _text_complaint(fact, item))), None)
    if fact.kind in LIMIT_OF:
        return _number_complaint(fact, value)
    bad = _text_complaint(fact, value)
    if bad or fact.kind not in ("when", "grid"):
        return bad
    try:
        _PARSERS[fact.kind](fact, value)
    except BadInput as error:
        return error.text
    return None


def hints_complaint(hints: Mapping[str, Any]) -> str | None:
    """Why kept hints cannot be what a reader was told, or None; each is held to what its option takes."""
    for name, value in hints.items():
        kind = _HINTS.get(name)
        if kind is None or not isinstance(value, kind) or (kind is not bool and isinstance(value, bool)):
            return f"{name[:60]!r} with {_shown(value)} is no hint for a reader"
        if isinstance(value, str) and (len(value) > LONGEST_TEXT or any(map(_is_no_text, value))):
            return f"the hint {name} has characters that are no text"
    from sweepkit.readers.hints import make_hints

    try:
        make_hints(**hints)
    except (BadInput, OverflowError) as error:
        return f"the hint cannot be: {error}"
    return None


def value_text(fact: Fact, value: Any) -> str:
    """A kept value for people."""
    if value is None:
        return "unknown"
    if fact.kind in ("texts", "words"):
        return (" + " if fact.kind == "texts" else ", ").join(value)
    if fact.kind in ("length", "change"):
        return length_text(value)
    if fact.kind == "frequency":
        return frequency_text(value)
    if fact.kind == "inductance":
        return f"{value * 1e6:.4g} uH"
    if fact.kind == "ratio":
        return impedance_ratio_text(value)
    return f"{value:g} C" if fact.kind == "temperature" else str(value)


def _shown(value: Any) -> str:
    """A value in a message, short whatever it is."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _text_complaint(fact: Fact, value: Any) -> str | None:
    """Why this is no text for the fact, or None."""
    if not isinstance(value, str) or not value.strip():
        return f"{_shown(value)} is not a text"
    if len(value) > LONGEST_TEXT:
        return f"the text has {len(value)} characters; at most {LONGEST_TEXT} are kept"
    if not value.isprintable() and any(_is_no_text(letter) for letter in value):
        return f"{_shown(value)} has characters that are no text"
    if fact.words and value not in fact.words:
        return f"{_shown(value)} is not one of {', '.join(fact.words)}"
    return None


def _is_no_text(letter: str) -> bool:
    """Control characters (they can rule a terminal) and bytes that were no text."""
    return (unicodedata.category(letter) == "Cc" and letter != "\n") or "\ud800" <= letter <= "\udfff"


def _number_complaint(fact: Fact, value: Any) -> str | None:
    """Why this is no number for the fact, or None."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"{_shown(value)} is not a number"
    limit = LIMITS[LIMIT_OF[fact.kind]]
    return None if limit.holds(value) else f"{_shown(value)} is not {limit.rule}; was another unit meant?"


def _text(fact: Fact, written: Any) -> str:
    """Any text; words of a closed list in any case."""
    text = str(written).strip()
    return text.lower() if fact.words else text


def _texts(fact: Fact, written: Any) -> list[str]:
    """A list from TOML as it is; a text is one entry, or words with commas between."""
    if isinstance(written, list | tuple):
        return [_text(fact, item) for item in written]
    entries = str(written).split(",") if fact.kind == "words" else [str(written)]
    return [_text(fact, entry) for entry in entries]


def _legs(fact: Fact, written: Any) -> str:
    """``40 m=10.61 m, 20 m=5.36 m``, or a table of TOML, as text that names each place with its length."""
    from sweepkit.several_bands.told import parse_logged_lengths_m

    rows = (
        [f"{name}={value}" for name, value in written.items()] if isinstance(written, Mapping) else [written]
    )
    text = ", ".join(str(row).strip() for row in rows)
    parse_logged_lengths_m(text)
    return text


def _count(fact: Fact, written: Any) -> int:
    if isinstance(written, int) and not isinstance(written, bool):
        return written
    text = str(written).strip()
    if not re.fullmatch(r"\d{1,4}", text, re.ASCII):
        raise BadInput(f"{_shown(written)} is not a count; write a whole number like 4")
    return int(text)


def _temperature(fact: Fact, written: Any) -> float:
    """``12 C`` or ``54 F`` in degrees Celsius."""
    match = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*°?\s*([CcFf])\s*", str(written), re.ASCII)
    if not match:
        raise BadInput(f"{_shown(written)} is not a temperature with its unit; write it like 12 C or 54 F")
    degrees = float(match.group(1))
    return degrees if match.group(2) in "Cc" else round((degrees - 32) / 1.8, 2)


def _when(fact: Fact, written: Any) -> str:
    """ISO 8601 with zone; a bare date where the time of day is not known."""
    text = written.isoformat() if isinstance(written, date) else str(written).strip()
    advice = "write it like 2026-05-02T09:30+02:00, or 2026-05-02 where only the day is known"
    try:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
            day = date.fromisoformat(text)
            _refuse_other_centuries(day)
            return day.isoformat()
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise BadInput(f"{_shown(text)} is not a date and time; {advice}") from error
    _refuse_other_centuries(moment)
    if moment.tzinfo is None:
        raise BadInput(f"{_shown(text)} has no zone; {advice}")
    return moment.isoformat(timespec="seconds")


def _refuse_other_centuries(day: date) -> None:
    """Refuse a year in which nobody swept; near the first and the last the calendar itself ends."""
    if not LIMITS["year"].holds(day.year):
        raise BadInput(f"the year {day.year} is not {LIMITS['year'].rule}; was another meant?")


def _grid(fact: Fact, written: Any) -> str:
    """A locator: two letters A to R, two digits, and finer pairs behind (letters A to X, digits in turn)."""
    text = str(written).strip()
    if len(text) > 10 or not re.fullmatch(r"[A-R]{2}\d{2}(?:[A-X]{2}(?:\d{2}(?:[A-X]{2})?)?)?", text.upper()):
        raise BadInput(f"{_shown(text)} is not a locator; write the square like KM72")
    return text[:2].upper() + text[2:].lower()


# What the reader may have been told, and the kind of each (readers/hints.py).
_HINTS: dict[str, type | UnionType] = {
    "columns": str, "unit": str, "decimal": str, "reference_ohm": int | float, "trace": str,
    "recover_sign": bool,
}  # fmt: skip

_PARSERS: dict[str, Parse] = {
    "text": _text,
    "word": _text,
    "texts": _texts,
    "words": _texts,
    "legs": _legs,
    "count": _count,
    "length": lambda fact, written: parse_length_m(str(written)),
    "change": lambda fact, written: parse_length_m(str(written)),
    "frequency": lambda fact, written: parse_frequency_hz(str(written)),
    "inductance": lambda fact, written: parse_inductance_h(str(written)),
    "temperature": _temperature,
    "ratio": lambda fact, written: parse_impedance_ratio(str(written)),
    "when": _when,
    "grid": _grid,
}
