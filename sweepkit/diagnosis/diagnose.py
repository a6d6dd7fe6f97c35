"""What is wrong: from a sweep and a good one of before, from a pair, or from A, B and A again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sweepkit.antennas.catalogue import kind_named
from sweepkit.diagnosis.answer import Diagnosis, Hypothesis
from sweepkit.diagnosis.change import PAIR_LIMIT, Change, compare_pair, compare_triple
from sweepkit.diagnosis.common_grid import Common, find_common
from sweepkit.diagnosis.missing import ask_for_another, doubt_sameness, find_unfit, say_no_overlap
from sweepkit.diagnosis.proved import prove_alone
from sweepkit.diagnosis.seen import Seen, describe_shift
from sweepkit.diagnosis.spreads import Spread, usual_spread
from sweepkit.diagnosis.told_words import Told, read_told
from sweepkit.diagnosis.weigh import SHOWS, Weighed, weigh_causes
from sweepkit.diagnosis.wording import say_evidence, step_of
from sweepkit.errors import BadInput
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit, read_kit
from sweepkit.lines import LinePiece
from sweepkit.quantities import frequency_text
from sweepkit.reviews.review import Review, review
from sweepkit.sweep import Place, Sweep

MOST_SWEEPS = 3
LEAST_WEIGHT = 0.03  # lighter causes are not named; two at least always are
MOST_CAUSES = 5


def diagnose(
    sweeps: Sequence[Sweep],
    *,
    baseline: Sweep | None = None,
    changed: str | None = None,
    kind: str | None = None,
    kit: Kit | str | Path | None = None,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: Place = "unknown",
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
) -> Diagnosis:
    """Say whether anything changed, and which causes live on.

    Parameters
    ----------
    sweeps : sequence of Sweep
        One; or A and B; or A, B and A again. With a baseline: the antenna as it is now, swept one to three times.
    baseline : Sweep, optional
        The same antenna when it was good.
    changed : str, optional
        What the operator says was changed, in free words.
    kind : str, optional
        Kind of antenna, as on the command line; without it every cause is possible.
    kit, lines, measured_at, draws, seed
        As for :func:`sweepkit.reviews.review`.

    Raises
    ------
    BadInput
        No sweep, or more than three; an unknown kind; what :func:`sweepkit.reviews.review` refuses.
    """
    if not 1 <= len(sweeps) <= MOST_SWEEPS:
        raise BadInput(f"{len(sweeps)} sweeps; expected one to {MOST_SWEEPS}; name A, B and A again at most")
    if kind is not None:
        kind_named(kind)
    gear = kit if isinstance(kit, Kit) else Kit() if kit is None else read_kit(kit)
    told = read_told(changed)
    ordered = [*([baseline] if baseline is not None else []), *sweeps]
    has_phase = all(sweep.phase == "signed" for sweep in ordered)
    notes = _notes(told, kind)
    if lines and not has_phase:
        lines, notes = None, (*notes, "a sweep has no phase, so the line is left out of the sums")

    def look(sweep: Sweep, *, whole: bool) -> Review:
        return review(
            sweep,
            kit=gear,
            lines=lines,
            measured_at=measured_at,
            bands=None if whole else (),
            draws=draws,
            seed=seed,
        )

    if len(ordered) == 1:
        alone = look(ordered[0], whole=True)
        return Diagnosis("cannot_say", 0.0, prove_alone(alone), ask_for_another(alone), notes=notes)
    reviews = [look(sweep, whole=number == 1) for number, sweep in enumerate(ordered)]
    answer = _diagnose_difference(reviews, told=told, kind=kind, has_baseline=baseline is not None)
    return replace(answer, notes=notes)


def _diagnose_difference(
    reviews: Sequence[Review], *, told: Told, kind: str | None, has_baseline: bool
) -> Diagnosis:
    """The answer from two sweeps or more: the one before, the one now, and repeats."""
    before, now = reviews[:2]
    missing = find_unfit(reviews)
    common = None if missing else find_common([one.planes.measured for one in reviews])
    if common is None:
        return Diagnosis("cannot_say", 0.0, prove_alone(now), missing or say_no_overlap(reviews))
    spread = usual_spread(told.level, is_whip=kind == "loaded-whip")
    change = _compare(common, spread, has_baseline=has_baseline)
    seen = describe_shift(before, now, common, spread)
    answer = Diagnosis(change.changed, change.false_alarm_rate, (), None, _summary(change, seen))
    if change.changed != "yes":
        return replace(answer, hypotheses=prove_alone(now))
    hypotheses = _hypotheses(before, now, seen, change, kind=kind, told=told, spread=spread)
    return replace(answer, hypotheses=hypotheses, cannot_say=doubt_sameness(before, now, seen))


def _compare(common: Common, spread: Spread, *, has_baseline: bool) -> Change:
    """The test that the sweeps allow."""
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
            (speaks_for, against) = _say_not_returned(cause.code, speaks_for, against)
        distance = next((finding.distance_m for finding in shown if finding.distance_m), None)
        return Hypothesis(cause.code, cause.weight, speaks_for, against, step_of(cause.code), distance)

    return tuple(say(cause) for cause in live[:MOST_CAUSES])


def _say_not_returned(
    code: str, speaks_for: tuple[str, ...], against: tuple[str, ...]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    text = "sweeps that should repeat differ among themselves: something still moves"
    if code in ("loose-joint", "hot-drift", "interference"):
        return (*speaks_for, text), against
    return speaks_for, (*against, text)


def _summary(change: Change, seen: Seen) -> tuple[str, ...]:
    """What was seen, in a line each."""
    said = [
        f"Reflection differs by {change.rms:.3f} (rms); statistic {change.statistic:.1f}, limit {change.limit:g}"
    ]
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
                f"{word} {seen.parts[name].value:+.0f} %" + ("" if seen.at_feedpoint else " (off the circle)")
            )
    if change.returned is not None:
        said.append("Repeats agree" if change.returned else "Repeats do not agree")
    return tuple(said)


def _notes(told: Told, kind: str | None) -> tuple[str, ...]:
    notes = []
    if told.unknown:
        notes.append(f"--changed: not understood: {', '.join(told.unknown)}")
    if kind is None:
        notes.append("the kind of antenna is not told, so causes of every kind are weighed; add --kind")
    return tuple(notes)
