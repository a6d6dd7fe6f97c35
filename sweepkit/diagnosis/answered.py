"""A test that was made: its sweep updates what the causes weigh.

Of every test it is known what it shows, not by a table of chances but by the same acting out. A sweep after
something was put right goes back to the one before, or stays with the one now: which of the two is judged as any
pair is. A bare line is judged as a bare line, the feedpoint against what the line told makes of the baseline.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp

import numpy as np

from sweepkit.antennas.rungs import Rung
from sweepkit.diagnosis.acting.act import act_on_told_line, log_of_nothing_wrong
from sweepkit.diagnosis.acting.evidence import TEMPER
from sweepkit.diagnosis.acting.stories import HEALTHY
from sweepkit.diagnosis.answer import Diagnosis, End, Hypothesis, Outcome
from sweepkit.diagnosis.by_acting import judge_change, told_chain
from sweepkit.diagnosis.signatures import ELSE
from sweepkit.diagnosis.wording import CAUSES
from sweepkit.errors import BadInput
from sweepkit.feedline.plane import remove_chain
from sweepkit.kit import Analyzer
from sweepkit.next_tests import step_of_test
from sweepkit.reviews.review import Review
from sweepkit.reviews.view import View

# What each test puts right; if that was wrong the sweep goes back to the one before.
PUT_RIGHT: Mapping[str, frozenset[str]] = {
    "swept-again": frozenset({"interference", "loose-joint", "hot-drift"}),
    "wiggled": frozenset({"loose-joint"}),
    "put-back": frozenset(
        {
            "something-else",
            "other-antenna",
            "wrong-impedance-piece",
            "common-mode",
            "wrong-plane",
            "radial-added",
            "counterpoise-added",
        }
    ),
    "coax-moved": frozenset({"common-mode"}),
    "radials-clipped": frozenset({"radial-off"}),
    "counterpoise-on": frozenset({"no-counterpoise"}),
    "tap-moved": frozenset({"wrong-tap"}),
    "wire-looked-along": frozenset({"touching", "length-changed"}),
    "legs-metered": frozenset({"leg-off"}),
    "dried": frozenset({"wet-wire", "line-loss"}),
    "soil-as-before": frozenset({"drier-soil", "wetter-soil", "wet-wire"}),
    "cooled": frozenset({"hot-drift"}),
}
BARE: Mapping[str, End] = {"antenna-unplugged": "open", "far-end-shorted": "short"}
IN_THE_LINE = frozenset(
    {"loose-joint", "wrong-impedance-piece", "line-loss", "open-line", "shorted-line", "swr-too-good"}
)
# Nothing is put right by looking alone, and what was wrong may not have been found. Where another cause holds the curve
# is back all the same if that comes and goes by itself, or if the hand that made the test put it right unawares: who
# wiggles a joint dries no soil and puts back no radial. Common practice, no source.
WORKS, BY_ITSELF, UNAWARES = 0.85, 0.1, 0.02
COMES_AND_GOES = frozenset({"interference", "loose-joint", "hot-drift", "common-mode", "touching", ELSE})
# A standard at the analyzer: what it reflects, how far off it is usually read and how far where that cause holds.
READS: Mapping[str, tuple[float, float, float, str]] = {
    "check-load": (0.0, 0.02, 0.08, "poor-calibration"),  # -34 dB, -22 dB
    "plane-shorted": (-1.0, 0.05, 0.4, "wrong-plane"),
}
MADE_ON: Rung = "joined-anew"  # a test takes something apart and joins it again
PROVES = 2.0  # so many times likelier than under something else a test speaks for an answer; our choice
SETTLED = 0.9  # weight of an answer that needs no further test
TEST_CODES = (*PUT_RIGHT, *BARE, *READS, "at-feedpoint")


@dataclass(frozen=True)
class Made:
    """A test that was made, and the review of its sweep."""

    code: str
    review: Review


def ask_for_the_other_end(answer: Diagnosis, far_end: End) -> Diagnosis:
    """The same, but that of a line swept alone the end is asked for that was not swept."""
    swept = [code for code, end in BARE.items() if end == far_end]
    if not swept:
        return answer
    other = next(code for code in BARE if code not in swept)
    causes = (
        replace(one, test=other, next_step=step_of_test(other)) if one.test in swept else one
        for one in answer.hypotheses
    )
    return replace(answer, hypotheses=tuple(causes))


def after_test(
    diagnosis: Diagnosis,
    made: Made,
    reviews: tuple[Review, ...],
    *,
    kind: str | None,
    analyzer: Analyzer,
) -> Diagnosis:
    """The diagnosis with what the test showed.

    Raises ``BadInput``: a test that cannot be read: no baseline, no line told, or too few frequencies in common.
    """
    odds, said = _odds(made, reviews, kind=kind, analyzer=analyzer)
    weights = {one.code: one.weight * odds.get(one.code, odds[ELSE]) for one in diagnosis.hypotheses}
    nothing = diagnosis.nothing_wrong * odds[HEALTHY]
    total = sum(weights.values()) + nothing
    if not total > 0:
        raise BadInput(f"the sweep of --test {made.code} contradicts all causes; sweep it again")
    causes = tuple(_updated(one, weights[one.code] / total, said, made.code) for one in diagnosis.hypotheses)
    ordered = tuple(sorted(causes, key=lambda one: -one.weight))
    tested = Outcome(made.code, said, is_proved=_is_proved(odds, ordered, nothing / total))
    verdict = judge_change(nothing / total) if diagnosis.false_alarm_rate else diagnosis.changed
    return replace(
        diagnosis,
        changed=verdict,
        hypotheses=ordered,
        nothing_wrong=nothing / total,
        cannot_say=_left_open(ordered, nothing / total, made.code),
        summary=(*diagnosis.summary, f"Test {made.code}: {said}"),
        tested=tested,
    )


def _updated(cause: Hypothesis, weight: float, said: str, made: str) -> Hypothesis:
    """With what the test showed, and another test where there is one: that one was made."""
    text = f"the test: {said}"
    other = next((code for code in _tests_of(cause.code) if code != made), made)
    if cause.test == made:
        cause = replace(cause, test=other, next_step=step_of_test(other))
    if weight >= cause.weight:
        return replace(cause, weight=weight, evidence_for=(*cause.evidence_for, text))
    return replace(cause, weight=weight, evidence_against=(*cause.evidence_against, text))


def _tests_of(cause: str) -> list[str]:
    """Tests that say something of a cause, those that show it by itself before those that put it right."""
    shows = [*BARE, "at-feedpoint"] if cause in IN_THE_LINE else []
    reads = [code for code, (*_, read) in READS.items() if read == cause]
    return [*shows, *reads, *(code for code, causes in PUT_RIGHT.items() if cause in causes)]


def _is_proved(odds: Mapping[str, float], causes: tuple[Hypothesis, ...], nothing_wrong: float) -> bool:
    """Whether the test speaks for the one answer that is left more than for something else."""
    weights = {HEALTHY: nothing_wrong} | {one.code: one.weight for one in causes}
    code = max(weights, key=lambda one: weights[one])
    return weights[code] > SETTLED and odds.get(code, odds[ELSE]) > PROVES * odds[ELSE]


def _left_open(causes: tuple[Hypothesis, ...], nothing_wrong: float, made: str) -> str | None:
    """Nothing where one answer is left, else that it is still open and which test is next."""
    if max([nothing_wrong, *(one.weight for one in causes)]) > SETTLED:
        return None
    untried = next((one for one in causes if one.test != made), None)
    if untried is None:
        return "the test leaves it open, and no other test tells these causes apart"
    return (
        f"the test leaves it open; next, {untried.next_step}, and give that sweep with --test {untried.test}"
    )


def _odds(
    made: Made, reviews: tuple[Review, ...], *, kind: str | None, analyzer: Analyzer
) -> tuple[dict[str, float], str]:
    """Factor of each cause, of healthy and of something else, and what the test showed in words."""
    if made.code in PUT_RIGHT:
        return _back_or_not(made, reviews, kind=kind, analyzer=analyzer)
    if made.code in BARE:
        return _bare(made, reviews, analyzer)
    if made.code == "at-feedpoint":
        return _at_feedpoint(made, reviews, kind=kind, analyzer=analyzer)
    right, good, off, cause = READS[made.code]
    gamma = made.review.planes.measured.gamma
    size = float(np.sqrt(np.mean(np.abs(gamma - right) ** 2)))
    sound, wrong = _likely(size, good), _likely(size, off)
    word = "is as it should be" if sound > wrong else "is not as it should be"
    return {HEALTHY: sound, ELSE: sound, cause: wrong}, f"what it reads {word} (off by {size:.3f})"


def _likely(size: float, usual: float) -> float:
    """Rayleigh density of a reflection."""
    return size / usual**2 * exp(-min(size**2 / (2 * usual**2), 300.0))


def _back_or_not(
    made: Made, reviews: tuple[Review, ...], *, kind: str | None, analyzer: Analyzer
) -> tuple[dict[str, float], str]:
    """Whether the curve went back to the good one."""
    if len(reviews) < 2:
        raise BadInput(f"--test {made.code} is held against a good sweep; name it with --baseline")
    before, now = (
        _healthy_log(one.planes.measured, made.review, kind=kind, analyzer=analyzer, told=True)
        for one in reviews[:2]
    )
    back = 1 / (1 + exp(-float(np.clip((before - now), -30, 30))))
    stays = 1 - back
    odds = {code: _shows(UNAWARES, back) for code in CAUSES}
    odds |= dict.fromkeys(COMES_AND_GOES, _shows(BY_ITSELF, back))
    odds |= dict.fromkeys(PUT_RIGHT[made.code], _shows(WORKS, back)) | {HEALTHY: 0.5}
    word = "back to the good one" if back > SETTLED else "no change" if stays > SETTLED else "in between"
    return odds, f"{word} ({100 * back:.0f} % back)"


def _shows(chance: float, back: float) -> float:
    """How likely the sweep of a test is, ``back`` at the good one or not, where a cause is undone so often."""
    return chance * back + (1 - chance) * (1 - back)


def _healthy_log(before: View, made: Review, *, kind: str | None, analyzer: Analyzer, told: bool) -> float:
    """Tempered logarithm of the evidence that nothing lies between but a rung."""
    chain = told_chain(made) if told and made.planes.measured_at != "feedpoint" else None
    log = log_of_nothing_wrong(
        before, made.planes.measured, chain, kind=kind, rung=MADE_ON, analyzer=analyzer
    )
    if log is None:
        raise BadInput(
            "the sweep of the test and the others have too few frequencies in common; sweep the same span"
        )
    return log / TEMPER


def _bare(made: Made, reviews: tuple[Review, ...], analyzer: Analyzer) -> tuple[dict[str, float], str]:
    """What the bare line shows: a fault of its own, or that it is sound and the trouble is beyond it."""
    chain = told_chain(made.review)
    if chain is None:
        raise BadInput(f"--test {made.code} needs the line; name it with --line, such as --line 'RG-58 15 m'")
    acted = act_on_told_line(
        made.review.planes.measured, chain, end=BARE[made.code], analyzer=analyzer, odds={}
    )
    if acted is None:
        raise BadInput(f"the sweep of --test {made.code} has too few points; sweep it again with 51 or more")
    logs: dict[str, float] = {}
    for one in acted.told:
        logs[one.story.code] = max(logs.get(one.story.code, -np.inf), one.fitted.by_rung[0] / TEMPER)
    top = max(logs.values())
    sound = exp(max(logs[HEALTHY] - top, -30.0))
    odds = {code: exp(max(logs[code] - top, -30.0)) if code in logs else sound for code in IN_THE_LINE}
    odds |= {HEALTHY: sound, ELSE: sound, "poor-calibration": exp(max(logs["poor-calibration"] - top, -30.0))}
    best = max(logs, key=lambda code: logs[code])
    word = "is sound" if sound > 0.3 else f"shows {CAUSES[best].title}"
    return odds, f"the bare line {word}"


def _at_feedpoint(
    made: Made, reviews: tuple[Review, ...], *, kind: str | None, analyzer: Analyzer
) -> tuple[dict[str, float], str]:
    """Whether the antenna itself is as it was, seen without the line."""
    chain = told_chain(reviews[0]) if len(reviews) > 1 else None
    if chain is None:
        raise BadInput(
            "--test at-feedpoint needs a good sweep and the line; name them with --baseline and --line"
        )
    logs = []
    for one in reviews[:2]:
        seen = one.planes.measured
        gamma = remove_chain(seen.f_hz, seen.gamma, chain.nominal, reference_ohm=seen.reference_ohm)[0]
        behind = replace(seen, gamma=gamma, known_delay_s=None)
        logs.append(_healthy_log(behind, made.review, kind=kind, analyzer=analyzer, told=False))
    sound = 1 / (1 + exp(-float(np.clip(logs[0] - logs[1], -30, 30))))
    odds = dict.fromkeys((*IN_THE_LINE, "wrong-plane", "poor-calibration"), 0.9 * sound + 0.1 * (1 - sound))
    odds |= {HEALTHY: sound, ELSE: 0.1 * sound + 0.9 * (1 - sound)}
    return odds, f"at the feedpoint the antenna is {'as it was' if sound > 0.5 else 'not as it was'}"
