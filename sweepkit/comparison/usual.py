"""Whether today's sweep is what its antenna usually does, from the logbook."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any

from sweepkit.comparison.gather import setups_from_log
from sweepkit.comparison.setups import ComparedSetup
from sweepkit.comparison.today import judge_today
from sweepkit.diagnosis.answer import Diagnosis
from sweepkit.diagnosis.by_acting import told_chain
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.diagnosis.wording import CAUSES
from sweepkit.findings import Finding
from sweepkit.kit import Kit
from sweepkit.logbook import Logbook, read_if_whole
from sweepkit.records.antenna import standing_facts
from sweepkit.records.nearest import find_nearest
from sweepkit.reviews import Review, summarise

AS_USUAL, LIKELY = "nothing-wrong-since", "likely-cause"


def with_usual(
    review: Review, facts: Mapping[str, Any], log: Logbook, *, kit: Kit, site: str | None = None
) -> Review:
    """The review with findings on whether this is what the antenna usually does, and the likely cause if not."""
    hashes = {sweep.source.sha256 for sweep in (review.sweep, *review.sweeps)}
    today = _facts_today(facts, site)
    earlier = setups_from_log(log, antennas=[facts["antenna"]], without=hashes)
    usual = judge_today(ComparedSetup("today", today, (summarise(review),)), earlier)
    since = () if review.sweeps else _since(review, today, log, hashes, kit)
    return replace(review, findings=(*review.findings, usual, *since))


def _since(
    review: Review,
    today: Mapping[str, Any],
    log: Logbook,
    hashes: Collection[str],
    kit: Kit,
) -> tuple[Finding, ...]:
    """What is likely wrong since the nearest earlier sweep in the same state, measured at the same place."""
    near = find_nearest(log, today, without=hashes)
    if near is None or near.differs or review.sweep.phase != "signed":
        return ()
    then = {**near.sweep.setup.facts, **near.sweep.facts}
    baseline = read_if_whole(log, near.sweep)
    place, chain = review.planes.measured_at, told_chain(review)
    if baseline is None or then.get("measured_at", "unknown") != place:
        return ()
    found = diagnose(
        [review.sweep],
        baseline=baseline,
        kind=today.get("kind"),
        rung=near.rung,
        kit=kit,
        lines=None if chain is None else chain.pieces,
        measured_at=place,
        draws=0,
    )
    ground = f"for {then['ground']} ground" if "ground" in then and "ground" in today else ""
    here = "here" if near.rung in ("joined-anew", "put-up-again") else ""
    words = " ".join(part for part in (ground, here) if part)
    finding = _finding_since(found, since=f"sweep {near.sweep.id}", usual=words)
    return () if finding is None else (finding,)


def _finding_since(diagnosis: Diagnosis, *, since: str, usual: str) -> Finding | None:
    """The strongest cause, or that all is as usual; ``None`` where the diagnosis names neither.

    ``since`` is the earlier sweep in words, ``usual`` what "as usual" is meant for: ``"for wet ground here"``.
    """
    nothing = round(100 * diagnosis.nothing_wrong)
    if diagnosis.changed == "no":
        text = f"as usual{f' {usual}' if usual else ''}; since {since}: {nothing} % that nothing is wrong"
        return Finding(AS_USUAL, "note", text, "")
    if not diagnosis.hypotheses:
        return None
    cause = diagnosis.hypotheses[0]
    text = f"{100 * cause.weight:.0f} % {CAUSES[cause.code].title}; since {since}; {nothing} % nothing wrong"
    return Finding(LIKELY, "warning" if diagnosis.changed == "yes" else "note", text, cause.next_step)


def _facts_today(facts: Mapping[str, Any], site: str | None) -> dict[str, Any]:
    """What still holds: never the weather, and of the place only where it is the same."""
    known = standing_facts(facts, same_site=site is not None and site == facts.get("site"))
    return known | {"antenna": facts["antenna"]} | ({} if site is None else {"site": site})
