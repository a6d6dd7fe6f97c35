"""The instrument that swept."""

from __future__ import annotations

from dataclasses import dataclass

from sweepkit.kit.bad_gear import refuse_outside, refuse_unless
from sweepkit.limits import LIMITS

# Handheld analyzer after open, short and load at its own connector; common practice, no source.
DIRECTIVITY_DB = 40.0


@dataclass(frozen=True)
class Analyzer:
    """The instrument that swept.

    Parameters
    ----------
    directivity_db : float
        Effective directivity after calibration, above 0 and at most 100. [dB]
    noise : float or None
        Rms of the complex noise on the reflection coefficient; ``None``: estimated from the sweep. [-]
    points : tuple of int, or None
        Numbers of points it can sweep, rising; ``None``: any.
    tracking : float
        Size of the reflection tracking error as a fraction of the reflection; 0 leaves it out. [-]
    source_match_db : float or None
        Effective source match, above 0; ``None`` leaves it out. [dB]

    Raises
    ------
    BadGear
        A value that no analyzer has.
    """

    directivity_db: float = DIRECTIVITY_DB
    noise: float | None = None
    points: tuple[int, ...] | None = None
    tracking: float = 0.0
    source_match_db: float | None = None

    def __post_init__(self) -> None:
        for key, size_db in (
            ("directivity_db", self.directivity_db),
            ("source_match_db", self.source_match_db),
        ):
            refuse_outside(
                "directivity_db", key, size_db, f"{key} = 40", remark="the error is that far below"
            )
        share = "as a share of full reflection"
        refuse_outside("noise", "noise", self.noise, "noise = 0.002", remark=share)
        refuse_outside("noise", "tracking", self.tracking, "tracking = 0.01", remark=share)
        if self.points is not None:
            rule, example = f"a list, each of them {LIMITS['points'].rule}", "points = [101, 201]"
            held = bool(self.points) and all(map(LIMITS["points"].holds, self.points))
            refuse_unless(held, "points", list(self.points), rule, example)
            object.__setattr__(self, "points", tuple(sorted({int(n) for n in self.points})))
