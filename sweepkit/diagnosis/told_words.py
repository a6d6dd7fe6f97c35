"""What the operator says was changed, as odds for causes: never certainty.

The list is ``data/changed_words.csv``: words, the causes they speak for, by what factor, and how the sweeps were
repeated where a word says so. Factors are common practice, no source.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import cast

from sweepkit.diagnosis.spreads import Level

TABLE = Path(__file__).resolve().parents[1] / "data" / "changed_words.csv"
# Words that carry no news.
PLAIN = (
    "a an the and or then i we it its was were is are had has have been be in on off of to at from with for by "
    "new old added add removed moved move put made changed change after before again more less some one two "
    "another other my this that all only first last just near set out over under between"
)


@dataclass(frozen=True)
class Told:
    """What was understood.

    Parameters
    ----------
    odds : mapping of str to float
        Factor for each cause that a word speaks for. [-]
    level : {"same", "reconnected", "re-erected", "new-site"}
        What was done between the sweeps.
    unknown : tuple of str
        Words that were not understood.
    """

    odds: Mapping[str, float] = field(default_factory=dict)
    level: Level = "reconnected"
    unknown: tuple[str, ...] = ()


def read_told(text: str | None) -> Told:
    """Odds from free words.

    Parameters
    ----------
    text : str or None
        Such as "moved coax, rain".
    """
    odds: dict[str, float] = {}
    levels: list[str] = []
    unknown: list[str] = []
    for word in re.findall(r"[a-z]+(?:-[a-z]+)*", (text or "").lower()):
        meaning = _meanings().get(word)
        if meaning is None:
            if word not in PLAIN.split():
                unknown.append(word)
            continue
        codes, factor, repeat = meaning
        for code in codes:
            odds[code] = max(odds.get(code, 1.0), factor)
        if repeat:
            levels.append(repeat)
    order = ("same", "reconnected", "re-erected", "new-site")
    level = max(["reconnected", *levels], key=order.index)
    return Told(odds, cast(Level, level), tuple(dict.fromkeys(unknown)))


@cache
def _meanings() -> dict[str, tuple[tuple[str, ...], float, str]]:
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return {
            word: (tuple(filter(None, row["codes"].split(";"))), float(row["odds"]), row["repeat"])
            for row in csv.DictReader(stream)
            for word in row["words"].split(";")
        }
