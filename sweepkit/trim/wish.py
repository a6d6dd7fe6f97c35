"""What the operator wants and says, and what is no plan."""

from __future__ import annotations

from dataclasses import dataclass, field

from sweepkit.antennas.kind import Kind, Known, Move
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.folds import Lie
from sweepkit.trim.wire import EarlierState


@dataclass(frozen=True)
class OwnAnswer:
    """What changes of this antenna did at another outing: how it answered, and from how many sweeps that is known."""

    slope: float  # d ln f / d ln L
    sigma: float
    sweeps: int


@dataclass(frozen=True)
class Wish:
    """What the operator wants and says of the antenna."""

    kind: Kind
    length_m: float  # of each part, feed to turning point
    target_hz: float  # where the dip is to go
    by: Move
    tail_m: float | None = None  # that each part carries; None: what the folds told of add up to
    lies: Lie | None = None  # how a folded tail lies
    known: Known = field(default_factory=Known)
    limit_swr: float = 2.0  # that is good enough
    own: tuple[OwnAnswer, ...] = ()  # at other outings


@dataclass(frozen=True, eq=False)
class EarlierSweep:
    """An earlier sweep: its dips, and what is said of the wire then."""

    dips: tuple[DipEnsemble, ...]
    state: EarlierState


@dataclass(frozen=True)
class Already:
    """That the band or segment is already good enough, in words; SWR at the target [-] where known."""

    good_enough: str | None = None
    swr_at_target: float | None = None


@dataclass(frozen=True, eq=False)
class NoPlan:
    """No answer: why, and the dip that was seen too coarsely, if any."""

    reason: str
    dip: DipEnsemble | None = None
