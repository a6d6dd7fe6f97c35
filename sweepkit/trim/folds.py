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
from numpy.typing import NDArray

from sweepkit.antennas.wires_used import ToldWire, Wires, draw_wires
from sweepkit.conversions import FloatArray

Lie = Literal["contact", "taped"] | float  # a spacing in metres

# Both numbers by wire models: 200 folds of 2 to 10 % of a leg, spacings of 3 to 60 mm, bare and insulated wire,
# segments as short as the spacing (tests/models/folds_study.py). The law follows 120 others to 0.006 % of the leg, nine
# of ten to 0.04.
OWN_LENGTH, BEND = 0.567, 0.235
# An independent set of wire models gives straight lines: spacing of thin wire, m, dead length [m]. Where tails are
# short for their spacing the two part, and which of them real tails follow is not known: half of the draws are of each.
LINES = ((0.002, 0.91, 0.007), (0.005, 0.85, 0.020), (0.020, 0.70, 0.050), (0.050, 0.63, 0.130))
THIN_M = 0.75e-3  # the middle of the wires that are drawn
# Wound round a bare wire so that they touch: as one thicker wire, which is what the formula says of spacings of about a
# radius; wire models cannot bring wires so near.
CONTACT_WORTH = 0.96
# Taped alongside, middle to middle, unless the insulation is thicker; common practice, no source.
TAPED_M = 2e-3
SPACING_SPREAD = 0.15  # a told spacing is kept to a sixth along the tail; common practice, no source
# What is left over of worth, and of the dead length (logarithmic): tails sag, bends are round. 2 to 4 % and a fifth in
# independent wire models. On top, how the wire of the bend is counted in, over the spacing: common practice, no source.
WORTH_SIGMA, DEAD_SPREAD, BEND_COUNTED = 0.03, 0.2, (-0.3, 0.5)
TAIL_FREEDOM = 5.0  # of Student's t for both: a fold that does otherwise is believed
USUAL_FOLD_M, LEAST_FOLD_M = 0.5, 0.05  # a twentieth of a leg for 40 m; shorter ones as this one
# Of the fold in question: through these the line is drawn; and at least so many spacings.
AROUND, LEAST_SPACINGS = (0.6, 1.3), 3.0
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
    spacing_m, touches = _spacing_m(lies, wires, dice)
    touches &= wire is None or wire.is_bare  # insulation lies between
    worth, dead_m = np.where(
        dice.random(n) < 0.5,
        _tangent(spacing_m, wires.charge_m, max(about_m, LEAST_FOLD_M), rad_per_m),
        _straight(spacing_m, wires.charge_m),
    )
    dead_m = np.where(touches, 0.0, np.maximum(dead_m + dice.uniform(*BEND_COUNTED, n) * spacing_m, 0.0))
    worth = np.where(touches, CONTACT_WORTH, worth) * (1 + WORTH_SIGMA * dice.standard_t(TAIL_FREEDOM, n))
    dead_m *= np.exp(DEAD_SPREAD * dice.standard_t(TAIL_FREEDOM, n))
    return FoldDraws(np.clip(worth, 0.3, 1.0), dead_m)


def _spacing_m(
    lies: Lie | None, wires: Wires, dice: np.random.Generator
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """From the middle of the wire to that of its tail on every draw, and whether they touch, shape (n,) each."""
    n = wires.radius_m.size
    ways, spread = (UNTOLD, UNTOLD_SPREAD) if lies is None else (((lies, 1.0),), SPACING_SPREAD)
    way = dice.choice(len(ways), size=n, p=[chance for _, chance in ways])
    told_m = np.array([TAPED_M if isinstance(each, str) else each for each, _ in ways])[way]
    spacing_m = np.maximum(told_m * np.exp(dice.normal(0, spread, n)), 2 * wires.outer_m)
    return spacing_m, np.array([each == "contact" for each, _ in ways])[way]


def _straight(spacing_m: FloatArray, charge_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Worth and dead length by the lines of others, between them over the logarithm of the spacing, shape (n,) each."""
    spacings_m, worths, deads_m = np.array(LINES).T
    thin = np.log(spacing_m * THIN_M / charge_m)
    return np.interp(thin, np.log(spacings_m), worths), np.interp(thin, np.log(spacings_m), deads_m)


def _tangent(
    spacing_m: FloatArray, charge_m: FloatArray, about_m: float, rad_per_m: float
) -> tuple[FloatArray, FloatArray]:
    """Worth and dead length of folds of about that size by the formula, shape (n,) each."""
    near_m = np.maximum(AROUND[0] * about_m, LEAST_SPACINGS * spacing_m)
    far_m = near_m * AROUND[1] / AROUND[0]
    near, far = (fold_value_m(fold_m, spacing_m, charge_m, rad_per_m) for fold_m in (near_m, far_m))
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
