"""The answer: what stands in the JSON of ``sweepkit trim`` for several places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar, Literal, cast

from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.plain_types import HIDDEN, IF_KNOWN, Plain
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.several_bands.pictured import OverLength, OverTurns
from sweepkit.station.point_verdicts import Verdict

Action = Literal["shorten", "lengthen", "leave", "retune", "cannot_say"]
Aim = Literal["mean", "worst"]
Effect = Literal["gains", "same", "loses", "cannot_say"]


@dataclass(frozen=True)
class State:
    """A place at one state of the antenna: at the feedpoint, but for the verdict, which is the radio's."""

    dip_hz: Figure
    dip_swr: Figure
    best_hz: Figure
    best_swr: Figure
    loss_db: Figure
    share_within_limit: Figure
    verdict: Verdict

    @classmethod
    def unknown(cls, why: str) -> State:
        """No figures, and why."""
        none = Figure.none(why)
        return cls(none, none, none, none, none, none, "unknown")

    def bare(self, with_interval: bool) -> State:
        """Without intervals where none are wanted."""
        if with_interval:
            return self
        figures = {
            name: Figure(value.value)
            for name in self.__dataclass_fields__
            if isinstance(value := getattr(self, name), Figure) and value.value is not None
        }
        return replace(self, **cast(Any, figures))


@dataclass(frozen=True)
class Disturbed:
    """Where another place's dip is when a move is done in full."""

    band: str
    hz: Figure


@dataclass(frozen=True)
class PartMove:
    """One move: do ``m`` now, each of ``parts`` alike; ``full_m`` is the whole change. Negative shortens. [m]"""

    part: str
    parts: int
    by: Literal["cut", "fold", "slide", "add"]
    m: float
    full_m: Figure
    sweep_next: NextSweep | None
    disturbs: tuple[Disturbed, ...]


@dataclass(frozen=True)
class BandRow:
    """One place: as it is, and after every move in full."""

    name: str
    low_hz: float
    high_hz: float
    target_hz: float | None
    weight: float
    now: State
    after: State
    effect: Effect
    moved_by: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class OtherBand:
    """A place under the other aim."""

    name: str
    best_swr: Figure


@dataclass(frozen=True)
class OtherAim:
    """What the other aim would do."""

    full_m: Figure
    loss_after_db: Figure
    bands: tuple[OtherBand, ...]


@dataclass(frozen=True)
class Last:
    """When a setting was last used, and its dip then."""

    setup: str
    when: str
    dip_hz: float | None


@dataclass(frozen=True)
class Setting:
    """Tap and whip, or lengths, for a place or a part of one; ``lengths`` is left out where there are none."""

    band: str
    target_hz: float
    low_hz: float
    high_hz: float
    tap: float | None
    whip_m: float | None
    dip_hz: Figure
    best_swr: Figure
    loss_db: Figure
    hz_per_m: Figure
    hz_per_turn: Figure
    last: Last | None = None
    lengths: Mapping[str, float] | None = field(default=None, metadata=IF_KNOWN)


@dataclass(frozen=True)
class Sensitivity:
    """How a place's dip follows a part."""

    part: str
    band: str
    hz_per_m: Figure


@dataclass(frozen=True)
class FeedEnd:
    """What a coil or a capacitor at the feed end would do for a place."""

    band: str
    by: Literal["coil", "capacitor"]
    would: Literal["lower", "raise"]
    why: str


@dataclass(frozen=True)
class Avoid:
    """Lengths to keep away from, and the place they spoil."""

    part: Literal["wire", "counterpoise"]
    low_m: float
    high_m: float
    band: str
    why: str


@dataclass(frozen=True)
class Clear:
    """Lengths that suit every place."""

    part: Literal["wire", "counterpoise"]
    low_m: float
    high_m: float


@dataclass(frozen=True)
class BandsPlan(Plain):
    """What to do with one antenna for several places."""

    schema: ClassVar[str] = "sweepkit/trim-bands/1"

    files: tuple[dict[str, Any], ...]
    kind: str
    aim: Aim
    action: Action
    reason: str
    loss_now_db: Figure
    loss_after_db: Figure
    loss_least_db: Figure
    moves: tuple[PartMove, ...]
    bands: tuple[BandRow, ...]
    other_aim: OtherAim | None = None
    settings: tuple[Setting, ...] = ()
    sensitivities: tuple[Sensitivity, ...] = ()
    feed_end: tuple[FeedEnd, ...] = ()
    avoid: tuple[Avoid, ...] = ()
    clear: tuple[Clear, ...] = ()
    learned_from: int = 0
    next_sweeps: tuple[NextSweep, ...] = ()
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()
    not_by_wire: tuple[str, ...] = field(default=(), metadata=HIDDEN)
    known_from: str = field(default="", metadata=HIDDEN)
    picture: OverLength | OverTurns | None = field(default=None, compare=False, repr=False, metadata=HIDDEN)


def no_plan(
    *,
    files: Sequence[dict[str, Any]],
    kind: str,
    aim: Aim,
    why: str,
    bands: Sequence[BandRow],
    next_sweeps: Sequence[NextSweep] = (),
    findings: Sequence[Finding] = (),
) -> BandsPlan:
    """No answer: no move, and why."""
    none = Figure.none(why)
    return BandsPlan(
        tuple(files),
        kind,
        aim,
        "cannot_say",
        why,
        none,
        none,
        none,
        (),
        tuple(bands),
        next_sweeps=tuple(next_sweeps),
        findings=tuple(findings),
    )
