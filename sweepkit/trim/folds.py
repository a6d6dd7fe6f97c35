"""What a fold is worth: wire turned back on itself shortens less than wire cut off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.conversions import FloatArray

Lie = Literal["contact", "taped"] | float  # a spacing in metres

# A fold of x is worth m (x - dead) of a cut. Wire models over real ground, tails of 2 to 10 % of the leg,
# segments as short as the spacing; a tail taped alongside insulated wire lies about 2 mm away.
# [spacing in m, m, dead in m]
LAW = (
    (0.0005, 0.96, 0.000),  # in contact
    (0.002, 0.91, 0.007),  # taped alongside
    (0.005, 0.85, 0.030),
    (0.020, 0.70, 0.050),
    (0.050, 0.63, 0.130),
)
CONTACT_M, TAPED_M = LAW[0][0], LAW[1][0]
WORTH_SIGMA = 0.02  # of m when the lie is told: scatter of the models
DEAD_SIGMA = 0.25  # of the dead length, as a fraction: scatter of the models
# How tails lie when nobody says: mostly wound round or taped to the wire; common practice, no source.
UNTOLD_SHARES = (0.25, 0.27, 0.20, 0.16, 0.12)
CUT_WITH_TAIL = (0.95, 1.0)  # worth of a cut that leaves a tail on, over that of a bare cut: wire models


@dataclass(frozen=True, eq=False)
class FoldDraws:
    """The law on every draw: worth ``m`` [-] and dead length [m], shape (n,)."""

    worth: FloatArray
    dead_m: FloatArray

    def value_m(self, tail_m: FloatArray | float) -> FloatArray:
        """What a tail is worth as a cut, shape (n,).

        Parameters
        ----------
        tail_m : float array, shape (n,), or float
            Length of the tail, 0 or more. [m]
        """
        return np.asarray(self.worth * np.maximum(tail_m - self.dead_m, 0.0))

    def tail_worth_m(self, value_m: FloatArray) -> FloatArray:
        """The tail that is worth a given cut, shape (n,).

        Parameters
        ----------
        value_m : float array, shape (n,)
            What it is to be worth; 0 or less gives no tail. [m]
        """
        return np.where(value_m > 0, value_m / self.worth + self.dead_m, 0.0)


def draw_folds(lies: Lie | None, n: int, dice: np.random.Generator) -> FoldDraws:
    """Draws of the law for one way a tail lies.

    Parameters
    ----------
    lies : "contact", "taped", a spacing [m], or None
        How the tail lies; ``None`` when nobody says.
    n : int
        How many.
    dice : numpy Generator
        Randomness.
    """
    table = np.array(LAW)
    if lies is None:
        row = dice.choice(len(LAW), size=n, p=UNTOLD_SHARES)
        ln_spacing = np.log(table[row, 0]) + dice.normal(0, 0.35, n)
    else:
        spacing_m = {"contact": CONTACT_M, "taped": TAPED_M}[lies] if isinstance(lies, str) else lies
        ln_spacing = np.full(n, np.log(max(spacing_m, CONTACT_M)))
    worth = np.interp(ln_spacing, np.log(table[:, 0]), table[:, 1])
    dead_m = np.interp(ln_spacing, np.log(table[:, 0]), table[:, 2])
    worth = np.minimum(worth * dice.normal(1, WORTH_SIGMA, n), 1.0)
    return FoldDraws(worth, dead_m * np.maximum(dice.normal(1, DEAD_SIGMA, n), 0.0))
