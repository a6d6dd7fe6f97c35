"""Which causes live on: all acted out on the baseline, or on the line as it was told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from sweepkit.antennas.rungs import WORDS, Rung
from sweepkit.diagnosis.acting.act import Acted, act_on_baseline, act_on_told_line, mean_view
from sweepkit.diagnosis.acting.place import place_of
from sweepkit.diagnosis.acting.stories import HEALTHY, OTHER
from sweepkit.diagnosis.acting.stories import Told as ToldStory
from sweepkit.diagnosis.acting.wider import EXAMPLE, span_that_shows
from sweepkit.diagnosis.answer import Changed, End, Hypothesis
from sweepkit.diagnosis.signatures import ELSE
from sweepkit.diagnosis.told_words import Told
from sweepkit.diagnosis.weigh import SHOWS
from sweepkit.diagnosis.wording import CAUSES, step_of
from sweepkit.feedline.chain import LineChain
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.kit import Analyzer
from sweepkit.quantities import frequency_text
from sweepkit.reviews.review import Review

LEAST_WEIGHT = 0.01  # lighter causes are not named, and count as something else
MOST_CAUSES = 12
# Belief that nothing is wrong, below and above which the answer is yes and no; where nobody tells what lies between the
# highest rung holds much of it up, and more false alarms are taken for fewer questions: our choices
SURE_CHANGE, SURE_UNTOLD, SURE_NONE = 0.1, 0.2, 0.4
# How often each is called changed though nothing was (docs/diagnose.md), bounds on what the fault laboratory showed.
FALSE_ALARM_TOLD, FALSE_ALARM_UNTOLD = 0.03, 0.06
# Findings that acting out does not judge itself: chance of each where its cause holds, and where none does.
TELLING = (
    "interference",
    "jagged",
    "loose-joint",
    "poor-calibration",
    "swr-too-good",
    "reflection-above-one",
)
# Another calibration is off by up to 3 % of what is reflected, and antennas reflect nearly all of it off their dips.
SHOWN, UNEXPLAINED = 0.6, {"swr-too-good": 0.05, "reflection-above-one": 0.05}
HEALTHY_SHOWS = 0.003  # none in 1800 healthy sweeps (docs/sweep-health.md)
SURE_OTHER = (
    0.7  # weight of another antenna from which on causes of this one are not worth naming; our choice
)
MISFIT = 3.0  # what is left over, in units of what is expected, from which on a cause does not fit well
# Current on the coax where sweeps were taken at the feedpoint and nobody speaks of coax: mostly none is there but one
# that was calibrated out; common practice, no source.
NO_COAX = 0.25
PLACED = (1.0, 0.2)  # m, share of the distance: a wider interval asks for a wider span


def act_on_reviews(
    before: Sequence[Review],
    now: Sequence[Review],
    *,
    kind: str | None,
    told: Told,
    rung: Rung | None,
    end: End,
    analyzer: Analyzer,
    beside: Mapping[str, float],
) -> Acted | None:
    """Causes acted out on the sweep before."""
    views = [one.planes.measured for one in now]
    odds = odds_of(told.odds, new_findings(before[0], now[0]))
    at_feedpoint = now[0].planes.measured_at == "feedpoint"
    if at_feedpoint and "common-mode" not in told.odds:
        odds["common-mode"] *= NO_COAX
    return act_on_baseline(
        mean_view([one.planes.measured for one in before]),
        mean_view(views),
        None if at_feedpoint else told_chain(now[0]),
        kind=kind,
        rung=rung,
        end=end,
        analyzer=analyzer,
        odds={code: own * beside.get(code, 1.0) for code, own in odds.items()},
    )


def act_on_bare_line(now: Review, *, told: Told, end: End, analyzer: Analyzer) -> Acted | None:
    """Causes acted out on the line as it was told; ``None`` without one."""
    chain = told_chain(now)
    if chain is None or now.sweep.phase != "signed" or now.planes.measured_at == "feedpoint":
        return None
    odds = odds_of(told.odds, [finding for finding in now.findings if finding.code in TELLING])
    return act_on_told_line(now.planes.measured, chain, end=end, analyzer=analyzer, odds=odds)


def told_chain(one: Review) -> LineChain | None:
    """The line that was told, where there is any of it."""
    chain = one.planes.chain
    return None if chain is None or not chain.chain.pieces else chain.chain


def new_findings(before: Review, now: Review) -> list[Finding]:
    """What the sweep now shows and the one before did not, of what acting out does not judge itself."""
    old = {finding.code for finding in before.findings}
    return [finding for finding in now.findings if finding.code in TELLING and finding.code not in old]


def odds_of(told: Mapping[str, float], findings: Sequence[Finding]) -> dict[str, float]:
    """Factor of each cause from words and findings, healthy among them."""
    codes = {finding.code for finding in findings}
    odds = {}
    for cause in (*CAUSES, HEALTHY):
        factor = told.get(cause, 1.0)
        for code in codes:
            factor *= SHOWN if code in SHOWS.get(cause, ()) else UNEXPLAINED.get(code, HEALTHY_SHOWS)
        odds[cause] = factor
    return odds


def name_causes(
    acted: Acted, *, told: Told, findings: Sequence[Finding], rung: Rung | None
) -> tuple[tuple[Hypothesis, ...], float]:
    """Causes worth naming, heaviest first, and the belief that nothing is wrong; together they add to 1."""
    by_code: dict[str, list[ToldStory]] = defaultdict(list)
    for one in acted.told:
        by_code[one.story.code].append(one)
    weights = {code: sum(one.weight for one in stories) for code, stories in by_code.items()}
    nothing_wrong = weights.pop(HEALTHY)
    ordered = sorted((code for code in weights if code != ELSE), key=lambda code: -weights[code])
    named = [code for code in ordered if weights[code] >= LEAST_WEIGHT][:MOST_CAUSES]
    weights[ELSE] = 1 - nothing_wrong - sum(weights[code] for code in named)
    causes = [
        _hypothesis(code, min(max(weights[code], 0.0), 1.0), by_code[code], acted, told, findings, rung)
        for code in (*named, ELSE)
    ]
    kept = [cause for cause in causes if cause.weight > 0]
    return tuple(sorted(kept, key=lambda cause: -cause.weight)), nothing_wrong


def _hypothesis(
    code: str,
    weight: float,
    stories: Sequence[ToldStory],
    acted: Acted,
    told: Told,
    findings: Sequence[Finding],
    rung: Rung | None,
) -> Hypothesis:
    best = stories[0]
    peaks = best.fitted.peaks
    said = best.story.say(acted.scene, peaks[0].theta[acted.scene.sigmas.size :]) if peaks else ""
    speaks_for = [finding.text for finding in findings if finding.code in SHOWS.get(code, ())]
    speaks_for += [said] if said else []
    if told.odds.get(code, 1.0) > 1:
        speaks_for.append("what you say was changed points here; that is no proof")
    if code == ELSE:
        speaks_for.append("causes outside the table, or several at once, are always possible")
    if not speaks_for:
        speaks_for.append("it is met often enough to live on")
    against = []
    if said and best.fitted.misfit > MISFIT:
        against.append(f"what is left over is {best.fitted.misfit:.0f} times what is usual")
    nothing = next(one.weight for one in acted.told if one.story.code == HEALTHY)
    if nothing > weight:
        between = f" of {WORDS[rung]}" if rung else ""
        against.append(
            f"what nothing wrong leaves{between} explains it too, {100 * nothing:.0f} % to {100 * weight:.0f}"
        )
    place = place_of(acted.scene, list(stories))
    return Hypothesis(
        code, weight, tuple(speaks_for), tuple(against), step_of(code), CAUSES[code].test, place
    )


def judge_change(nothing_wrong: float, *, is_rung_told: bool = True) -> Changed:
    """Whether anything changed, from the belief that nothing did."""
    if nothing_wrong < (SURE_CHANGE if is_rung_told else SURE_UNTOLD):
        return "yes"
    return "no" if nothing_wrong > SURE_NONE else "cannot_say"


def is_other_antenna(causes: Sequence[Hypothesis]) -> bool:
    """Whether nothing else is worth saying: no cause of this antenna holds if the sweeps are of two."""
    return bool(causes) and causes[0].code == OTHER and causes[0].weight > SURE_OTHER


def say_missing(
    causes: Sequence[Hypothesis], nothing_wrong: float, chain: LineChain | None, analyzer: Analyzer
) -> str | None:
    """What would settle it: another file, or a wider sweep of the bare line."""
    if is_other_antenna(causes):
        return (
            "the two sweeps have so little in common that they are hardly of the same antenna; if the one before is "
            "not this antenna nothing of this holds: name a good sweep of this one"
        )
    for cause in causes[:2] if nothing_wrong < SURE_NONE else ():
        if (
            cause.code in EXAMPLE
            and chain is not None
            and (cause.weight < 0.9 or _is_vague(cause.distance_m))
        ):
            stop_hz = span_that_shows(cause.code, chain, analyzer)
            if stop_hz is not None:
                return (
                    f"where in the line, if at all, stays open; take the antenna off, leave the far end open and sweep "
                    f"the line alone from 1 MHz to {frequency_text(stop_hz)} (--far-end open)"
                )
    return None


def _is_vague(place: Figure | None) -> bool:
    if place is None or place.value is None or place.low is None or place.high is None:
        return True
    return place.high - place.low > 2 * max(PLACED[0], PLACED[1] * place.value)


def false_alarm_rate(rung: Rung | None) -> float:
    """How often ``yes`` is said though nothing was wrong. [-]"""
    return FALSE_ALARM_UNTOLD if rung is None else FALSE_ALARM_TOLD
