"""The dips of a logged sweep, at the plane nearest to the antenna."""

from __future__ import annotations

from collections.abc import Sequence

from sweepkit.errors import BadInput
from sweepkit.logbook import Logbook, LoggedSweep, summary_of
from sweepkit.reviews.summary import DipSummary, PlaneName, Summary

PLANES: tuple[PlaneName, ...] = ("feedpoint", "radio", "unknown")


def dips_of(summary: Summary) -> Sequence[DipSummary]:
    """Those of the first plane that is known."""
    return next((summary.planes[name] for name in PLANES if name in summary.planes), ())


def logged_dips(log: Logbook, sweep: LoggedSweep) -> Sequence[DipSummary]:
    """Those of a logged sweep; none where it has no figures."""
    try:
        return dips_of(summary_of(log, sweep))
    except BadInput:
        return ()
