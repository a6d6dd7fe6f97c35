"""The ladder: what lies between two sweeps of one antenna, and by how much that alone makes them differ.

Every rung holds the ones below it: an antenna that was put up again was joined anew as well. Spreads are of natural
logarithms, so that 0.01 is 1 %. Those of the trade are in ``data/usual_spread.csv``.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Literal, get_args

Rung = Literal["swept-again", "joined-anew", "put-up-again", "another-site", "other-ground"]
Body = Literal["wire", "whip", "end-fed"]

TABLE = Path(__file__).parents[1] / "data" / "usual_spread.csv"
RUNGS: tuple[Rung, ...] = get_args(Rung)
LIMIT_SDS = 1.959963984540054  # 95 % of a normal distribution lie within so many standard deviations
ROUGH_LIMIT_SDS = 2.306004135204166  # Student's t of 8 degrees of freedom: a spread that is good to a quarter
LIKE_R = ("q", "bandwidth_hz")  # at a resonance Q is X'/R and the bandwidth R/X': they spread as R does

LOW_RUNGS: tuple[Rung, ...] = ("swept-again", "joined-anew")  # the antenna itself keeps standing

WORDS: Mapping[Rung, str] = {
    "swept-again": "sweeping again",
    "joined-anew": "joining anew",
    "put-up-again": "putting up again",
    "another-site": "another site",
    "other-ground": "another ground or height",
}


@cache
def _table() -> Mapping[tuple[str, str], Mapping[str, float]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {
            (row["rung"], row["antenna"]): {
                name: float(row[name]) / (math.sqrt(2) if row["of"] == "two" else 1.0)
                for name in ("dip_hz", "r_ohm", "dip_swr")
            }
            for row in csv.DictReader(file)
        }


def body_of_kind(kind: str | None) -> Body:
    """Wire, whip or end-fed; a kind that nobody told may be a whip, whose spread is the widest."""
    if kind in (None, "loaded-whip"):
        return "whip"
    return "end-fed" if kind in ("end-fed", "random-wire") else "wire"


def trade_sd(quantity: str, body: Body, rung: Rung) -> float | None:
    """Standard deviation of ln of a quantity in one setup on a rung, all below it included, or none in the trade.

    Of two setups the square root of two as much.
    """
    return _table()[rung, body].get("r_ohm" if quantity in LIKE_R else quantity)


def is_rough(quantity: str, body: Body, rung: Rung) -> bool:
    """Whether the trade's spread is known so roughly that a limit has to hold the doubt of it; our choice.

    Of R always; of the dip where radials, coax or counterpoise are laid anew and are part of the antenna.
    """
    return quantity == "r_ohm" or (quantity == "dip_hz" and body != "wire" and rung not in LOW_RUNGS)


def trade_limit(quantity: str, body: Body, rung: Rung) -> float:
    """What 95 % of the differences of two sweeps on a rung stay within, of the natural logarithm. [-]"""
    sds = ROUGH_LIMIT_SDS if is_rough(quantity, body, rung) else LIMIT_SDS
    return sds * math.sqrt(2) * (trade_sd(quantity, body, rung) or 0.0)
