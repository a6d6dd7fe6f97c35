"""What a fold is worth: wire turned back on itself shortens less than wire cut off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.conversions import FloatArray

Lie = Literal["contact", "taped"] | float  # a spacing in metres

# A fold of x is worth m (x - dead) of a cut. Wire models over real ground, tails of 2 to 10 % of the leg,
# segments as short as the spacing, bare wire of LAW_RADIUS_M; a tail taped alongside insulated wire lies about
# 2 mm away. What counts is the spacing over the effective radius: the end of the wire acts as a pair of conductors,
# 2 - ln(2h/r) / ln(2h/sqrt(r s)) by its capacitance, which gives the m of tails in contact.
# [spacing in m, m, dead in m]
LAW = (
    (0.0005, 0.96, 0.000),  # in contact
    (0.002, 0.91, 0.007),  # taped alongside
    (0.005, 0.85, 0.020),
    (0.020, 0.70, 0.050),
    (0.050, 0.63, 0.130),
)
CONTACT_M, TAPED_M = LAW[0][0], LAW[1][0]
LAW_RADIUS_M = 0.5e-3
# Effective radius of wires people use, 0.5 to 2 mm thick, half of them insulated, which makes them act half as
# thick again: middle and logarithmic spread; common practice, no source.
RADIUS_M, RADIUS_SPREAD = 0.6e-3, 0.3
SPACING_SPREAD = 0.15  # a told spacing is kept to a sixth along the tail; common practice, no source
WORTH_SIGMA = 0.03  # of m when the lie is told: 2 to 4 % in the models
# Of the dead length, logarithmic: 1 to 4 cm at 5 mm, 4 to 8 at 2 cm, 9 to 16 at 5 cm in the models
DEAD_SPREAD = 0.2
TAIL_FREEDOM = 5.0  # of Student's t for both: a fold that does otherwise is believed
# How tails lie when nobody says: mostly wound round or taped to the wire; common practice, no source.
UNTOLD_SHARES = (0.25, 0.27, 0.20, 0.16, 0.12)
CUT_WITH_TAIL = (0.95, 1.0)  # worth of a cut that leaves a tail on, over that of a bare cut: wire models


@dataclass(frozen=True, eq=False)
class FoldDraws:
    """The law on every draw: worth ``m`` [-] and dead length [m], shape (n,)."""

    worth: FloatArray
    dead_m: FloatArray

    def value_m(self, tail_m: FloatArray | float) -> FloatArray:
        """What a tail of this length is worth as a cut, shape (n,)."""
        return np.asarray(self.worth * np.maximum(tail_m - self.dead_m, 0.0))

    def tail_worth_m(self, value_m: FloatArray) -> FloatArray:
        """The tail that is worth a given cut, shape (n,); 0 or less gives no tail."""
        return np.where(value_m > 0, value_m / self.worth + self.dead_m, 0.0)


def draw_folds(lies: Lie | None, n: int, dice: np.random.Generator) -> FoldDraws:
    """Draws of the law for one way a tail lies.

    ``lies``: how the tail lies; ``None`` when nobody says.
    """
    table = np.array(LAW)
    if lies is None:
        row = dice.choice(len(LAW), size=n, p=UNTOLD_SHARES)
        ln_spacing = np.log(table[row, 0]) + dice.normal(0, 0.35, n)
    elif lies == "contact":  # then the spacing is that of the wire itself
        ln_spacing = np.full(n, np.log(CONTACT_M))
    else:
        spacing_m = TAPED_M if isinstance(lies, str) else max(lies, CONTACT_M)
        ln_spacing = np.log(spacing_m) + dice.normal(0, SPACING_SPREAD, n)
        ln_spacing -= np.log(RADIUS_M / LAW_RADIUS_M) + dice.normal(0, RADIUS_SPREAD, n)
    worth = np.interp(ln_spacing, np.log(table[:, 0]), table[:, 1])
    dead_m = np.interp(ln_spacing, np.log(table[:, 0]), table[:, 2])
    worth = np.minimum(worth * (1 + WORTH_SIGMA * dice.standard_t(TAIL_FREEDOM, n)), 1.0)
    return FoldDraws(np.maximum(worth, 0.3), dead_m * np.exp(DEAD_SPREAD * dice.standard_t(TAIL_FREEDOM, n)))
