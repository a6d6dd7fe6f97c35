"""A box between coax and antenna, known from the bench: what a transformer loses, what a choke puts in the way."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from sweepkit.kit.bad_gear import BadGear, refuse_outside, refuse_unless

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

LOSS_SIGMA_DB = 0.1  # of a loss told without its tolerance; common practice, no source


LOSS_EXAMPLE = "loss_db = [[3.6, 0.9], [7.1, 0.7], [14.1, 0.8]]"
CHOKE_EXAMPLE = "choke_ohm = [[3.6, 900, 1200], [7.1, 2100, 800]]"


@dataclass(frozen=True)
class Box:
    """A box, its ratio and what it loses with the load it is made for; of a choke what it puts in the shield's way.

    Parameters
    ----------
    ratio : float
        Impedance of the antenna over that of the coax, 49 for 49:1; 1 for a choke. [-]
    loss_db : tuple of (float, float)
        Frequency, rising, and loss there; empty for a choke alone. [MHz, dB]
    loss_tolerance_db : float
        One sigma of the loss. [dB]
    choke_ohm : tuple of (float, float, float)
        Frequency, rising, and resistance and reactance of a choke's winding there. [MHz, ohm, ohm]

    Raises
    ------
    BadGear
        A value that no box has.
    """

    ratio: float
    loss_db: tuple[tuple[float, float], ...]
    loss_tolerance_db: float = LOSS_SIGMA_DB
    choke_ohm: tuple[tuple[float, float, float], ...] = ()

    def __post_init__(self) -> None:
        refuse_outside("transformer", "ratio", self.ratio, 'ratio = "49:1"')
        known = bool(self.loss_db or self.choke_ohm)
        refuse_unless(known, "loss_db", "empty", "rows of MHz and dB", LOSS_EXAMPLE)
        for mhz, loss in self.loss_db:
            refuse_outside("f_hz", "loss_db", mhz * 1e6, LOSS_EXAMPLE, remark="rows of MHz and dB")
            refuse_outside("tuner_loss_db", "loss_db", loss, LOSS_EXAMPLE, remark="rows of MHz and dB")
        for mhz, r_ohm, _ in self.choke_ohm:
            refuse_outside("f_hz", "choke_ohm", mhz * 1e6, CHOKE_EXAMPLE, remark="rows of MHz, R and X")
            refuse_unless(r_ohm >= 0, "choke_ohm", r_ohm, "a resistance of 0 or more", CHOKE_EXAMPLE)
        _refuse_falling("loss_db", [row[0] for row in self.loss_db])
        _refuse_falling("choke_ohm", [row[0] for row in self.choke_ohm])
        refuse_outside(
            "tuner_loss_db", "loss_tolerance_db", self.loss_tolerance_db, "loss_tolerance_db = 0.1"
        )

    def loss_at_db(self, f_hz: ArrayLike) -> NDArray[np.float64]:
        """Loss between the rows on straight lines; beyond them that of the nearest row. [dB]"""
        import numpy as np

        mhz, loss = np.array(self.loss_db).T
        return np.asarray(np.interp(np.asarray(f_hz) / 1e6, mhz, loss), dtype=np.float64)

    def choke_at_ohm(self, f_hz: float) -> complex:
        """Impedance of the choke between the rows on straight lines; beyond them that of the nearest row. [ohm]"""
        import numpy as np

        mhz, r_ohm, x_ohm = np.array(self.choke_ohm).T
        return complex(np.interp(f_hz / 1e6, mhz, r_ohm), np.interp(f_hz / 1e6, mhz, x_ohm))


def _refuse_falling(key: str, mhz: list[float]) -> None:
    for one, following in pairwise(mhz):
        if following <= one:
            text = f"{key} goes from {one:g} to {following:g} MHz; its rows must be in rising frequency; sort them"
            raise BadGear(text, key=key)
