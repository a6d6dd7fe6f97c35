"""One line on a sweep that was just logged: what it is against the nearest earlier one of its antenna."""

from __future__ import annotations

import math

from sweepkit.antennas.rungs import WORDS, body_of_kind, trade_limit
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.logbook import Logbook, summary_of
from sweepkit.logbook.records import LoggedSweep
from sweepkit.records.dips import dips_of
from sweepkit.records.nearest import CHANGED, Nearest, find_nearest
from sweepkit.reviews.common_dip import find_common_dip
from sweepkit.reviews.summary import DipSummary, Summary


def say_against(log: Logbook, sweep: LoggedSweep) -> str:
    """``sweep 31, setup 9: dip 7.082 MHz, 74 kHz below sweep 30: more than joining anew explains``.

    Raises ``BadInput``: it has no figures, and why.
    """
    summary = summary_of(log, sweep)
    head = f"sweep {sweep.id}, setup {sweep.setup.number}"
    facts = {**sweep.setup.facts, **sweep.facts}
    near = find_nearest(log, facts, setup=sweep.setup.id, without={sweep.sha256}, before=sweep.id)
    dip = _first_dip(summary)
    if dip is None:
        return f"{head}: no dip inside the sweep"
    if near is None:
        return f"{head}: dip {_mhz(dip.dip_hz)}; no earlier sweep of this antenna to hold it against"
    try:
        pair = find_common_dip(summary, summary_of(log, near.sweep))
    except BadInput:
        pair = None
    if pair is None:
        return f"{head}: dip {_mhz(dip.dip_hz)}; no dip in common with sweep {near.sweep.id}"
    return f"{head}: dip {_mhz(pair[0].dip_hz)}, {_against(pair, near, sweep)}"


def _against(pair: tuple[DipSummary, DipSummary], near: Nearest, sweep: LoggedSweep) -> str:
    """The shift, and what explains it."""
    now, then = pair[0].dip_hz, pair[1].dip_hz
    shift_hz = (now.value or 0.0) - (then.value or 0.0)
    way = "above" if shift_hz > 0 else "below"
    moved = f"{abs(shift_hz) / 1e3:.0f} kHz {way} sweep {near.sweep.id}"
    if near.rung == "joined-anew" and any(name in sweep.facts for name in CHANGED):
        return f"{moved}; a change was told"
    if near.differs:
        return f"{moved}, which had another {' and '.join(_word(name) for name in near.differs)}"
    limit = trade_limit("dip_hz", body_of_kind(sweep.setup.facts.get("kind")), near.rung)
    apart = abs(math.log((now.value or 1.0) / (then.value or 1.0)))
    if apart - math.hypot(_half_width(now), _half_width(then)) <= limit:
        return f"{moved}: no more than {WORDS[near.rung]} explains"
    told = f"log edit {sweep.id} --set changed=... (or length=..., or set-aside=...) tells why"
    return f"{moved}: more than {WORDS[near.rung]} explains; {told}"


def _half_width(figure: Figure) -> float:
    if figure.low is None or figure.high is None:
        return 0.0
    return math.log(figure.high / figure.low) / 2


def _first_dip(summary: Summary) -> DipSummary | None:
    return next(iter(dips_of(summary)), None)


def _mhz(figure: Figure) -> str:
    return f"{(figure.value or 0.0) / 1e6:.3f} MHz"


def _word(name: str) -> str:
    from sweepkit.facts import BY_NAME

    return BY_NAME[name].key.replace("_", " ")
