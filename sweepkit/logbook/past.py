"""What the past of an antenna tells its next trim: earlier sweeps of this setup, and how predictions came true."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sweepkit.logbook.finding import list_sweeps
from sweepkit.logbook.reading import read_logged_sweep
from sweepkit.logbook.records import LoggedSweep
from sweepkit.logbook.store import Logbook
from sweepkit.logbook.summarising import summaries

if TYPE_CHECKING:
    from sweepkit.reviews import Summary
    from sweepkit.sweep import Sweep

SAME_LENGTH_M = 5e-4  # lengths nearer than this are the same state
NEAR = (
    0.06  # a dip further from the predicted one, of its frequency, is another dip; common practice, no source
)


@dataclass(frozen=True)
class PastState:
    """An earlier sweep of a setup that is being trimmed.

    Parameters
    ----------
    sweep : Sweep
        As it was swept.
    length_m : float
        Length of each part then. [m]
    by : str or None
        How it got from there to the next state: fold, cut, slide or add; ``None`` where nobody said.
    """

    sweep: Sweep
    length_m: float
    by: str | None


@dataclass(frozen=True)
class Prediction:
    """A dip that was predicted, and the one that came.

    Parameters
    ----------
    predicted_hz, dip_hz : float
        What was said, and what was swept. [Hz]
    is_inside : bool or None
        Whether it came within the interval that was said; ``None`` where none was.
    """

    predicted_hz: float
    dip_hz: float
    is_inside: bool | None


def find_sweep_by_hash(log: Logbook, sha256: str, *, antenna: str) -> LoggedSweep | None:
    """The last logged sweep of an antenna with this raw file, if there is one.

    Parameters
    ----------
    log : Logbook
        Open.
    sha256 : str
        Hash of the raw file.
    antenna : str
        The operator's own name.
    """
    return next((one for one in reversed(list_sweeps(log, antenna=antenna)) if one.sha256 == sha256), None)


def past_states(
    log: Logbook, *, antenna: str, sha256: str, length_m: float, measured_at: str
) -> list[PastState]:
    """Earlier sweeps of the last setup of an antenna, oldest first.

    Parameters
    ----------
    log : Logbook
        Open.
    antenna : str
        The operator's own name.
    sha256 : str
        Hash of the present sweep; where it is logged, only what was swept before it in its setup counts.
    length_m : float
        Present length of each part; sweeps of the same length tell nothing of the answer to a change. [m]
    measured_at : str
        Where the present sweep was measured; sweeps from elsewhere are left out.

    Returns
    -------
    list of PastState
        Those whose length is known.
    """
    sweeps = list_sweeps(log, antenna=antenna)
    if not sweeps:
        return []
    present = find_sweep_by_hash(log, sha256, antenna=antenna)
    setup = (present or sweeps[-1]).setup.id
    chain = [one for one in sweeps if one.setup.id == setup and "set_aside" not in one.facts]
    if present is not None:
        chain = [one for one in chain if one.order <= present.order]
    else:
        chain = [one for one in chain if one.sha256 != sha256]
    ways = [one.facts.get("by") for one in chain[1:]] + [None]
    return [
        PastState(read_logged_sweep(log, one), one.facts["length_m"], by)
        for one, by in zip(chain, ways, strict=True)
        if one.sha256 != sha256
        and "length_m" in one.facts
        and abs(one.facts["length_m"] - length_m) > SAME_LENGTH_M
        and one.facts.get("measured_at", measured_at) == measured_at
    ]


def score_predictions(log: Logbook, *, antenna: str) -> list[Prediction]:
    """Every predicted dip of an antenna beside the dip that came, in the order they were swept.

    Parameters
    ----------
    log : Logbook
        Open.
    antenna : str
        The operator's own name.

    Returns
    -------
    list of Prediction
        Without those whose sweep shows no dip near the predicted one.
    """
    scored = []
    for sweep, summary in summaries(log, antenna=antenna):
        if summary is None or "predicted_hz" not in sweep.facts or "set_aside" in sweep.facts:
            continue
        dip_hz = _dip_near(summary, sweep.facts["predicted_hz"])
        if dip_hz is not None:
            scored.append(Prediction(sweep.facts["predicted_hz"], dip_hz, _is_inside(sweep.facts, dip_hz)))
    return scored


def _dip_near(summary: Summary, predicted_hz: float) -> float | None:
    dips = summary.planes.get("feedpoint") or next(iter(summary.planes.values()), ())
    known = [dip.dip_hz.value for dip in dips if dip.dip_hz.value is not None]
    near = min(known, key=lambda f_hz: abs(f_hz - predicted_hz), default=None)
    return near if near is not None and abs(near / predicted_hz - 1) <= NEAR else None


def _is_inside(facts: Mapping[str, Any], dip_hz: float) -> bool | None:
    if "predicted_low_hz" not in facts or "predicted_high_hz" not in facts:
        return None
    return bool(facts["predicted_low_hz"] <= dip_hz <= facts["predicted_high_hz"])
