"""A diagnosis as a page: changed or not, the next test, causes with their evidence, picture, provenance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sweepkit.cautions import ANALYZER, POWER_OFF
from sweepkit.diagnosis.answer import Changed, Diagnosis, Hypothesis
from sweepkit.diagnosis.wording import CAUSES
from sweepkit.findings import Finding
from sweepkit.quantities import length_text
from sweepkit.report.diagnose_text import how_sure, next_step
from sweepkit.report.page import Grid, Page, Picture, Tone, Verdict, file_title, sentence
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.reviews import Review
from sweepkit.sweep import Sweep

WORDS: dict[Changed, str] = {"yes": "CHANGED", "no": "NOT CHANGED", "cannot_say": "CANNOT SAY"}
SIGNS: dict[Changed, str] = {"yes": "≠", "no": "=", "cannot_say": "?"}
TONES: dict[Changed, Tone] = {"yes": "fair", "no": "good", "cannot_say": "unknown"}


def diagnose_page(
    diagnosis: Diagnosis,
    sweeps: Sequence[Sweep],
    *,
    reviews: Sequence[Review] = (),
    made: Made | None = None,
) -> Page:
    """The page of one diagnosis.

    Parameters
    ----------
    diagnosis : Diagnosis
        The answer.
    sweeps : sequence of Sweep
        What it rests on, in the order they were taken.
    reviews : sequence of Review
        Their reviews, for the picture; none draws none.
    made : Made, optional
        How it came about.
    """
    steps = (sentence(next_step(diagnosis)),) if diagnosis.hypotheses else ()
    return Page(
        title=f"Diagnosis: {', '.join(file_title(sweep.source.path) for sweep in sweeps)}",
        subtitle=how_sure(diagnosis),
        verdicts=tuple(_verdicts(diagnosis)),
        tables=tuple(_tables(diagnosis)),
        steps=steps,
        pictures=tuple(_picture(reviews)),
        findings=tuple(_evidence(hypothesis) for hypothesis in diagnosis.hypotheses),
        cautions=(POWER_OFF, ANALYZER),
        cautions_title="Before you touch it",
        provenance=list_provenance(sweeps, made or Made()),
    )


def _verdicts(diagnosis: Diagnosis) -> Iterator[Verdict]:
    why = () if diagnosis.cannot_say is None else (sentence(diagnosis.cannot_say),)
    yield Verdict(
        SIGNS[diagnosis.changed], "changed?", WORDS[diagnosis.changed], why, TONES[diagnosis.changed]
    )


def _tables(diagnosis: Diagnosis) -> Iterator[Grid]:
    if diagnosis.hypotheses:
        rows = tuple(
            (CAUSES[one.code].title, f"{100 * one.weight:.0f} %", _where(one)) for one in diagnosis.hypotheses
        )
        yield Grid("Causes, heaviest first", ("cause", "weight", "distance"), rows)
    seen = [*diagnosis.summary, *diagnosis.notes]
    if seen:
        yield Grid("What was seen", ("seen",), tuple((text,) for text in seen))


def _where(hypothesis: Hypothesis) -> str:
    distance = hypothesis.distance_m
    return "-" if distance is None or distance.value is None else length_text(distance.value)


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
    from sweepkit.plots.inline_svg import inline_svg
    from sweepkit.plots.look import NARROW
    from sweepkit.plots.overlay import plot_overlay

    names = ", ".join(file_title(review.sweep.source.path) for review in reviews)
    svg = inline_svg(plot_overlay(reviews, size=NARROW), prefix="p1-overlay")
    yield Picture("p1-overlay", "SWR of the sweeps over one another", f"SWR of {names}.", svg.svg, svg.frame)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
