"""Words of tables. Those that name a column are from ``data/column_words.csv``: what is measured, part and unit.

English, German, French, Spanish, Italian, some words of others; lower case without accents, as ``headings`` has them.
Common practice, no source. A phrase of several words counts before its parts.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from importlib.resources import files


def _rows() -> list[tuple[str, str, str]]:
    """Kind, meaning and phrase of every row, longest phrase first."""
    text = files("sweepkit").joinpath("data", "column_words.csv").read_text(encoding="utf-8")
    rows = [(row["kind"], row["meaning"], row["phrase"]) for row in csv.DictReader(text.splitlines())]
    return sorted(rows, key=lambda row: -len(row[2]))


_ROWS = _rows()
PHRASES = tuple((phrase, kind, meaning) for kind, meaning, phrase in _ROWS if kind in ("quantity", "part"))
UNITS = {phrase: meaning for kind, meaning, phrase in _ROWS if kind == "unit"}
BRACKET_UNITS = {phrase: meaning for kind, meaning, phrase in _ROWS if kind == "bracket unit"}
FILLERS = frozenset(phrase for kind, _, phrase in _ROWS if kind == "filler")
_LETTERS = str.maketrans(
    {"\u2126": "ohm", "\u03a9": "ohm", "µ": "u", "μ": "u", "∣": "|", "│": "|", "ß": "ss", "−": "-", "–": "-"}
    | {
        "°": " deg ",
        "º": " deg ",
        "%": " percent ",
        "∠": " angle ",
        "Γ": " gamma ",
        "γ": " gamma ",
        "ρ": " rho ",
    }
    | {"θ": " theta ", "Θ": " theta ", "φ": " phi ", "ϕ": " phi ", "Φ": " phi "}
)
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


def plain(text: str) -> str:
    """Lower case, Greek letters spelled out, accents and quotes removed, blanks collapsed."""
    text = text.translate(_LETTERS).lower()
    text = unicodedata.normalize("NFKD", text)
    text = "".join(sign for sign in text if not unicodedata.combining(sign))
    return re.sub(r"\s+", " ", text.replace('"', " ")).strip()


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
