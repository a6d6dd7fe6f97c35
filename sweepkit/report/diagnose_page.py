"""A diagnosis as a page: changed or not, the heaviest causes, the one test first; then why, picture, provenance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sweepkit.cautions import ANALYZER, POWER_OFF
from sweepkit.diagnosis.answer import Changed, Diagnosis, Hypothesis
from sweepkit.diagnosis.answered import PUT_RIGHT
from sweepkit.diagnosis.signatures import ELSE
from sweepkit.diagnosis.wording import CAUSES
from sweepkit.findings import Finding
from sweepkit.next_tests import TESTS
from sweepkit.plots.look import NARROW
from sweepkit.quantities import length_text
from sweepkit.report.page import Grid, Page, Picture, Tone, Verdict, file_title, sentence
from sweepkit.report.picture import as_picture
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.reviews import Review
from sweepkit.sweep import Sweep

# By how sure the answer is of it: plainly, likely, or no more than that it is what the numbers lean to.
WORDS: dict[Changed, tuple[str, str, str]] = {
    "yes": ("CHANGED", "PROBABLY CHANGED", "PROBABLY CHANGED"),
    "no": ("NOT CHANGED", "PROBABLY NOT CHANGED", "NO CHANGE SEEN"),
    "cannot_say": 3 * ("CHANGED? CANNOT SAY",),
}
PLAIN, LIKELY = 0.9, 0.7  # belief from which on a headline is plain, and from which it is likely; our choices
SIGNS: dict[Changed, str] = {"yes": "≠", "no": "=", "cannot_say": "?"}
TONES: dict[Changed, Tone] = {"yes": "fair", "no": "good", "cannot_say": "unknown"}
NOTHING_KNOWN, LEAST_SHOWN = 0.5, 0.01  # weights of something else alone, and of a line of text
GIVE_BACK = "the same command with --test {} --test-sweep FILE"
NAMED = 2  # causes that are named at once
LIVE = 0.5  # of the heaviest cause's weight: below it a cause is not tested first, however cheap


def diagnose_page(
    diagnosis: Diagnosis,
    sweeps: Sequence[Sweep],
    *,
    reviews: Sequence[Review] = (),
    made: Made | None = None,
    imperial: bool = False,
) -> Page:
    """The page of one diagnosis and the sweeps it rests on, in the order they were taken; no reviews, no picture."""
    first = _cheapest(diagnosis)
    steps = () if first is None else (sentence(f"{first.next_step}; then {GIVE_BACK.format(first.test)}"),)
    return Page(
        title=f"Diagnosis: {', '.join(file_title(sweep.source.path) for sweep in sweeps)}",
        subtitle=_in_short(diagnosis),
        verdicts=tuple(_verdicts(diagnosis, imperial)),
        tables=tuple(_tables(diagnosis, imperial)),
        steps=steps,
        steps_are_more=True,
        pictures=tuple(_picture(reviews)),
        more_findings=tuple(_evidence(hypothesis) for hypothesis in diagnosis.hypotheses),
        cautions=(POWER_OFF, ANALYZER),
        cautions_title="Before you touch it",
        cautions_in_short=POWER_OFF,
        provenance=list_provenance(sweeps, made or Made()),
    )


def _in_short(diagnosis: Diagnosis) -> str:
    rate = diagnosis.false_alarm_rate
    return (
        f"of 100 unchanged pairs {100 * rate:.0f} are called changed."
        if rate
        else "nothing to be held against."
    )


def _verdicts(diagnosis: Diagnosis, imperial: bool) -> Iterator[Verdict]:
    """What changed, the live causes with weights that add to 100, and the one test: on 72 columns some eight lines."""
    proved = diagnosis.changed == "cannot_say" and not diagnosis.false_alarm_rate and _has_name(diagnosis)
    word = _headline(diagnosis) + (", SWEEP SHOWS" if proved else "")
    if diagnosis.tested is not None:
        word = f"AFTER {diagnosis.tested.code}: {diagnosis.tested.showed.partition(' (')[0].upper()}"
    yield Verdict(
        SIGNS[diagnosis.changed], "", word, tuple(_causes(diagnosis, imperial)), TONES[diagnosis.changed]
    )
    if diagnosis.cannot_say is not None:
        yield Verdict("?", "", "MISSING:", (sentence(diagnosis.cannot_say),), "unknown")


def _headline(diagnosis: Diagnosis) -> str:
    """No firmer than the number beside it."""
    nothing = round(diagnosis.nothing_wrong, 2)
    sure = 1 - nothing if diagnosis.changed == "yes" else nothing
    return WORDS[diagnosis.changed][0 if sure >= PLAIN else 1 if sure >= LIKELY else 2]


def _has_name(diagnosis: Diagnosis) -> bool:
    """Whether more is said than that nothing is known."""
    return any(one.code != ELSE or one.weight > NOTHING_KNOWN for one in diagnosis.hypotheses)


def _causes(diagnosis: Diagnosis, imperial: bool) -> Iterator[str]:
    if not _has_name(diagnosis):
        return
    named = [one for one in diagnosis.hypotheses[:NAMED] if one.weight >= LEAST_SHOWN]
    shares = [round(100 * one.weight) for one in named]
    others = len(diagnosis.hypotheses) - len(named)
    nothing = round(100 * diagnosis.nothing_wrong) if others else 100 - sum(shares)
    rest = 100 - nothing - sum(shares)
    lines = [f"{share} % {_title(one, imperial)}" for one, share in zip(named, shares, strict=True)]
    if diagnosis.tested is not None and diagnosis.tested.is_proved and lines and shares[0] > nothing:
        lines[0] += ": that was it" if diagnosis.tested.code in PUT_RIGHT else ": the test shows it"
    place = sum(share > nothing for share in shares)  # heaviest first
    lines.insert(place, f"{nothing} % nothing wrong")
    tail = [lines.pop()] if place == len(named) else []
    if others and rest > 0:
        tail.insert(0, f"{rest} % {'one other cause' if others == 1 else f'{others} other causes'}")
    yield from lines
    if tail:
        yield "; ".join(tail)
    first = _cheapest(diagnosis)
    if (diagnosis.cannot_say is None or diagnosis.asks_rung) and first is not None:
        yield f"TEST: {TESTS[first.test]} (--test {first.test})"


def _title(one: Hypothesis, imperial: bool) -> str:
    where = _where(one, imperial)
    at = one.distance_m
    between = (
        ""
        if at is None or at.low is None or at.high is None
        else f" ({at.low:.2f} to {at.high:.2f}{' m' if imperial else ''})"
    )
    return CAUSES[one.code].title + (f", {where} away{between}" if where != "-" else "")


def _cheapest(diagnosis: Diagnosis) -> Hypothesis | None:
    """Of the two heaviest causes the one whose test costs less, unless the second is a far cry.

    None where nothing is left to test: a test that was made is not asked for again.
    """
    tested = diagnosis.tested
    if not diagnosis.hypotheses or (tested is not None and tested.is_proved):
        return None
    live = [
        one
        for one in diagnosis.hypotheses[:NAMED]
        if one.weight >= LIVE * diagnosis.hypotheses[0].weight and (tested is None or one.test != tested.code)
    ]
    return min(live, key=lambda one: CAUSES[one.code].effort, default=None)


def how_sure(diagnosis: Diagnosis) -> str:
    """What the answer rests on, and what it cannot see."""
    if not diagnosis.false_alarm_rate:
        return "A sweep shows one port only; what it cannot see, no weight here covers."
    return (
        f"Of sweeps between which nothing went wrong, {100 * diagnosis.false_alarm_rate:.0f} in 100 are called "
        "changed. What was wrong before and still is does not show in a difference."
    )


def _tables(diagnosis: Diagnosis, imperial: bool) -> Iterator[Grid]:
    if diagnosis.hypotheses:
        weighed = [
            (one.weight, (CAUSES[one.code].title, f"{100 * one.weight:.0f} %", _where(one, imperial)))
            for one in diagnosis.hypotheses
        ]
        nothing = diagnosis.nothing_wrong
        weighed.append((nothing, ("nothing wrong", f"{100 * nothing:.0f} %", "-")))
        rows = tuple(row for _, row in sorted(weighed, key=lambda one: -one[0]))
        yield Grid("Causes, heaviest first", ("cause", "weight", "distance"), rows, more=True)
    seen = [how_sure(diagnosis), *diagnosis.summary, *diagnosis.notes]
    yield Grid("What was seen", ("seen",), tuple((text,) for text in seen), more=True)


def _where(hypothesis: Hypothesis, imperial: bool) -> str:
    distance = hypothesis.distance_m
    return (
        "-" if distance is None or distance.value is None else length_text(distance.value, imperial=imperial)
    )


def _evidence(hypothesis: Hypothesis) -> Finding:
    parts = []
    if hypothesis.evidence_for:
        parts.append(f"for it: {'; '.join(hypothesis.evidence_for)}")
    if hypothesis.evidence_against:
        parts.append(f"against it: {'; '.join(hypothesis.evidence_against)}")
    title = f"{CAUSES[hypothesis.code].title}, weight {hypothesis.weight:.2f}"
    return Finding(
        hypothesis.code, "note", f"{title}. {'. '.join(map(_capital, parts))}", hypothesis.next_step
    )


def _picture(reviews: Sequence[Review]) -> Iterator[Picture]:
    if not reviews:
        return
    from sweepkit.plots.overlay import plot_overlay

    names = ", ".join(file_title(review.sweep.source.path) for review in reviews)
    drawn = plot_overlay(reviews, size=NARROW, titled=False)
    yield as_picture(drawn, "p1-overlay", "SWR of the sweeps over one another", f"SWR of {names}.")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
