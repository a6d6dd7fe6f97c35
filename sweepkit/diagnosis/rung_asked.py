"""What lies between two sweeps, where nobody told: what each answer would make of them, in words."""

from __future__ import annotations

from collections.abc import Mapping

from sweepkit.antennas.rungs import Rung
from sweepkit.diagnosis.answer import Changed
from sweepkit.diagnosis.by_acting import judge_change

TOLD_BY: Mapping[Rung, str] = {
    "swept-again": "--kept",
    "joined-anew": "--rejoined",
    "put-up-again": "--put-up-again",
}


def ask_rung(nothing_wrong_on: Mapping[Rung, float]) -> str:
    """What to tell, and what nothing wrong would weigh with each answer."""
    shares = (f"{100 * share:.0f} % with {TOLD_BY[rung]}" for rung, share in nothing_wrong_on.items())
    return f"what lies between the sweeps, which nobody told; nothing wrong weighs {', '.join(shares)}"


def say_rungs_apart(nothing_wrong_on: Mapping[Rung, float], verdict: Changed) -> tuple[str, ...]:
    """A word where another verdict would have been given had one of the rungs been told."""
    verdicts = {judge_change(share) for share in nothing_wrong_on.values()}
    return () if verdicts == {verdict} else (f"it hangs on {ask_rung(nothing_wrong_on)}",)
