"""Words that name a column, from ``data/column_words.csv``: what is measured, which part, in which unit.

English, German, French, Spanish, Italian, some words of others; lower case without accents, as ``headings`` has them.
Common practice, no source. A phrase of several words counts before its parts.
"""

from __future__ import annotations

import csv
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
