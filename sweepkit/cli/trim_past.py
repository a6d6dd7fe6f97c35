"""What the logbook adds to a trim: earlier sweeps to learn from, its own score, and how to log what comes."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sweepkit.antennas.kind import Move
    from sweepkit.findings import Finding
    from sweepkit.sweep import Sweep
    from sweepkit.trim.answer import TrimPlan
    from sweepkit.trim.wire import EarlierState

Past = list[tuple["EarlierState", "Sweep"]]
MOST_SHOWN = 6  # past predictions told one by one


def own_facts(log: Path, antenna: str, present: Sweep) -> dict[str, Any]:
    """What the logbook says of the present sweep itself, where it is logged already.

    Parameters
    ----------
    log : Path
        The logbook.
    antenna : str
        The operator's own name.
    present : Sweep
        The sweep that is being trimmed.
    """
    from sweepkit.logbook import open_logbook
    from sweepkit.logbook.past import find_sweep_by_hash

    with open_logbook(log) as opened:
        found = find_sweep_by_hash(opened, present.source.sha256, antenna=antenna)
    return {} if found is None else {**found.setup.facts, **found.facts}


def earlier_logged(
    log: Path, antenna: str, present: Sweep, *, length_m: float, measured_at: str, move: Move
) -> Past:
    """Earlier sweeps of the antenna's setup, as ``--earlier`` would give them.

    Parameters
    ----------
    log : Path
        The logbook.
    antenna : str
        The operator's own name.
    present : Sweep
        The sweep that is being trimmed.
    length_m : float
        Its length. [m]
    measured_at : str
        Where it was measured.
    move : Move
        How a state led on to the next where nobody said.
    """
    from sweepkit.logbook import open_logbook
    from sweepkit.logbook.past import past_states
    from sweepkit.trim.wire import EarlierState

    with open_logbook(log) as opened:
        states = past_states(
            opened,
            antenna=antenna,
            sha256=present.source.sha256,
            length_m=length_m,
            measured_at=measured_at,
        )
    ways: dict[str | None, Move] = {"fold": "fold", "cut": "cut", "slide": "slide", "add": "cut"}
    return [
        (
            EarlierState(
                state.sweep.source.path, state.length_m, relative=False, by=ways.get(state.by, move)
            ),
            state.sweep,
        )
        for state in states
    ]


def score(log: Path, antenna: str) -> Finding | None:
    """How the predictions of this antenna came true; ``None`` where none was logged.

    Parameters
    ----------
    log : Path
        The logbook.
    antenna : str
        The operator's own name.
    """
    from sweepkit.findings import Finding
    from sweepkit.logbook import open_logbook
    from sweepkit.logbook.past import score_predictions

    with open_logbook(log) as opened:
        scored = score_predictions(opened, antenna=antenna)
    if not scored:
        return None
    off = ", ".join(f"{(one.dip_hz - one.predicted_hz) / 1e3:+.0f}" for one in scored[-MOST_SHOWN:])
    told = [one.is_inside for one in scored if one.is_inside is not None]
    inside = f"; {sum(told)} of {len(told)} inside their interval" if told else ""
    count = f"{len(scored)} past prediction{'s' if len(scored) > 1 else ''} for this antenna"
    last = f" the last {MOST_SHOWN}" if len(scored) > MOST_SHOWN else ""
    return Finding("past-predictions", "note", f"{count},{last} off by {off} kHz{inside}", "")


def logging_command(plan: TrimPlan, antenna: str) -> str | None:
    """The command that logs the next sweep with what was predicted for it; ``None`` where nothing is to be done.

    Parameters
    ----------
    plan : TrimPlan
        The plan.
    antenna : str
        The operator's own name.
    """
    ahead, move = plan.after_first_move_hz, plan.first_move
    if move.by == "none" or ahead.value is None:
        return None
    facts = [f"by={move.by}", f"change={move.m * 100:.1f} cm", f"predicted={ahead.value / 1e6:.4f} MHz"]
    if ahead.low is not None and ahead.high is not None:
        facts += [f"predicted_low={ahead.low / 1e6:.4f} MHz", f"predicted_high={ahead.high / 1e6:.4f} MHz"]
    settings = [part for fact in facts for part in ("--set", fact)]
    return shlex.join(["sweepkit", "log", "add", "NEXT.s1p", "--antenna", antenna, *settings])
