"""How each kind of fact is written by people, kept in the file, and shown again."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from datetime import date, datetime
from types import UnionType
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.limits import LIMITS
from sweepkit.logbook.fields import Field
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

Parse = Callable[[Field, Any], Any]


def parse_value(field: Field, written: Any) -> Any:
    """A fact as kept in the file, from what a person wrote; ``None`` for an empty text or the word ``unknown``."""
    if isinstance(written, str) and written.strip().lower() in ("", "unknown"):
        return None
    try:
        value = _PARSERS[field.kind](field, written)
    except BadInput as error:
        raise BadInput(f"{field.key}: {error.text}") from error
    complaint = complaint_about(field, value)
    if complaint:
        raise BadInput(f"{field.key}: {complaint}")
    return value


def complaint_about(field: Field, value: Any) -> str | None:
    """Why a kept value cannot be true, or None.

    ``value``: as kept in the file; never trusted.
    """
    if field.kind in ("texts", "words"):
        if not isinstance(value, list) or not 0 < len(value) <= MOST_PIECES:
            return f"{_shown(value)} is not a list of 1 to {MOST_PIECES} entries"
        return next((bad for item in value if (bad := _text_complaint(field, item))), None)
    if field.kind in _LIMIT_OF:
        return _number_complaint(field, value)
    bad = _text_complaint(field, value)
    if bad or field.kind not in ("when", "grid"):
        return bad
    try:
        _PARSERS[field.kind](field, value)
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


def value_text(field: Field, value: Any) -> str:
    """A kept value for people."""
    if value is None:
        return "unknown"
    if field.kind in ("texts", "words"):
        return (" + " if field.kind == "texts" else ", ").join(value)
    if field.kind in ("length", "change"):
        return length_text(value)
    if field.kind == "frequency":
        return frequency_text(value)
    if field.kind == "inductance":
        return f"{value * 1e6:.4g} uH"
    if field.kind == "ratio":
        return impedance_ratio_text(value)
    return f"{value:g} C" if field.kind == "temperature" else str(value)


def _shown(value: Any) -> str:
    """A value in a message, short whatever it is."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _text_complaint(field: Field, value: Any) -> str | None:
    """Why this is no text for the field, or None."""
    if not isinstance(value, str) or not value.strip():
        return f"{_shown(value)} is not a text"
    if len(value) > LONGEST_TEXT:
        return f"the text has {len(value)} characters; at most {LONGEST_TEXT} are kept"
    if not value.isprintable() and any(_is_no_text(letter) for letter in value):
        return f"{_shown(value)} has characters that are no text"
    if field.words and value not in field.words:
        return f"{_shown(value)} is not one of {', '.join(field.words)}"
    return None


def _is_no_text(letter: str) -> bool:
    """Control characters (they can rule a terminal) and bytes that were no text."""
    return (unicodedata.category(letter) == "Cc" and letter != "\n") or "\ud800" <= letter <= "\udfff"


def _number_complaint(field: Field, value: Any) -> str | None:
    """Why this is no number for the field, or None."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"{_shown(value)} is not a number"
    limit = LIMITS[_LIMIT_OF[field.kind]]
    return None if limit.holds(value) else f"{_shown(value)} is not {limit.rule}; was another unit meant?"


def _text(field: Field, written: Any) -> str:
    """Any text; words of a closed list in any case."""
    text = str(written).strip()
    return text.lower() if field.words else text


def _texts(field: Field, written: Any) -> list[str]:
    """A list from TOML as it is; a text is one entry, or words with commas between."""
    if isinstance(written, list | tuple):
        return [_text(field, item) for item in written]
    entries = str(written).split(",") if field.kind == "words" else [str(written)]
    return [_text(field, entry) for entry in entries]


def _count(field: Field, written: Any) -> int:
    """A whole number."""
    if isinstance(written, int) and not isinstance(written, bool):
        return written
    text = str(written).strip()
    if not re.fullmatch(r"\d{1,4}", text, re.ASCII):
        raise BadInput(f"{_shown(written)} is not a count; write a whole number like 4")
    return int(text)


def _temperature(field: Field, written: Any) -> float:
    """``12 C`` or ``54 F`` in degrees Celsius."""
    match = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*°?\s*([CcFf])\s*", str(written), re.ASCII)
    if not match:
        raise BadInput(f"{_shown(written)} is not a temperature with its unit; write it like 12 C or 54 F")
    degrees = float(match.group(1))
    return degrees if match.group(2) in "Cc" else round((degrees - 32) / 1.8, 2)


def _when(field: Field, written: Any) -> str:
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


def _grid(field: Field, written: Any) -> str:
    """A locator: two letters A to R, two digits, and finer pairs behind (letters A to X, digits in turn)."""
    text = str(written).strip()
    if len(text) > 10 or not re.fullmatch(r"[A-R]{2}\d{2}(?:[A-X]{2}(?:\d{2}(?:[A-X]{2})?)?)?", text.upper()):
        raise BadInput(f"{_shown(text)} is not a locator; write the square like KM72")
    return text[:2].upper() + text[2:].lower()


# The row of the table of limits that holds for each kind of number.
_LIMIT_OF = {
    "count": "radials", "length": "size_m", "change": "change_m", "frequency": "f_hz", "inductance": "coil_h",
    "temperature": "temperature_c", "ratio": "transformer",
}  # fmt: skip

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
    "count": _count,
    "length": lambda field, written: parse_length_m(str(written)),
    "change": lambda field, written: parse_length_m(str(written)),
    "frequency": lambda field, written: parse_frequency_hz(str(written)),
    "inductance": lambda field, written: parse_inductance_h(str(written)),
    "temperature": _temperature,
    "ratio": lambda field, written: parse_impedance_ratio(str(written)),
    "when": _when,
    "grid": _grid,
}
