"""The tuner at the radio: what it matches and what it loses."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sweepkit.facts import IN_KIT
from sweepkit.kit.bad_gear import BadGear, refuse_unless, refuse_untrue

TUNER_MAX_SWR = 3.0  # what built-in tuners are usually specified for; common practice, no source
# Above what an L network with a coil of Q 50 loses up to SWR 3; common practice, no source
TUNER_LOSS_DB = 0.3


@dataclass(frozen=True)
class Tuner:
    """The tuner at the radio: what it matches and what it loses.

    Parameters
    ----------
    max_swr : float or None
        Largest SWR it matches, 1 or more; left out: 3, or ``None`` where its region is given. [-]
    r_ohm, x_ohm : (float, float) or None
        Region it matches, low and high end; both or neither, and not together with ``max_swr``. [ohm]
    loss_db : float
        What it loses at an easy match, 0 or more. [dB]
    coil_q : float or None
        Quality factor of its coil, from which follows what a hard match loses; ``None``: 50 to 200. [-]

    Raises
    ------
    BadGear
        A value that no tuner has.
    """

    max_swr: float | None = None
    r_ohm: tuple[float, float] | None = None
    x_ohm: tuple[float, float] | None = None
    loss_db: float = TUNER_LOSS_DB
    coil_q: float | None = None

    def __post_init__(self) -> None:
        if self.max_swr is None and self.r_ohm is None and self.x_ohm is None:
            object.__setattr__(self, "max_swr", TUNER_MAX_SWR)
        refuse_untrue(self, IN_KIT["tuner"])
        self._check_region()

    def _check_region(self) -> None:
        """One way to say what it matches, and ends in order."""
        if (self.r_ohm is None) != (self.x_ohm is None):
            there, missing = ("r_ohm", "x_ohm") if self.x_ohm is None else ("x_ohm", "r_ohm")
            example = {"r_ohm": "r_ohm = [16, 150]", "x_ohm": "x_ohm = [-100, 100]"}[missing]
            raise BadGear(
                f"{there} is given without {missing}; a region needs both; add {example}", key=there
            )
        if self.r_ohm is not None and self.max_swr is not None:
            text = "max_swr and a region are both given; one of them was expected; take one out"
            raise BadGear(text, key="max_swr")
        for key, ends in (("r_ohm", self.r_ohm), ("x_ohm", self.x_ohm)):
            if ends is not None and ends[0] > ends[1]:
                low, high = f"{ends[1]:g}", f"{ends[0]:g}"
                raise BadGear(
                    f"{key} = [{high}, {low}] has its ends swapped; the lower end comes first; "
                    f"write {key} = [{low}, {high}]",
                    key=key,
                )
            held = ends is None or (ends[0] < ends[1] and all(map(math.isfinite, ends)))
            refuse_unless(
                held, key, list(ends or ()), "two different ends, the lower one first", f"{key} = [16, 150]"
            )
        if self.r_ohm is not None:
            rule = "resistances of 0 ohm or more"
            refuse_unless(self.r_ohm[0] >= 0, "r_ohm", list(self.r_ohm), rule, "r_ohm = [16, 150]")
