"""A diagnosis as text: changed or not, the two heaviest causes and the one test first; then why."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from sweepkit.diagnosis.answer import Diagnosis, Hypothesis
from sweepkit.diagnosis.wording import CAUSES
from sweepkit.quantities import length_text

LEAST_WIDTH, MOST_WIDTH = 40, 72
HEADLINES = {"yes": "CHANGED.", "no": "NOT CHANGED.", "cannot_say": "CHANGED? CANNOT SAY."}
NAMED = 2  # causes on the first screen
LIVE = 0.25  # of the heaviest cause's weight: below it a cause is not tested first, however cheap


def diagnose_text(diagnosis: Diagnosis, *, width: int = MOST_WIDTH) -> str:
    """A diagnosis for a terminal; its first block is at most 8 lines of 40 columns.

    Parameters
    ----------
    diagnosis : Diagnosis
        The answer.
    width : int
        Columns of the terminal; held between 40 and 72.

    Returns
    -------
    str
        Lines, without a newline at the end.
    """
    width = min(max(width, LEAST_WIDTH), MOST_WIDTH)
    blocks = [
        list(_first_screen(diagnosis)),
        _wrapped(f"Next: {next_step(diagnosis)}.", width) if diagnosis.hypotheses else [],
        _wrapped(f"Cannot say: {diagnosis.cannot_say}.", width) if diagnosis.cannot_say else [],
        [line for text in diagnosis.summary for line in _wrapped(f"{text}.", width)],
        *(list(_cause(hypothesis, width)) for hypothesis in diagnosis.hypotheses),
        [line for note in diagnosis.notes for line in _wrapped(f"- {note}", width, hang="  ")],
        _wrapped(how_sure(diagnosis), width),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _first_screen(diagnosis: Diagnosis) -> Iterator[str]:
    proved = diagnosis.changed != "yes" and diagnosis.hypotheses
    yield HEADLINES[diagnosis.changed] + (" SWEEP SHOWS:" if proved else "")
    for hypothesis in diagnosis.hypotheses[:NAMED]:
        title = CAUSES[hypothesis.code].title
        yield f"{100 * hypothesis.weight:3.0f} % {title}"[:LEAST_WIDTH]
    if len(diagnosis.hypotheses) > NAMED:
        others = diagnosis.hypotheses[NAMED:]
        word = "other" if len(others) == 1 else "others"
        yield f"{100 * sum(one.weight for one in others):3.0f} % {len(others)} {word}"
    if diagnosis.hypotheses:
        yield from textwrap.wrap(f"TEST: {_test(diagnosis)}", LEAST_WIDTH, max_lines=4, placeholder=" ...")
    elif diagnosis.cannot_say is not None:
        yield "Below: what is missing."


def _test(diagnosis: Diagnosis) -> str:
    return CAUSES[_cheapest(diagnosis).code].test


def next_step(diagnosis: Diagnosis) -> str:
    """The one test to make first.

    Parameters
    ----------
    diagnosis : Diagnosis
        With hypotheses.
    """
    return _cheapest(diagnosis).next_step


def _cheapest(diagnosis: Diagnosis) -> Hypothesis:
    """Of the two heaviest causes the one whose test costs less, unless the second is a far cry."""
    live = [
        one for one in diagnosis.hypotheses[:NAMED] if one.weight >= LIVE * diagnosis.hypotheses[0].weight
    ]
    return min(live, key=lambda one: CAUSES[one.code].effort)


def _cause(hypothesis: Hypothesis, width: int) -> Iterator[str]:
    yield f"{hypothesis.code}, weight {hypothesis.weight:.2f}"
    for mark, texts in (("+", hypothesis.evidence_for), ("-", hypothesis.evidence_against)):
        for text in texts:
            yield from _wrapped(f"  {mark} {text}", width, hang="    ")
    distance = hypothesis.distance_m
    if distance is not None and distance.value is not None:
        yield f"  at {length_text(distance.value)} from the analyzer"
    yield from _wrapped(f"  -> {hypothesis.next_step}", width, hang="     ")


def how_sure(diagnosis: Diagnosis) -> str:
    """What the answer rests on, and what it cannot see.

    Parameters
    ----------
    diagnosis : Diagnosis
        The answer.
    """
    if diagnosis.changed == "cannot_say":
        return "A sweep shows one port only; what it cannot see, no weight here covers."
    return (
        f"Of sweeps between which nothing changed, {100 * diagnosis.false_alarm_rate:.0f} in 100 are called "
        "changed. What was wrong before and still is does not show in a difference."
    )


def _wrapped(text: str, width: int, *, hang: str = "") -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=hang)
