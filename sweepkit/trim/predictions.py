"""How far earlier predictions were off: the tool held to its own words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from sweepkit.figures import Figure
from sweepkit.plain_types import Plain


@dataclass(frozen=True)
class PastPrediction(Plain):
    """A dip that was predicted for a logged sweep, with its interval where that was kept, and the one that came."""

    in_json: ClassVar[Mapping[str, str]] = {"off_hz": "off_hz", "inside": "is_inside"}

    sweep: int
    predicted_hz: Figure
    dip_hz: Figure

    def __post_init__(self) -> None:
        if self.predicted_hz.value is None or self.dip_hz.value is None:
            raise ValueError("a prediction and a dip are needed to compare them")

    @property
    def off_hz(self) -> float:
        """How much higher it dipped than predicted. [Hz]"""
        return float(self.dip_hz.value or 0.0) - float(self.predicted_hz.value or 0.0)

    @property
    def is_inside(self) -> bool | None:
        """Whether the dip came inside the interval; ``None`` where none was kept."""
        low, high = self.predicted_hz.low, self.predicted_hz.high
        if low is None or high is None or self.dip_hz.value is None:
            return None
        return low <= self.dip_hz.value <= high


def predictions_text(past: Sequence[PastPrediction]) -> str:
    """One sentence: how many, oldest first, how far off, how many inside their interval."""
    offs = ", ".join(f"{each.off_hz / 1e3:+.0f}" for each in past)
    many = "1 past prediction" if len(past) == 1 else f"{len(past)} past predictions"
    judged = [each.is_inside for each in past if each.is_inside is not None]
    inside = f"; {sum(judged)} of {len(judged)} inside their interval" if judged else ""
    return f"{many} for this antenna: off by {offs} kHz{inside}."
