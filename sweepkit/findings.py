"""Finding: something worth saying that does not stop the work."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from sweepkit.figures import Figure
from sweepkit.plain_types import IF_KNOWN, Plain

Level = Literal["note", "warning", "stop"]


@dataclass(frozen=True)
class Finding(Plain):
    """One thing seen in a sweep, what it rests on and what to do about it.

    Parameters
    ----------
    code : str
        Stable word for scripts (docs/names.md lists them).
    level : {"note", "warning", "stop"}
        ``note``: good to know. ``warning``: a figure may mislead. ``stop``: do not act on this sweep.
    text : str
        What was seen, with its numbers.
    next_step : str
        The one thing to do next.
    distance_m : Figure, optional
        How far from the measuring point, where that is known. [m]
    """

    code: str
    level: Level
    text: str
    next_step: str
    distance_m: Figure | None = field(default=None, metadata=IF_KNOWN)
