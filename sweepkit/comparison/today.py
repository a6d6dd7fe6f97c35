"""Is this setup inside what its antenna usually does?"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sweepkit.antennas.rungs import WORDS, Rung
from sweepkit.comparison.arms import site_key
from sweepkit.comparison.differences import Difference, Gap, Side, judge, sums_of
from sweepkit.comparison.gather import setups_from_log
from sweepkit.comparison.pairs import differs
from sweepkit.comparison.scale import value_on_scale
from sweepkit.comparison.setups import JUDGED, ComparedSetup, figures_at, find_dip, find_plane, geometry_of
from sweepkit.comparison.spread import Reerections, body_of, find_usual
from sweepkit.diagnosis.answer import Diagnosis
from sweepkit.diagnosis.by_acting import told_chain
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.diagnosis.wording import CAUSES
from sweepkit.findings import Finding
from sweepkit.kit import Kit
from sweepkit.logbook import Logbook, read_if_whole
from sweepkit.quantities import count_text
from sweepkit.records.antenna import standing_facts
from sweepkit.records.nearest import PLACE, find_nearest
from sweepkit.reviews import Review, summarise

ONE_OF_TWO = 1.1436  # two figures share the 1 in 20: 2.2414 standard deviations in place of 1.96
OF_ONE_SITE: tuple[Rung, ...] = ("swept-again", "joined-anew", "put-up-again")
NAMES = {"dip_hz": "dip", "r_ohm": "R"}
NOT_SURELY = "not surely outside"  # of the usual, where the value lies beyond it and its interval does not
AS_USUAL, LIKELY = "nothing-wrong-since", "likely-cause"


def judge_today(today: ComparedSetup, earlier: Sequence[ComparedSetup]) -> Finding:
    """``inside-usual`` or ``outside-usual`` of the earlier setups of the same antenna, the nearest there are.

    Those of other lengths or radials are left out. Those at this site, on this ground and so high go before the
    others; without any, what sites differ by is allowed for. ``usual-unknown`` without an earlier setup alike.
    """
    alike = [setup for setup in earlier if geometry_of(setup) == geometry_of(today) and setup.id != today.id]
    if not alike:
        missing = "no earlier setup of this antenna in the same state to hold it against"
        return Finding("usual-unknown", "note", missing, "log this one too: sweepkit log add")
    cloud, rung = nearest_setups(today, alike)
    plane = find_plane([today, *cloud])
    if plane is None:
        return Finding("usual-unknown", "note", "the earlier setups were measured at another plane", "")
    common = find_dip(cloud, plane)
    figures = {setup.id: figures_at(setup, plane, common) for setup in (today, *alike)}
    body = body_of(cloud)
    differences = []
    for name in JUDGED:
        spread = Reerections(alike, [value_on_scale(name, figures[setup.id][name]) for setup in alike])
        sides = [
            Side(
                label, sums_of(setups, name, figures, "setup", fine=0), len({site_key(one) for one in setups})
            )
            for label, setups in (("usual", cloud), ("today", [today]))
        ]
        barred = "R turns along a line that nobody told" if name == "r_ohm" and plane == "unknown" else None
        differences.append(
            judge(name, sides[0], sides[1], find_usual(name, spread, body), Gap(rung), barred=barred)
        )
    return _finding(differences, len(cloud), rung, is_site_told=today.site is not None)


def nearest_setups(today: ComparedSetup, alike: Sequence[ComparedSetup]) -> tuple[list[ComparedSetup], Rung]:
    """The earlier setups with the least between them and today, and what lies between."""
    here = [setup for setup in alike if site_key(setup) == site_key(today)]
    same_place = [setup for setup in here if not differs((setup, today), PLACE)]
    if same_place:
        return same_place, "put-up-again"
    on_such_ground = [setup for setup in alike if not differs((setup, today), PLACE)]
    if on_such_ground and not here:
        return on_such_ground, "another-site"
    return here or list(alike), "other-ground"


def beside_logged(
    setups: Sequence[ComparedSetup], logged: Sequence[ComparedSetup], *, rung: Rung | None = None
) -> tuple[list[ComparedSetup], list[ComparedSetup]]:
    """What is compared, and what else the logbook holds, less the same files; one alone gets its nearest earlier.

    ``rung`` is what is told to lie between; one that stays at a site is none to a setup of another site.
    """
    hashes = frozenset(sha256 for setup in setups for sha256 in setup.hashes)
    earlier = [setup for setup in logged if not setup.hashes & hashes]
    if len(setups) != 1:
        return list(setups), earlier
    today = setups[0]
    alike = [
        one
        for one in earlier
        if one.antenna == today.antenna
        and geometry_of(one) == geometry_of(today)
        and not _is_later(one, today)
        and not (rung in OF_ONE_SITE and differs((one, today), ["site"]))
    ]
    baseline = nearest_setups(today, alike)[0][-1:] if alike else []
    return [*baseline, today], [one for one in earlier if one not in baseline]


def _is_later(one: ComparedSetup, today: ComparedSetup) -> bool:
    """Whether a setup was swept after another one, where both times are known."""
    if one.when is None or today.when is None:
        return False
    then, now = (datetime.fromisoformat(setup.when or "") for setup in (one, today))
    return then.date() > now.date() if None in (then.tzinfo, now.tzinfo) else then > now


def _finding(differences: Sequence[Difference], earlier: int, rung: Rung, *, is_site_told: bool) -> Finding:
    where = {
        "put-up-again": "at this site",
        "another-site": "at other sites" if is_site_told else "at any site, since none was told for this one",
        "other-ground": "on other ground or at other heights",
    }[rung]
    against = f"{count_text(earlier, 'earlier setup')} {where}"
    dip = next(one for one in differences if one.quantity == "dip_hz")
    if not dip.scales:
        return Finding("usual-unknown", "note", f"this setup cannot be held against {against}: {dip.why}", "")
    odd = [one for one in differences if one.limit is not None and _nearer_end(one) > ONE_OF_TWO * one.limit]
    if not odd:
        is_beyond = abs(dip.difference.value or 0.0) > (dip.limit or 0.0)
        word = NOT_SURELY if is_beyond else "inside"
        text = f"{word} what this antenna usually does: {_shift(dip)}, against {against}"
        return Finding("inside-usual", "note", text, "")
    text = "; ".join(f"{NAMES[one.quantity]} {_shift(one)}" for one in odd)
    return Finding(
        "outside-usual",
        "warning",
        f"outside what this antenna usually does: {text}, by {WORDS[rung]}; against {against}",
        "radio off and disconnected: look at radials, joints, line and what touches the wire before any trimming",
    )


def _nearer_end(one: Difference) -> float:
    """How far out the whole interval lies."""
    low, high = one.difference.low, one.difference.high
    if low is None or high is None:
        return abs(one.difference.value or 0.0)
    return max(low, -high, 0.0)


def _shift(difference: Difference) -> str:
    value, limit = difference.difference.value or 0.0, difference.limit or 0.0
    way = "above" if value > 0 else "below"
    if difference.quantity == "dip_hz":
        return f"{abs(value) / 1e3:.0f} kHz {way} the middle, usual is up to {limit / 1e3:.0f} kHz"
    return f"{abs(value):.2g} {way} the middle, usual is up to {limit:.2g}"


def with_usual(
    review: Review, facts: Mapping[str, Any], log: Logbook, *, kit: Kit, site: str | None = None
) -> Review:
    """The review with findings on whether this is what the antenna usually does, and the likely cause if not."""
    hashes = {sweep.source.sha256 for sweep in (review.sweep, *review.sweeps)}
    today = _facts_today(facts, site)
    earlier = setups_from_log(log, antennas=[facts["antenna"]], without=hashes)
    usual = judge_today(ComparedSetup("today", today, (summarise(review),)), earlier)
    is_inside = usual.code == "inside-usual" and not usual.text.startswith(NOT_SURELY)
    since = () if review.sweeps else _since(review, today, log, hashes, kit, is_inside=is_inside)
    return replace(review, findings=(*review.findings, usual, *since))


def _since(
    review: Review,
    today: Mapping[str, Any],
    log: Logbook,
    hashes: Collection[str],
    kit: Kit,
    *,
    is_inside: bool,
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
    finding = _finding_since(found, since=f"sweep {near.sweep.id}", usual=words if is_inside else None)
    return () if finding is None else (finding,)


def _finding_since(diagnosis: Diagnosis, *, since: str, usual: str | None) -> Finding | None:
    """The strongest cause, or that all is as usual; ``None`` where the diagnosis names neither.

    ``since`` is the earlier sweep in words, ``usual`` what "as usual" is meant for: ``"for wet ground here"``; ``None``
    where it is not inside the usual.
    """
    nothing = round(100 * diagnosis.nothing_wrong)
    if diagnosis.changed == "no":
        head = f"no fault seen since {since}" if usual is None else f"as usual {usual}".strip()
        text = f"{head}; it differs from {since} no more than it may ({nothing} % sure that nothing is wrong)"
        return Finding(AS_USUAL, "note", text, "")
    if not diagnosis.hypotheses:
        return None
    cause = diagnosis.hypotheses[0]
    text = (
        f"{100 * cause.weight:.0f} % {CAUSES[cause.code].title}; of all that may have changed since {since} this is "
        f"the likeliest; {nothing} % that nothing is wrong"
    )
    return Finding(LIKELY, "warning" if diagnosis.changed == "yes" else "note", text, cause.next_step)


def _facts_today(facts: Mapping[str, Any], site: str | None) -> dict[str, Any]:
    """What still holds: never the weather, and of the place only where it is the same."""
    known = standing_facts(facts, same_site=site is not None and site == facts.get("site"))
    return known | {"antenna": facts["antenna"]} | ({} if site is None else {"site": site})
