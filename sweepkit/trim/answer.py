"""The answer: what stands in the JSON of ``sweepkit trim``."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.plain_types import HIDDEN
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.move import FirstMove
from sweepkit.trim.trail import Trail

Action = Literal["shorten", "lengthen", "leave", "cannot_say"]


@dataclass(frozen=True)
class TrimPlan:
    """How much to trim.

    Parameters
    ----------
    action : {"shorten", "lengthen", "leave", "cannot_say"}
        What to do.
    reason : str
        Why.
    now_hz : Figure
        The dip at the feedpoint relative to 50 ohm. [Hz]
    target_hz : float
        Where it is to go. [Hz]
    parts : int
        How many parts change, each by the same amount.
    change_m : Figure
        Change of each part by the way it is done; negative shortens. [m]
    first_move : FirstMove
        What to do now.
    after_first_move_hz : Figure
        Where the dip will be then. [Hz]
    sensitivity_hz_per_m : Figure
        Shift for a change of all parts together; negative. [Hz/m]
    learned_from : int
        Earlier sweeps of this wire that bear on the answer.
    next_sweeps : tuple of NextSweep
        What to sweep next, where the sweep does not suffice.
    findings : tuple of Finding
        What was noticed.
    cautions : tuple of str
        What to mind while doing it.
    part : str
        What the parts are called.
    where : str
        Where to change them.
    known_from : str
        What the answer to length is known from, in words after "from"; not in the JSON.
    trail : Trail, optional
        The dips so far and the learned line, for a picture; not in the JSON.
    unsure : DipEnsemble, optional
        The dip, where a better sweep of it is wanted; not in the JSON.
    """

    action: Action
    reason: str
    now_hz: Figure
    target_hz: float
    parts: int
    change_m: Figure
    first_move: FirstMove
    after_first_move_hz: Figure
    sensitivity_hz_per_m: Figure
    learned_from: int
    next_sweeps: tuple[NextSweep, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    part: str = field(metadata=HIDDEN)
    where: str = field(metadata=HIDDEN)
    known_from: str = field(default="", metadata=HIDDEN)
    trail: Trail | None = field(default=None, compare=False, repr=False, metadata=HIDDEN)
    unsure: DipEnsemble | None = field(default=None, compare=False, repr=False, metadata=HIDDEN)
