"""Words that state a reference resistance, in a remark or in a line of its own below the rows."""

from __future__ import annotations

import re

from sweepkit.readers.tables.headings import plain

_REFERENCE = re.compile(
    r"(?:\bz_?[0o]\b|\breference\b|\bref\b\.? ?(?:imp\w*)?|\bsystem\b|\bbezugs\w+|\bimped\w+ d\w+ \w+"
    r"|\b(?:re)?normali[sz]\w*|\bnormiert\w*|\bnormalizad\w+|\brelative to\b|\breferred to\b"
    r"|\b(?:port|source|line|nominal|characteristic) impedance|\bwellenwiderstand\w*)"
    r"[^0-9+-]{0,20}(?P<value>\d+(?:[.,]\d+)?)\s*(?P<unit>ohms?\b)?"
)
_OHMS_FIRST = re.compile(
    r"(?P<value>\d+(?:[.,]\d+)?)[\s-]*(?P<unit>ohms?)[\s-]*(?:reference|ref\b|system|base|normali)"
    r"|^\W*(?:[rz]\W|in |at |to |re )?\W*(?P<own>\d+(?:[.,]\d+)?)\s*ohms?\W*$"  # a line of its own
)
_LETTER_FIRST = re.compile(r"\W*[^\W\d_]")


def remarked_reference(words: str) -> float | None:
    """Reference resistance that a remark states, such as "normalised to 75 ohm" or a line "75 ohm". [ohm]"""
    text = plain(words)
    match = _REFERENCE.search(text)
    if match and (match.group("unit") or re.search(r"\bz_?[0o]\b|\bimp|\bbezugs", text)):
        return float(match.group("value").replace(",", "."))
    match = _OHMS_FIRST.search(text)
    return float((match.group("value") or match.group("own")).replace(",", ".")) if match else None


def states_reference(line: str) -> bool:
    """Whether a line below the rows begins with a word, as no row does, and states a reference."""
    return _LETTER_FIRST.match(line) is not None and remarked_reference(line) is not None
