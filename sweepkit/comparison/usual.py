"""Whether today's sweep is what its antenna usually does, from the logbook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sweepkit.comparison.gather import setups_from_log
from sweepkit.comparison.setups import ComparedSetup
from sweepkit.comparison.today import judge_today
from sweepkit.logbook import Logbook
from sweepkit.records.antenna import standing_facts
from sweepkit.reviews import Review, summarise


def with_usual(review: Review, facts: Mapping[str, Any], log: Logbook, *, site: str | None = None) -> Review:
    """The review with a finding on whether this is what the antenna usually does."""
    hashes = {sweep.source.sha256 for sweep in (review.sweep, *review.sweeps)}
    earlier = setups_from_log(log, antennas=[facts["antenna"]], without=hashes)
    today = ComparedSetup("today", _facts_today(facts, site), (summarise(review),))
    return replace(review, findings=(*review.findings, judge_today(today, earlier)))


def _facts_today(facts: Mapping[str, Any], site: str | None) -> dict[str, Any]:
    """What still holds: never the weather, and of the place only where it is the same."""
    known = standing_facts(facts, same_site=site is not None and site == facts.get("site"))
    return known | {"antenna": facts["antenna"]} | ({} if site is None else {"site": site})
