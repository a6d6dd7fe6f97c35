"""Numbers as files print them: which mark is decimal, which separates thousands, and what is no number."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from sweepkit.errors import NeedsHint, UnreadableFile
from sweepkit.readers.number_block import CUT_EXPONENT

_PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_CORE = re.compile(r"[+-]?([0-9.,'’ \u00a0\u2009\u202f]*[0-9.,])(?:[eEdD][+-]?\d+)?", re.ASCII)
GROUP_BLANKS = "'’ \u00a0\u2009\u202f"  # marks between groups of three that are never decimal marks
MINUS = str.maketrans({"\u2212": "-", "\u2013": "-"})  # minus sign and dash, as word processors write them


@dataclass(frozen=True)
class Style:
    """How a file writes its numbers: decimal mark, and the mark between groups of three digits, where there is one."""

    decimal: str = "."
    thousands: str = ""


POINTS = Style()


@lru_cache(maxsize=8)
def group_mark(style: Style) -> re.Pattern[str]:
    """What stands between two groups of digits."""
    return re.compile(rf"\d[{re.escape(style.thousands + GROUP_BLANKS)}]\d")


def parse_number(text: str, style: Style) -> float:
    """One printed number; ``ValueError`` where it is not a finite one in this style."""
    text = text.strip().translate(MINUS)
    if not _PLAIN.fullmatch(text) or style.decimal == ",":
        text = _plain_form(text, style)
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text} is not finite")
    return value


def is_plain_number(text: str) -> bool:
    """Whether a text is a number with a decimal point or none."""
    return _PLAIN.fullmatch(text) is not None


def _plain_form(text: str, style: Style) -> str:
    """The same number with a decimal point, no group marks and an E exponent."""
    match = _CORE.fullmatch(text)
    if not match:
        raise ValueError(f"{text!r} is no number")
    core = match.group(1)
    whole, mark, part = core.partition(style.decimal)
    marks = style.thousands + GROUP_BLANKS
    groups = re.split(f"[{re.escape(marks)}]", whole)
    if len(groups) > 1 and not (
        1 <= len(groups[0]) <= 3 and groups[0].isdigit() and all(len(g) == 3 for g in groups[1:])
    ):
        raise ValueError(f"{text!r} has groups that are not of three digits")
    if style.decimal == "," and "." in "".join(groups):
        raise ValueError(f"{text!r} has a point where the decimal mark is a comma")
    head, tail = text[: match.start(1)], text[match.end(1) :]
    plain = head + "".join(groups) + mark.replace(",", ".") + part + tail.lower().replace("d", "e")
    if not _PLAIN.fullmatch(plain):
        raise ValueError(f"{text!r} is no number")
    return plain


def refuse_odd_exponents(rows: Iterable[tuple[int, str]]) -> None:
    """A few exponents without a sign, or one that was cut off, among numbers that have none are damage."""
    found = [(line, _odd_exponents(text)) for line, text in rows]
    for kind in (0, 1):
        ((common, _),) = Counter(counts[kind] for _, counts in found).most_common(1) if found else ((0, 0),)
        for line, counts in found:
            if counts[kind] > common:
                raise UnreadableFile(
                    "a number has an exponent that those of other lines do not have; expected one way of writing; "
                    "the line looks damaged - correct it, or export the sweep again",
                    line=line,
                )


def _odd_exponents(text: str) -> tuple[int, int]:
    if "e" not in text.lower():
        return 0, 0
    return len(UNSIGNED_EXPONENT.findall(text)), len(CUT_EXPONENT.findall(text))


UNSIGNED_EXPONENT = re.compile(r"\d[.,]?[eEdD]\d")  # 48.e5: programs that print it print it in every row


@dataclass
class _Evidence:
    """First line on which each thing was seen."""

    decimal: dict[str, int] = field(default_factory=dict)
    thousands: dict[str, int] = field(default_factory=dict)
    either: dict[str, int] = field(default_factory=dict)


def decide_style(tokens: Iterable[tuple[int, str]], hint: str | None) -> Style:
    """Which marks a file uses, of the printed numbers with a comma or a point; ``14,000`` alone needs a hint."""
    seen = _Evidence()
    for line, token in tokens:
        if "," in token or "." in token:
            _weigh(token, line, seen)
    if hint is not None:
        other = "," if hint == "." else "."
        return Style(hint, other if other in seen.thousands or other in seen.either else "")
    proved = [mark for mark in ".," if mark in seen.decimal]
    if len(proved) == 2:
        first = max(seen.decimal.values())
        raise UnreadableFile(
            "both comma and point serve as decimal mark; expected one of them in the whole file; "
            "correct the line",
            line=first,
        )
    if not proved:
        proved = [{",": ".", ".": ","}[mark] for mark in ".," if mark in seen.thousands]
    if not proved:
        if "," in seen.either:
            raise NeedsHint(
                "a comma before three digits may be a decimal mark or separate thousands; expected a proof; "
                "pass --decimal comma or --decimal point",
                hint="decimal",
                line=seen.either[","],
            )
        return Style()
    other = "," if proved[0] == "." else "."
    return Style(proved[0], other if other in seen.thousands or other in seen.either else "")


def _weigh(token: str, line: int, seen: _Evidence) -> None:
    """What one token proves about the marks."""
    match = _CORE.fullmatch(token.strip().translate(MINUS))
    if not match:
        return
    core = match.group(1)
    commas, points = core.count(","), core.count(".")
    if commas and points:
        last = max(core.rfind(","), core.rfind("."))
        seen.decimal.setdefault(core[last], line)
        seen.thousands.setdefault("." if core[last] == "," else ",", line)
        return
    mark = "," if commas else "."
    if commas + points > 1:
        seen.thousands.setdefault(mark, line)
        return
    whole, _, part = core.partition(mark)
    could_be_group = len(part) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0")
    (seen.either if could_be_group else seen.decimal).setdefault(mark, line)
