"""What the logbook adds to trimming: earlier sweeps of this setup, past predictions, how to keep the next one."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, cast

from sweepkit.cli.log_place import open_named, say

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Move
    from sweepkit.cli.logged_antenna import KnownAntenna
    from sweepkit.figures import Figure
    from sweepkit.logbook import Logbook, LoggedSweep
    from sweepkit.sweep import Sweep
    from sweepkit.trim.answer import TrimPlan
    from sweepkit.trim.predictions import PastPrediction
    from sweepkit.trim.wire import EarlierState

LEAST_CHANGE_M = 0.001  # lengths nearer than this are the same wire swept again


@dataclass(frozen=True, eq=False)
class Past:
    """What the logbook knows of a wire before its present sweep."""

    earlier: tuple[tuple[EarlierState, Sweep], ...] = ()
    predictions: tuple[PastPrediction, ...] = ()


def past_of(
    known: KnownAntenna, log: Path | None, now: Sweep, *, antenna: str, length_m: float, by: Move
) -> Past:
    """Earlier sweeps of the antenna's setup that still bear on it, and how past predictions came out.

    Parameters
    ----------
    known : KnownAntenna
        Of this antenna; without a setup in the logbook there is no past.
    log : Path or None
        The logbook.
    now : Sweep
        The present sweep, in the logbook or not.
    antenna : str
        The operator's own name.
    length_m : float
        Present length of a part. [m]
    by : {"fold", "cut", "slide"}
        How it got from one sweep to the next, where the logbook does not say.
    """
    if not known.setup:
        return Past()
    from sweepkit.logbook import list_sweeps, read_if_whole

    with open_named(log) as opened:
        of_antenna = [each for each in list_sweeps(opened, antenna=antenna) if "set_aside" not in each.facts]
        own = [each for each in of_antenna if each.setup.id == known.setup]
        states = _states(own, now.source.sha256, length_m, by)
        earlier = tuple(
            (state, sweep) for state, each in states if (sweep := read_if_whole(opened, each)) is not None
        )
        return Past(earlier, tuple(_predictions(opened, of_antenna)))


def _states(
    own: Sequence[LoggedSweep], sha256: str, length_m: float, by: Move
) -> list[tuple[EarlierState, LoggedSweep]]:
    """Each earlier length of this wire with its last sweep, since anything else was changed."""
    from sweepkit.trim.wire import EarlierState

    present = next((number for number, each in enumerate(own) if each.sha256 == sha256), len(own))
    chain: list[LoggedSweep | None] = [*own[: present + 1], *([None] if present == len(own) else [])]
    is_told = present < len(own) and own[present].setup.facts.get("calibrated") is not None
    found: list[tuple[EarlierState, LoggedSweep]] = []
    for then, following in pairwise(chain):
        assert then is not None  # only the last of the chain is not in the logbook
        facts = following.facts if following else {}
        if "changed" in facts:
            found = []
            continue
        then_m = then.facts.get("length_m")
        next_m = facts.get("length_m") if following else length_m
        if then_m is None or next_m is None:
            found = []
        elif abs(then_m - next_m) >= LEAST_CHANGE_M:
            word = facts.get("by", by)
            how = cast("Move", "cut" if word == "add" else word)
            name = f"sweep {then.id}, {then.name}"
            found.append((EarlierState(name, then_m, False, how, one_calibration=is_told), then))
    return found


def _predictions(opened: Logbook, sweeps: Sequence[LoggedSweep]) -> list[PastPrediction]:
    """Sweeps of this antenna for which a dip had been predicted, with the dip nearest to it."""
    from sweepkit.errors import BadInput
    from sweepkit.logbook import summary_of
    from sweepkit.trim.predictions import PastPrediction

    past = []
    for each in sweeps:
        predicted = _predicted_hz(each)
        if predicted is None:
            continue
        try:
            planes = summary_of(opened, each).planes
        except BadInput:
            continue
        dips = next((planes[name] for name in ("feedpoint", "radio", "unknown") if name in planes), ())
        near = [dip.dip_hz for dip in dips if dip.dip_hz.value is not None]
        middle_hz = predicted.value or 0.0
        if near:
            dip_hz = min(near, key=lambda figure: abs((figure.value or 0.0) - middle_hz))
            past.append(PastPrediction(each.id, predicted, dip_hz))
    return past


def _predicted_hz(sweep: LoggedSweep) -> Figure | None:
    """What was predicted of a sweep; an interval that does not hold its own middle counts for nothing."""
    from sweepkit.figures import Figure

    middle, low, high = (sweep.facts.get(f"predicted{end}_hz") for end in ("", "_low", "_high"))
    if middle is None:
        return None
    if low is None or high is None or not low <= middle <= high:
        return Figure(middle)
    return Figure(middle, low, high)


def say_how_to_keep(plan: TrimPlan, known: KnownAntenna, log: Path | None) -> None:
    """Tell the command that logs the next sweep with this move and its prediction.

    Parameters
    ----------
    plan : TrimPlan
        The answer.
    known : KnownAntenna
        Of this antenna; without a setup in the logbook nothing is told.
    log : Path or None
        The logbook.
    """
    after = plan.after_first_move_hz
    if not known.setup or plan.action not in ("shorten", "lengthen") or after.value is None:
        return
    facts = [f"by={plan.first_move.by}", f"change={100 * plan.first_move.m:.4g} cm"]
    ends = (("predicted", after.value), ("predicted-low", after.low), ("predicted-high", after.high))
    facts += [f"{key}={value / 1e6:.4f} MHz" for key, value in ends if value is not None]
    words = ["sweepkit", "log", "add", "NEXT_FILE", "--setup", known.setup, "--when", "now"]
    words += ["--log", str(log)] if log else []
    words += [word for fact in facts for word in ("--set", fact)]
    say(f"once that is done and swept, this keeps it with the prediction: {shlex.join(words)}")
