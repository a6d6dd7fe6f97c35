"""What a diagnosis says, and its JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar, Literal, cast, get_args

from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.plain_types import HIDDEN, IF_KNOWN, Plain

Changed = Literal["yes", "no", "cannot_say"]
End = Literal["antenna", "open", "short"]


def told_end(text: str) -> End:
    """What is told of the far end of the line."""
    if text not in get_args(End):
        raise BadInput(f"--far-end is {text!r}; it is one of {', '.join(get_args(End))}")
    return cast(End, text)


@dataclass(frozen=True)
class Hypothesis(Plain):
    """One possible cause.

    Parameters
    ----------
    code : str
        Stable word (docs/names.md).
    weight : float
        Share of belief, 0 to 1; with ``nothing_wrong`` those of a diagnosis add up to 1. [-]
    evidence_for, evidence_against : tuple of str
        What speaks for and against it, with numbers.
    next_step : str
        The test that would show it.
    test : str
        Its code (docs/names.md), for ``--test``.
    distance_m : Figure, optional
        How far from the measuring point. [m]
    """

    in_json: ClassVar[Mapping[str, str]] = {"weight": "weight_shown"}

    code: str
    weight: float
    evidence_for: tuple[str, ...]
    evidence_against: tuple[str, ...]
    next_step: str
    test: str
    distance_m: Figure | None = field(default=None, metadata=IF_KNOWN)

    def __post_init__(self) -> None:
        if not 0 <= self.weight <= 1:
            raise ValueError(f"weight is {self.weight}; it must lie between 0 and 1")

    @property
    def weight_shown(self) -> float:
        """As JSON has it."""
        return round(self.weight, 3)


@dataclass(frozen=True)
class Outcome:
    """The test that was made, what it showed in words, and whether that spoke for the one answer left."""

    code: str
    showed: str
    is_proved: bool


@dataclass(frozen=True)
class Diagnosis(Plain):
    """The answer of ``sweepkit diagnose``.

    Parameters
    ----------
    changed : {"yes", "no", "cannot_say"}
        Whether the sweeps differ by more than repeats do.
    false_alarm_rate : float
        How often the test says ``yes`` of sweeps between which nothing changed; 0 where no test was made. [-]
    hypotheses : tuple of Hypothesis
        Heaviest first; none where nothing speaks for one.
    nothing_wrong : float
        Share of belief that nothing is wrong: the sweeps differ as they may where nothing was. [-]
    cannot_say : str or None
        What is missing for more.
    summary : tuple of str
        What was seen, with numbers; for people, not in the JSON.
    notes : tuple of str
        What was not understood or left out; for people, not in the JSON.
    asks_rung : bool
        Whether what is missing is what lies between the sweeps; a test is named beside it. Not in the JSON.
    tested : Outcome, optional
        The test that was made; for people, not in the JSON.
    """

    schema: ClassVar[str] = "sweepkit/diagnosis/1"
    in_json: ClassVar[Mapping[str, str]] = {
        "hypotheses": "hypotheses_shown",
        "nothing_wrong": "nothing_wrong_shown",
    }

    changed: Changed
    false_alarm_rate: float
    hypotheses: tuple[Hypothesis, ...]
    nothing_wrong: float
    cannot_say: str | None
    summary: tuple[str, ...] = field(default=(), metadata=HIDDEN)
    notes: tuple[str, ...] = field(default=(), metadata=HIDDEN)
    asks_rung: bool = field(default=False, metadata=HIDDEN)
    tested: Outcome | None = field(default=None, metadata=HIDDEN)

    @property
    def hypotheses_shown(self) -> tuple[Hypothesis, ...]:
        """As JSON has them: where rounded weights add to more than 1, the lightest that can gives it."""
        over = round(sum(one.weight_shown for one in self.hypotheses) - 1, 3)
        if over <= 0:
            return self.hypotheses
        gives = max(k for k, one in enumerate(self.hypotheses) if one.weight_shown >= over)
        return tuple(
            replace(one, weight=one.weight_shown - over) if k == gives else one
            for k, one in enumerate(self.hypotheses)
        )

    @property
    def nothing_wrong_shown(self) -> float:
        """As JSON has it, so that rounded weights still add to 1."""
        return max(round(1 - sum(one.weight_shown for one in self.hypotheses), 3), 0.0)
