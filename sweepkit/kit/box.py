"""A box between coax and antenna: a transformer with what it loses, known from the bench."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sweepkit.kit.bad_gear import BadGear, refuse_outside, refuse_unless

LOSS_SIGMA_DB = 0.1  # of a loss told without its tolerance; common practice, no source


@dataclass(frozen=True)
class Box:
    """A box, its ratio and what it loses with the load it is made for.

    Parameters
    ----------
    ratio : float
        Impedance of the antenna over that of the coax, 49 for 49:1; 1 for a choke or an adapter. [-]
    loss_db : tuple of (float, float)
        Frequency, rising, and loss there; at least one row. [MHz, dB]
    loss_tolerance_db : float
        One sigma of the loss. [dB]

    Raises
    ------
    BadGear
        A value that no box has.
    """

    ratio: float
    loss_db: tuple[tuple[float, float], ...]
    loss_tolerance_db: float = LOSS_SIGMA_DB

    def __post_init__(self) -> None:
        refuse_outside("transformer", "ratio", self.ratio, 'ratio = "49:1"')
        example = "loss_db = [[3.6, 0.9], [7.1, 0.7], [14.1, 0.8]]"
        refuse_unless(bool(self.loss_db), "loss_db", "empty", "rows of MHz and dB", example)
        for mhz, loss in self.loss_db:
            refuse_outside("f_hz", "loss_db", mhz * 1e6, example, remark="rows of MHz and dB")
            refuse_outside("tuner_loss_db", "loss_db", loss, example, remark="rows of MHz and dB")
        for (mhz, _), (following, _) in pairwise(self.loss_db):
            if following <= mhz:
                raise BadGear(
                    f"loss_db goes from {mhz:g} to {following:g} MHz; its rows must be in rising frequency; sort them",
                    key="loss_db",
                )
        refuse_outside(
            "tuner_loss_db", "loss_tolerance_db", self.loss_tolerance_db, "loss_tolerance_db = 0.1"
        )

    def loss_at_db(self, f_hz: ArrayLike) -> NDArray[np.float64]:
        """Loss between the rows on straight lines; beyond them that of the nearest row. [dB]"""
        mhz, loss = np.array(self.loss_db).T
        return np.asarray(np.interp(np.asarray(f_hz) / 1e6, mhz, loss), dtype=np.float64)
