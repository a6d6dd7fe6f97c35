"""What is wrong: from a sweep and a good one of before, from a pair, from A, B and A again, or with a bare line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from sweepkit.antennas.catalogue import OF_DIPOLES, known_kind
from sweepkit.antennas.rungs import WORDS, Rung, body_of_kind, trade_limit
from sweepkit.diagnosis.acting.act import taken_for_other
from sweepkit.diagnosis.acting.stories import OTHER
from sweepkit.diagnosis.answer import Diagnosis, End, Hypothesis
from sweepkit.diagnosis.answered import READS, TEST_CODES, Made, after_test, ask_for_the_other_end
from sweepkit.diagnosis.by_acting import (
    act_on_bare_line,
    act_on_reviews,
    false_alarm_rate,
    is_other_antenna,
    judge_change,
    name_causes,
    new_findings,
    say_missing,
    told_chain,
)
from sweepkit.diagnosis.by_magnitude import (
    compare_changes,
    diagnose_by_magnitude,
    say_not_returned,
    summarise,
)
from sweepkit.diagnosis.common_grid import Common, find_common
from sweepkit.diagnosis.missing import (
    ask_for_another,
    doubt_sameness,
    find_unfit,
    has_two_antennas_q,
    say_no_overlap,
)
from sweepkit.diagnosis.proved import nothing_known, prove_alone
from sweepkit.diagnosis.rung_asked import ask_rung, say_rungs_apart
from sweepkit.diagnosis.seen import Seen, describe_shift
from sweepkit.diagnosis.spreads import usual_spread
from sweepkit.diagnosis.told_words import Told, read_told, settle_rung
from sweepkit.diagnosis.weigh import NOT_RETURNED
from sweepkit.errors import BadInput
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Analyzer, Kit, as_kit
from sweepkit.lines import LinePiece
from sweepkit.next_tests import check_told_test
from sweepkit.reviews.check_sweeps import CheckSweeps
from sweepkit.reviews.outing import doubt_lines, learn_outing
from sweepkit.reviews.review import Review, review
from sweepkit.sweep import Place, Sweep

MOST_SWEEPS = 3
MOST_DRAWS = 100  # a review is asked for its findings and dips; causes have their own sums
ONE_OUTING: tuple[Rung, ...] = (
    "swept-again",
    "joined-anew",
)  # told so: line and calibration should be the same
TWICE = "another sweep: one file was given twice, and its likeness to itself says nothing"
UNTOLD_RUNG: Rung = "put-up-again"  # the highest that is weighed where nobody tells
# What befalls such dipoles alone; no rate of it was measured, so that it is said and not weighed
NOT_WEIGHED = {
    "fan": "a leg off one of its pairs",
    "linked": "a link that is open or closed where it should not be",
    "trap": "a trap that is wet or detuned",
}
RETURNED_RUNG: Rung = "swept-again"  # A, B and A again: what lies between is what the two A show


def diagnose(
    sweeps: Sequence[Sweep],
    *,
    baseline: Sweep | None = None,
    changed: str | None = None,
    kind: str | None = None,
    rung: Rung | None = None,
    far_end: End = "antenna",
    test: tuple[str, Sweep] | None = None,
    kit: Kit | str | Path | None = None,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: Place = "unknown",
    checks: CheckSweeps | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
) -> Diagnosis:
    """Say whether anything changed, and which causes live on.

    ``sweeps`` are one; or A and B; or A, B and A again. With a ``baseline``, when it was good: the antenna as it is
    now, swept one to three times. ``changed`` are the operator's own words, which may not contradict ``rung``, what
    lies between the sweeps; without a ``kind`` every cause is possible. ``test`` is the code of the test made next
    (docs/names.md) and its sweep. A bare line must be told. ``checks`` are
    of the analyzer's own standards. The rest as for :func:`sweepkit.reviews.review`.
    """
    if not 1 <= len(sweeps) <= MOST_SWEEPS:
        raise BadInput(f"{len(sweeps)} sweeps; expected one to {MOST_SWEEPS}; name A, B and A again at most")
    if kind is not None:
        known_kind(kind)
    gear = as_kit(kit)
    told = read_told(changed)
    rung = settle_rung(rung, told)
    ordered = [*([baseline] if baseline is not None else []), *sweeps]
    has_phase = all(sweep.phase == "signed" for sweep in ordered)
    notes = _notes(told, kind if far_end == "antenna" else "")
    kind = None if kind in OF_DIPOLES else kind
    if far_end != "antenna" and not lines:
        raise BadInput(
            f"the far end is told {far_end}, but no line; name it with --line, such as --line 'RG-58 15 m'"
        )
    if lines and not has_phase:
        lines, notes = None, (*notes, "a sweep has no phase, so the line is left out of the sums")

    seen: dict[str, Any] = {"lines": lines, "measured_at": measured_at, "checks": checks}
    seen["draws"] = min(draws, MOST_DRAWS)
    places = {sweep.measured_at for sweep in ordered} if measured_at == "unknown" else {measured_at}
    outing = learn_outing(ordered, kit=gear, **seen) if len(places) == 1 else None
    if len(ordered) > 1 and has_phase:
        if outing is None or outing.learned is None:
            notes = (*notes, *dict.fromkeys(one.text for one in doubt_lines(ordered, kit=gear, **seen)))
        seen["draws"] = 0  # causes are acted out on the curves themselves and have their own sums
    amiss = None if outing is None else outing.finding
    is_told = rung in ONE_OUTING and amiss is not None and amiss.level != "note"
    if amiss is not None and (is_told or amiss.code != "outing-disagrees"):
        notes = (*notes, f"{amiss.text}: {amiss.next_step}")

    def look(sweep: Sweep, *, whole: bool) -> Review:
        return review(
            sweep,
            kit=gear,
            bands=None if whole else (),
            seed=seed,
            outing=outing,
            **seen | {"measured_at": sweep.measured_at if measured_at == "unknown" else measured_at},
        )

    analyzer = gear.analyzer
    if checks is not None:
        last = ordered[-1]
        analyzer, _ = checks.judged_over(float(last.f_hz[0]), float(last.f_hz[-1]), analyzer)
    reviews = [look(sweep, whole=number == min(1, len(ordered) - 1)) for number, sweep in enumerate(ordered)]
    wrong = (one.text for each in reviews for one in each.findings if one.code == "line-told-wrong")
    notes = (*notes, *dict.fromkeys(wrong))
    if len(ordered) == 1:
        answer = _diagnose_alone(reviews[0], told, far_end, analyzer)
    else:
        known = _Known(told, kind, rung, far_end, baseline is not None, analyzer)
        answer = _diagnose_difference(reviews, known)
    answer = ask_for_the_other_end(answer, far_end)
    if test is not None:
        made = _made(test, kit=gear, lines=lines, place=measured_at)
        answer = after_test(answer, made, tuple(reviews), kind=kind, analyzer=analyzer)
    if _holds_a_file_twice(ordered):
        answer = replace(answer, changed="cannot_say", cannot_say=TWICE)
    return replace(answer, notes=(*notes, *answer.notes))


def _holds_a_file_twice(sweeps: Sequence[Sweep]) -> bool:
    hashes = [sweep.source.sha256 for sweep in sweeps if sweep.source.sha256]
    return len({*hashes}) < len(hashes)


def _made(
    test: tuple[str, Sweep], *, kit: Kit, lines: Sequence[LinePiece | str] | None, place: Place
) -> Made:
    """The test with the review of its sweep; at the feedpoint and at the analyzer itself there is no line in it."""
    code, sweep = test
    check_told_test(code, has_sweep=True, known=TEST_CODES)
    if sweep.phase != "signed":
        raise BadInput("the sweep of the test has no phase; export it with phase")
    bare = code == "at-feedpoint" or code in READS
    own = review(
        sweep,
        kit=kit,
        lines=None if bare else lines,
        measured_at="feedpoint" if bare else place,
        bands=(),
        draws=0,
    )
    return Made(code, own)


def _diagnose_alone(alone: Review, told: Told, end: End, analyzer: Analyzer) -> Diagnosis:
    """What one sweep says: of a line that was told to be bare, or what it proves by itself."""
    acted = None if end == "antenna" else act_on_bare_line(alone, told=told, end=end, analyzer=analyzer)
    if acted is None:
        causes, nothing_wrong = prove_alone(alone) or nothing_known()
        return Diagnosis("cannot_say", 0.0, causes, nothing_wrong, ask_for_another(alone))
    causes, nothing_wrong = name_causes(acted, told=told, findings=alone.findings, rung=None)
    missing = say_missing(causes, nothing_wrong, told_chain(alone), analyzer)
    return Diagnosis("cannot_say", 0.0, causes, nothing_wrong, missing)


class _Known(NamedTuple):
    """What is known beside the sweeps; the first of them may be a baseline."""

    told: Told
    kind: str | None
    rung: Rung | None
    end: End
    has_baseline: bool
    analyzer: Analyzer


def _diagnose_difference(reviews: Sequence[Review], known: _Known) -> Diagnosis:
    """The answer from two sweeps or more: the one before, the one now, and repeats."""
    missing = find_unfit(reviews)
    common = None if missing else find_common([one.planes.measured for one in reviews])
    if common is None:
        causes, nothing_wrong = prove_alone(reviews[1]) or nothing_known()
        return Diagnosis("cannot_say", 0.0, causes, nothing_wrong, missing or say_no_overlap(reviews))
    if not common.has_phase:
        return diagnose_by_magnitude(
            reviews,
            common,
            told=known.told,
            rung=known.rung or "joined-anew",
            kind=known.kind,
            has_baseline=known.has_baseline,
        )
    return _act(reviews, common, known)


def _act(reviews: Sequence[Review], common: Common, known: _Known) -> Diagnosis:
    """Causes acted out on the sweep before."""
    told, kind, rung, end, has_baseline, analyzer = known
    before, now = reviews[0], reviews[1]
    spread = usual_spread(rung or "joined-anew", is_whip=kind == "loaded-whip")
    change = compare_changes(common, spread, has_baseline=has_baseline)
    is_triple = len(reviews) > 2 and not has_baseline
    held = rung or (RETURNED_RUNG if is_triple and change.returned else None)
    seen = describe_shift(before, now, common, spread)
    beside = NOT_RETURNED if change.returned is False else {}
    acted = act_on_reviews(
        [before, reviews[2]] if is_triple and change.returned else [before],
        reviews[1:] if has_baseline else [now],
        kind=kind,
        told=told,
        rung=held,
        end=end,
        analyzer=analyzer,
        beside=beside,
    )
    if acted is None:
        causes, nothing_wrong = prove_alone(now) or nothing_known()
        return Diagnosis("cannot_say", 0.0, causes, nothing_wrong, say_no_overlap(reviews))
    if end == "antenna" and doubt_sameness(before, now, seen):
        acted = taken_for_other(acted, two_qs=has_two_antennas_q(seen))
    causes, nothing_wrong = name_causes(acted, told=told, findings=new_findings(before, now), rung=held)
    said = summarise(change, seen)
    if change.returned is False:
        causes = tuple(map(_not_returned, causes))
    missing = say_missing(causes, nothing_wrong, told_chain(now), analyzer)
    if is_other_antenna(causes):
        causes = tuple(cause for cause in causes if cause.code == OTHER or cause.weight > nothing_wrong)
        causes = tuple(
            replace(cause, weight=cause.weight / sum(c.weight for c in causes) * (1 - nothing_wrong))
            for cause in causes
        )
    verdict = judge_change(nothing_wrong, is_rung_told=held is not None)
    if change.returned is False:
        verdict = "yes"
    asks_rung = verdict == "cannot_say" and held is None and missing is None
    if asks_rung:
        missing = ask_rung(acted.nothing_wrong_on())
    notes = _held_against_the_ladder(seen, kind, held) if verdict == "yes" else ()
    if held is None and not asks_rung:
        notes = (*notes, *say_rungs_apart(acted.nothing_wrong_on(), verdict))
    return Diagnosis(
        verdict, false_alarm_rate(held), causes, nothing_wrong, missing, said, notes, asks_rung=asks_rung
    )


def _held_against_the_ladder(seen: Seen, kind: str | None, rung: Rung | None) -> tuple[str, ...]:
    """A word where dip and R, which ``compare`` judges, moved no more than they may, and the curve did."""
    held = rung or UNTOLD_RUNG
    names = {"f": "dip_hz", "r": "r_ohm"}
    limits = {part: 100 * trade_limit(name, body_of_kind(kind), held) for part, name in names.items()}
    if not limits.keys() <= seen.parts.keys():
        return ()
    if any(abs(seen.parts[part].value) > limit for part, limit in limits.items()):
        return ()
    return (
        f"dip and R of the main dip moved no more than {WORDS[held]} moves them, and compare, which judges these, has "
        "nothing to say against it; what is weighed here is all of the curve",
    )


def _not_returned(cause: Hypothesis) -> Hypothesis:
    speaks_for, against = say_not_returned(cause.code, cause.evidence_for, cause.evidence_against)
    return replace(cause, evidence_for=speaks_for, evidence_against=against)


def _notes(told: Told, kind: str | None) -> tuple[str, ...]:
    notes = []
    if told.unknown:
        notes.append(f"--changed: not understood: {', '.join(told.unknown)}")
    if kind is None:
        notes.append("the kind of antenna is not told, so causes of every kind are weighed; add --kind")
    if kind in OF_DIPOLES:
        notes.append(
            f"causes of every kind are weighed, but not {NOT_WEIGHED[kind]}, which befalls a {kind} antenna "
            "alone: it may be named as something else or by another cause's name"
        )
    return tuple(notes)
