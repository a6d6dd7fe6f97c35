"""Which causes live on where a sweep has no phase: signatures of dip, SWR and loss, without a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sweepkit.antennas.rungs import Rung
from sweepkit.diagnosis.answer import Diagnosis, Hypothesis
from sweepkit.diagnosis.change import PAIR_LIMIT, Change, compare_pair, compare_triple
from sweepkit.diagnosis.common_grid import Common
from sweepkit.diagnosis.missing import doubt_sameness
from sweepkit.diagnosis.proved import nothing_known, prove_alone
from sweepkit.diagnosis.seen import Seen, describe_shift
from sweepkit.diagnosis.spreads import Spread, usual_spread
from sweepkit.diagnosis.told_words import Told
from sweepkit.diagnosis.weigh import SHOWS, Weighed, weigh_causes
from sweepkit.diagnosis.wording import CAUSES, say_evidence, step_of
from sweepkit.quantities import frequency_text
from sweepkit.reviews.review import Review

STILL_NOTHING = 0.05  # belief in the other answer than the test gives; common practice, no source
LEAST_WEIGHT = 0.03  # lighter causes are not named; two at least always are
MOST_CAUSES = 5


def diagnose_by_magnitude(
    reviews: Sequence[Review], common: Common, *, told: Told, rung: Rung, kind: str | None, has_baseline: bool
) -> Diagnosis:
    """The answer from two sweeps or more: the one before, the one now, and repeats, of the latter with a baseline."""
    before, now = reviews[:2]
    spread = usual_spread(rung, is_whip=kind == "loaded-whip")
    change = compare_changes(common, spread, has_baseline=has_baseline)
    seen = describe_shift(before, now, common, spread)
    nothing_wrong = STILL_NOTHING if change.changed == "yes" else 1 - STILL_NOTHING
    summary = summarise(change, seen)
    if change.changed != "yes":
        proved, nothing_wrong = prove_alone(now) or nothing_known(nothing_wrong)
        return Diagnosis(change.changed, change.false_alarm_rate, proved, nothing_wrong, None, summary)
    causes = _hypotheses(before, now, seen, change, kind=kind, told=told, spread=spread)
    total = sum(one.weight for one in causes)
    scaled = tuple(replace(one, weight=one.weight / total * (1 - nothing_wrong)) for one in causes)
    return Diagnosis(
        "yes", change.false_alarm_rate, scaled, nothing_wrong, _say_doubt(before, now, seen), summary
    )


def _say_doubt(before: Review, now: Review, seen: Seen) -> str | None:
    if seen.dip_kept and "r" not in seen.parts:
        return "R and Q cannot be read from these sweeps, so causes that differ only in them stay together"
    return doubt_sameness(before, now, seen)


def compare_changes(common: Common, spread: Spread, *, has_baseline: bool) -> Change:
    """The test that the sweeps allow; with a baseline those beyond the second repeat the second."""
    if common.gamma.shape[0] == 2:
        return compare_pair(common, spread)
    if not has_baseline:
        return compare_triple(common, spread)
    change = compare_pair(common, spread)
    repeats = [
        compare_pair(replace(common, gamma=common.gamma[[1, k]]), spread).statistic
        for k in range(2, common.gamma.shape[0])
    ]
    return replace(change, returned=max(repeats) <= PAIR_LIMIT)


def _hypotheses(
    before: Review,
    now: Review,
    seen: Seen,
    change: Change,
    *,
    kind: str | None,
    told: Told,
    spread: Spread,
) -> tuple[Hypothesis, ...]:
    """The causes worth naming, two at least."""
    old = {finding.code for finding in before.findings}
    new = {finding.code: finding for finding in now.findings if finding.code not in old}
    causes = weigh_causes(
        seen, kind=kind, told=told, spread=spread, findings=set(new), returned=change.returned
    )
    live = [cause for number, cause in enumerate(causes) if number < 2 or cause.weight >= LEAST_WEIGHT]

    def say(cause: Weighed) -> Hypothesis:
        shown = [finding for code, finding in new.items() if code in SHOWS.get(cause.code, ())]
        speaks_for, against = say_evidence(
            cause.best,
            seen,
            spread,
            odds=told.odds.get(cause.code, 1.0),
            findings=tuple(finding.text for finding in shown),
        )
        if change.returned is False:
            (speaks_for, against) = say_not_returned(cause.code, speaks_for, against)
        distance = next((finding.distance_m for finding in shown if finding.distance_m), None)
        return Hypothesis(
            cause.code,
            cause.weight,
            speaks_for,
            against,
            step_of(cause.code),
            CAUSES[cause.code].test,
            distance,
        )

    return tuple(say(cause) for cause in live[:MOST_CAUSES])


def say_not_returned(
    code: str, speaks_for: tuple[str, ...], against: tuple[str, ...]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Evidence for and against a cause where repeats disagree."""
    text = "sweeps that should repeat differ among themselves: something still moves"
    if code in ("loose-joint", "hot-drift", "interference"):
        return (*speaks_for, text), against
    return speaks_for, (*against, text)


def summarise(change: Change, seen: Seen) -> tuple[str, ...]:
    """What was seen, in a line each."""
    beyond = "more" if change.statistic > change.limit else "no more"
    said = [f"Reflection differs by {change.rms:.3f} on the average, {beyond} than noise and joints explain"]
    f_before, f_now = seen.dips_hz
    swr_before, swr_now = seen.swr
    if f_before and f_now:
        said.append(f"Dip {frequency_text(f_before)} -> {frequency_text(f_now)}")
        said.append(f"SWR {swr_before:.2f} -> {swr_now:.2f}")
    elif f_before:
        said.append(f"Dip at {frequency_text(f_before)} is gone")
    for name, word in (("r", "R"), ("q", "Q")):
        if name in seen.parts:
            said.append(
                f"{word} {seen.parts[name].value:+.0f} %"
                + ("" if seen.at_feedpoint else " (guessed through the line)")
            )
    if change.returned is not None:
        said.append("Repeats agree" if change.returned else "Repeats do not agree")
    return tuple(said)
