"""What a fold is worth: wire turned back on itself shortens less than wire cut off.

Near its open end a wire is a capacitance. A length t of it has t / ln(L/r) of that, L = 0.57 t, with r the radius by
which it holds charge (``Wires.charge_m``); two of them side by side at a spacing s act as one of the radius sqrt(r s).
So a tail of t beside its wire acts like y = t ln(L/r) / ln(L/sqrt(r s)) of single wire, the bend like 0.23 s more. The
spacing counts over the effective radius, and over the tail: a longer one is worth more of itself. Long tails are a
line, open at its end for the current of both wires, shorted there for their difference, which lies in series with it
by a quarter: y times

    1 + (kt)^2 ((1 - (y/t)^2) / 3 + ln(s/r) / (2 ln(L/sqrt(r s)))).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.antennas.wires_used import ToldWire, Wires, draw_wires
from sweepkit.conversions import FloatArray

Lie = Literal["contact", "taped"] | float  # a spacing in metres

# Both numbers by wire models: 200 folds of 2 to 10 % of a leg, spacings of 3 to 60 mm, bare and insulated wire,
# segments as short as the spacing (tests/models/folds_study.py). The law follows 120 others to 0.006 % of the leg, nine
# of ten to 0.04.
OWN_LENGTH, BEND = 0.567, 0.235
# Wound round a bare wire so that they touch: as one thicker wire, which is what the formula says of spacings of about a
# radius; wire models cannot bring wires so near.
CONTACT_WORTH = 0.96
TAPED_M = (
    2e-3  # taped alongside, middle to middle, unless the insulation is thicker; common practice, no source
)
SPACING_SPREAD = 0.15  # a told spacing is kept to a sixth along the tail; common practice, no source
# What is left over of worth and dead length (logarithmic): tails sag, bends are round, a metre of tape is one to a few
# millimetres off. Common practice, no source.
WORTH_SIGMA, DEAD_SPREAD = 0.02, 0.15
TAIL_FREEDOM = 5.0  # of Student's t for both: a fold that does otherwise is believed
USUAL_FOLD_M, LEAST_FOLD_M = 0.5, 0.05  # a twentieth of a leg for 40 m; shorter ones as this one
AROUND, LEAST_SPACINGS = (
    (0.6, 1.3),
    3.0,
)  # of the fold in question: through these the line is drawn; and of its spacing
# How tails lie when nobody says: mostly wound round or taped to the wire; common practice, no source.
UNTOLD: tuple[tuple[Lie, float], ...] = (
    ("contact", 0.25),
    ("taped", 0.27),
    (0.005, 0.20),
    (0.02, 0.16),
    (0.05, 0.12),
)
UNTOLD_SPREAD = 0.35  # logarithmic, of those spacings
CUT_WITH_TAIL = (0.95, 1.0)  # worth of a cut that leaves a tail on, over that of a bare cut: wire models


@dataclass(frozen=True, eq=False)
class FoldDraws:
    """A fold of x is worth ``worth`` * (x - ``dead_m``) of a cut, on every draw, shape (n,)."""

    worth: FloatArray
    dead_m: FloatArray

    def value_m(self, tail_m: FloatArray | float) -> FloatArray:
        """What a tail of this length is worth as a cut, shape (n,)."""
        return np.asarray(self.worth * np.maximum(tail_m - self.dead_m, 0.0))

    def tail_worth_m(self, value_m: FloatArray) -> FloatArray:
        """The tail that is worth a given cut, shape (n,); 0 or less gives no tail."""
        return np.where(value_m > 0, value_m / self.worth + self.dead_m, 0.0)


def draw_folds(
    lies: Lie | None,
    n: int,
    dice: np.random.Generator,
    *,
    about_m: float = USUAL_FOLD_M,
    rad_per_m: float = 0.0,
    wire: ToldWire | None = None,
) -> FoldDraws:
    """Draws of the law for one way a tail lies, as a line that holds for folds of about ``about_m``.

    ``lies``: how the tail lies; ``None`` when nobody says. ``rad_per_m``: of the wave, for folds of a tenth of a leg.
    """
    wires = draw_wires(n, dice, wire)
    spread = UNTOLD_SPREAD if lies is None else SPACING_SPREAD
    kept = np.exp(dice.normal(0, spread, n))
    ways = UNTOLD if lies is None else ((lies, 1.0),)
    way = dice.choice(len(ways), size=n, p=[chance for _, chance in ways])
    worth, dead_m = np.empty(n), np.empty(n)
    for number, (each, _) in enumerate(ways):
        lines = _line(each, wires, kept, max(about_m, LEAST_FOLD_M), rad_per_m)
        worth, dead_m = np.where(way == number, lines, (worth, dead_m))
    worth = np.minimum(worth * (1 + WORTH_SIGMA * dice.standard_t(TAIL_FREEDOM, n)), 1.0)
    return FoldDraws(np.maximum(worth, 0.3), dead_m * np.exp(DEAD_SPREAD * dice.standard_t(TAIL_FREEDOM, n)))


def _line(
    lies: Lie, wires: Wires, kept: FloatArray, about_m: float, rad_per_m: float
) -> tuple[FloatArray, FloatArray]:
    """Worth and dead length of folds of about that size, shape (n,) each; ``kept`` is what the spacing times is."""
    if lies == "contact" and (wires.outer_m == wires.radius_m).any():
        return np.full_like(kept, CONTACT_WORTH), np.zeros_like(kept)
    spacing_m = (TAPED_M if isinstance(lies, str) else lies) * kept
    spacing_m = np.maximum(spacing_m, 2 * wires.outer_m)
    near_m = np.maximum(AROUND[0] * about_m, LEAST_SPACINGS * spacing_m)
    far_m = near_m * AROUND[1] / AROUND[0]
    near, far = (fold_value_m(fold_m, spacing_m, wires.charge_m, rad_per_m) for fold_m in (near_m, far_m))
    worth = (far - near) / (far_m - near_m)
    return worth, np.maximum(near_m - near / worth, 0.0)


def fold_value_m(
    fold_m: FloatArray, spacing_m: FloatArray, charge_m: FloatArray, rad_per_m: float = 0.0
) -> FloatArray:
    """What a fold is worth as a cut, by the formula above.

    Parameters
    ----------
    fold_m : float array, shape (n,)
        By how much the turning point is nearer to the feed, longer than the spacing. [m]
    spacing_m : float array, shape (n,)
        From the middle of the wire to that of its tail, s. [m]
    charge_m : float array, shape (n,)
        Radius of a bare wire that holds as much charge, r. [m]
    rad_per_m : float
        k of the wave in air. [rad/m]

    Returns
    -------
    float array, shape (n,)
        x - (y - t + 0.23 s) with t = x - s. [m]
    """
    tail_m = fold_m - spacing_m
    reach_m = OWN_LENGTH * tail_m
    of_pair = np.log(reach_m / np.sqrt(charge_m * spacing_m))
    ratio = np.log(reach_m / charge_m) / of_pair
    as_line = (1 - ratio**2) / 3 + np.log(spacing_m / charge_m) / (2 * of_pair)
    as_single_m = tail_m * ratio * (1 + (rad_per_m * tail_m) ** 2 * as_line)
    return np.asarray(fold_m - (as_single_m - tail_m + BEND * spacing_m))
