"""What the operator says was changed, as odds for causes: never certainty.

The list is ``data/changed_words.csv``: words, the causes they speak for and by what factor. Factors are common
practice, no source. What lies between two sweeps is taken from whole phrases only: "opened up the connector" puts
nothing up again.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from sweepkit.antennas.rungs import RUNGS, WORDS, Rung
from sweepkit.errors import BadInput

TABLE = Path(__file__).resolve().parents[1] / "data" / "changed_words.csv"
# Words that carry no news.
PLAIN = (
    "a an the and or then i we it its was were is are had has have been be in on off of to at from with for by "
    "new old added add removed moved move put made changed change after before again more less some one two "
    "another other my this that all only first last just near set out over under between"
)
PHRASES: Mapping[str, Rung] = {
    "put up again": "put-up-again",
    "put it up again": "put-up-again",
    "taken down and put up": "put-up-again",
    "took it down": "put-up-again",
    "erected again": "put-up-again",
    "re-erected": "put-up-again",
    "new site": "another-site",
    "another site": "another-site",
    "other site": "another-site",
    "joined anew": "joined-anew",
    "rejoined": "joined-anew",
    "reconnected": "joined-anew",
    "connected again": "joined-anew",
    "swept again": "swept-again",
    "nothing touched": "swept-again",
    "touched nothing": "swept-again",
}


@dataclass(frozen=True)
class Told:
    """What was understood."""

    odds: Mapping[str, float] = field(default_factory=dict)  # factor for each cause that a word speaks for
    rung: Rung | None = None  # what lies between the sweeps; None where no phrase says so
    unknown: tuple[str, ...] = ()  # words that were not understood


def read_told(text: str | None) -> Told:
    """Odds from free words such as "moved coax, rain"."""
    odds: dict[str, float] = {}
    unknown: list[str] = []
    words = re.findall(r"[a-z]+(?:-[a-z]+)*", (text or "").lower())
    spoken = f" {' '.join(words)} "
    rungs = [rung for phrase, rung in PHRASES.items() if f" {phrase} " in spoken]
    for phrase in PHRASES:
        spoken = spoken.replace(f" {phrase} ", " ")
    for word in spoken.split():
        meaning = _meanings().get(word)
        if meaning is None:
            if word not in PLAIN.split():
                unknown.append(word)
            continue
        codes, factor = meaning
        for code in codes:
            odds[code] = max(odds.get(code, 1.0), factor)
    return Told(odds, max(rungs, key=RUNGS.index, default=None), tuple(dict.fromkeys(unknown)))


def settle_rung(by_option: Rung | None, told: Told) -> Rung | None:
    """What lies between, from the option or from words of ``--changed``; a clash is refused."""
    if by_option is not None and told.rung is not None and by_option != told.rung:
        raise BadInput(
            f"--changed speaks of {WORDS[told.rung]}, the option of {WORDS[by_option]}; they say different things of "
            "the same sweeps; leave one of them out"
        )
    return by_option or told.rung


@cache
def _meanings() -> dict[str, tuple[tuple[str, ...], float]]:
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return {
            word: (tuple(filter(None, row["codes"].split(";"))), float(row["odds"]))
            for row in csv.DictReader(stream)
            for word in row["words"].split(";")
        }
