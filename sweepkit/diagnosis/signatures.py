"""Signatures of faults: what each shifts, by how much, and how far that scatters.

The table is ``data/signatures.csv``, a row for each variant of a cause with its source; edit it there. Shifts are
now over before, logarithms in per cent; ``loss`` is added loss, one way, in dB; ``common`` is how often the cause
is met before anything is known, relative to the others (common practice, no source).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

TABLE = Path(__file__).resolve().parents[1] / "data" / "signatures.csv"
KINDS = ("dipole", "inverted-vee", "vertical", "loaded-whip", "end-fed", "loop", "random-wire")
QUANTITIES = {"f": "f_percent", "r": "r_percent", "q": "q_percent", "loss": "loss_db"}
SPREADS = {"f": "f_spread", "r": "r_spread", "q": "q_spread", "loss": "loss_spread"}
ELSE = "something-else"


@dataclass(frozen=True)
class Signature:
    """One variant of one cause."""

    code: str  # stable word of the cause
    kinds: tuple[str, ...]  # of antenna it can befall
    common: float  # how often it is met
    centre: dict[str, float]  # shift of each quantity, by f, r, q, loss [%, dB]
    spread: dict[str, float]  # its standard deviation
    dip_kept: float  # chance that the dip is still found
    variant: str  # what happened, in words


@cache
def read_signatures() -> tuple[Signature, ...]:
    """The table, ``data/signatures.csv``."""
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return tuple(_signature(row) for row in csv.DictReader(stream))


def signatures_of(kind: str | None) -> tuple[Signature, ...]:
    """Variants that can befall a kind; of every kind where it is not known, each as common as it then is."""
    rows = read_signatures()
    if kind is not None:
        return tuple(row for row in rows if kind in row.kinds)
    return tuple(
        Signature(**{**vars(row), "common": row.common * len(row.kinds) / len(KINDS)}) for row in rows
    )


def _signature(row: dict[str, str]) -> Signature:
    kinds = KINDS if row["kinds"] == "any" else tuple(row["kinds"].split(";"))
    return Signature(
        code=row["code"],
        kinds=kinds,
        common=float(row["common"]),
        centre={name: float(row[column]) for name, column in QUANTITIES.items()},
        spread={name: float(row[column]) for name, column in SPREADS.items()},
        dip_kept=float(row["dip_kept"]),
        variant=row["after"],
    )
