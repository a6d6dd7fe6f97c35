"""A trim plan as a page: the move first, then what to do, figures, pictures, findings, cautions, provenance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from sweepkit.cautions import ONE_WAY, POWER_OFF
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.plots.look import NARROW
from sweepkit.quantities import FOOT_M, frequency_text, length_text
from sweepkit.report.headline import BARE_ENDS, bare_end_text
from sweepkit.report.page import (
    Grid,
    Page,
    Picture,
    Row,
    Table,
    Tone,
    Verdict,
    figure_row,
    file_title,
    length_row,
    sentence,
    stop_verdicts,
    sweeps_text,
)
from sweepkit.report.picture import as_picture
from sweepkit.report.provenance import Made, list_provenance
from sweepkit.report.review_page import readouts, subtitle
from sweepkit.reviews import Review
from sweepkit.sweep import Sweep
from sweepkit.trim.answer import Action, TrimPlan
from sweepkit.trim.from_sweep import TrimAnswer
from sweepkit.trim.predictions import PastPrediction, predictions_text
from sweepkit.trim.trail import Trail

if TYPE_CHECKING:
    from sweepkit.plots.trimming import TrimStep

SIGNS: dict[Action, str] = {"shorten": "−", "lengthen": "+", "leave": "=", "cannot_say": "?"}
DOING = {"fold": "FOLD", "cut": "CUT", "slide": "SLIDE IN", "add": "ADD"}
LETTING_OUT = {"fold": "UNFOLD", "slide": "SLIDE OUT", "add": "ADD", "cut": "ADD"}
TONES: dict[Action, Tone] = {"shorten": "fair", "lengthen": "fair", "leave": "good", "cannot_say": "unknown"}


def trim_page(
    answer: TrimAnswer,
    *,
    earlier: Sequence[Sweep] = (),
    past: Sequence[PastPrediction] = (),
    made: Made | None = None,
    assumed: tuple[str, ...] = (),
    assumed_in_short: str = "",
    imperial: bool = False,
    pictures: bool = True,
    number: int = 1,
) -> Page:
    """The page of one trim plan, ``past`` being how earlier predictions for this antenna came out.

    A page for a notebook does without ``pictures``; ``number``, of the page among several, keeps their names apart.
    """
    plan, review = answer.plan, answer.review
    seen = review.as_measured()
    return Page(
        title=f"Trim: {file_title(review.sweep.source.path)}",
        subtitle=subtitle(review),
        verdicts=_verdicts(plan, imperial),
        steps=tuple(_steps(plan, imperial)),
        steps_are_more=plan.action != "cannot_say",
        tables=tuple(_tables(answer, past, imperial)),
        pictures=tuple(_pictures(plan, seen, number)) if pictures else (),
        readouts=tuple(readouts(seen)) if pictures else (),
        findings=tuple(finding for finding in plan.findings if _is_first(finding, plan)),
        more_findings=tuple(finding for finding in plan.findings if not _is_first(finding, plan)),
        # all but what stands with the move
        cautions=tuple(one for one in plan.cautions if one != ONE_WAY or plan.first_move.by != "cut")
        or (POWER_OFF,),
        cautions_title="Before you touch it",
        cautions_in_short=None if plan.cautions else "",
        assumed=assumed,
        assumed_in_short=assumed_in_short,
        provenance=list_provenance((review.sweep, *earlier), made or Made()),
    )


def _is_first(finding: Finding, plan: TrimPlan) -> bool:
    """A warning that the answer and its steps do not say already."""
    return finding.level == "warning" and not (plan.action == "cannot_say" and finding.code in BARE_ENDS)


def _verdicts(plan: TrimPlan, imperial: bool) -> tuple[Verdict, ...]:
    """The move; a finding that forbids it comes before it, and after it where it is the reason for none."""
    move = plan.action in ("shorten", "lengthen")
    why = [sentence(plan.reason)]
    doubted = any(finding.code == "kind-unlikely" for finding in plan.findings)
    if move and doubted:
        why.insert(0, "First make sure of the kind: the dip does not look like it (below).")
    if plan.first_move.by == "cut":
        why.insert(0, ONE_WAY)
    if move:
        why.append(
            f"After this move: {_with_interval(plan.after_first_move_hz)}. {sentence(f'where: {plan.where}')}"
        )
    if plan.action == "cannot_say":
        why += sweeps_text(plan.next_sweeps)
    word = headline(plan, imperial=imperial)
    answer = Verdict(SIGNS[plan.action], "", word, tuple(why), TONES[plan.action])
    stops = stop_verdicts(plan.findings)
    return (answer, *stops) if plan.action == "cannot_say" else (*stops, answer)


def headline(plan: TrimPlan, *, imperial: bool = False) -> str:
    """The move in one line."""
    if plan.action == "cannot_say":
        return f"CANNOT SAY how much: {_bare_end(plan, imperial) or _kind_first(plan) or 'sweep again'}."
    if plan.action == "leave":
        return "LEAVE IT AS IT IS."
    move = plan.first_move
    verb = (DOING if move.m < 0 else LETTING_OUT)[move.by]
    joined = {"CUT": "off", "ADD": "to"}.get(verb, "on" if move.by == "fold" else "at")
    return f"{verb} {length_text(abs(move.m), imperial=imperial)} {joined} {_each(plan)}."


def _bare_end(plan: TrimPlan, imperial: bool) -> str:
    """``the line is open 12.8 m away`` where the sweep is that of a bare line."""
    at = ((finding.code, finding.distance_m) for finding in plan.findings)
    texts = (
        bare_end_text(code, None if distance is None else distance.value, imperial=imperial)
        for code, distance in at
    )
    return next(filter(None, texts), "")


def _kind_first(plan: TrimPlan) -> str:
    """Where the kind is in doubt."""
    is_doubted = any(one.code == "kind-unlikely" and one.level == "stop" for one in plan.findings)
    return "make sure of the kind first" if is_doubted else ""


def _each(plan: TrimPlan) -> str:
    return f"each {plan.part}" if plan.parts == 2 else f"the {plan.part}"


def _steps(plan: TrimPlan, imperial: bool) -> Iterator[str]:
    """What to do next; every change starts with the radio off."""
    if plan.action == "leave":
        yield from sweeps_text(plan.next_sweeps)
        return
    if plan.action == "cannot_say":
        bare = [sentence(finding.next_step) for finding in plan.findings if finding.code in BARE_ENDS]
        yield from bare or ["Radio off and disconnected, analyzer on."]
        yield from sweeps_text(plan.next_sweeps)
        return
    yield POWER_OFF
    if plan.first_move.by == "cut":
        yield "Fold the same length first, if the wire allows it, and sweep; cut once the fold has shown the way."
    yield f"{headline(plan, imperial=imperial).rstrip('.').capitalize()}, {plan.where}."
    yield "Put it up as it was, hands off, and sweep again over the same span."
    yield from sweeps_text(plan.next_sweeps)
    yield (
        "Then ask again with the new sweep, the length it has then, and this sweep as --earlier: the next answer "
        "learns from it."
    )


def _tables(answer: TrimAnswer, past: Sequence[PastPrediction], imperial: bool) -> Iterator[Table | Grid]:
    plan = answer.plan
    place = "" if answer.review.planes.feedpoint is None else " at the feedpoint"
    yield Table(f"Dip{place}, and move", tuple(_rows(plan, imperial)))
    if past:
        yield _predictions(past)
    if plan.trail is not None and plan.trail.earlier:
        yield _earlier(plan, plan.trail, imperial)


def _rows(plan: TrimPlan, imperial: bool) -> Iterator[Row]:
    yield figure_row("dip now", plan.now_hz, "MHz", ".3f", scale=1e-6)
    target = Row("target", frequency_text(plan.target_hz), "", more=plan.action == "leave")
    if plan.now_hz.value is None:
        yield target
        return
    yield length_row(f"to the target, on {_each(plan)}, in all", plan.change_m, imperial)
    yield target
    if plan.first_move.by != "none":
        move = plan.first_move
        text = length_text(move.m, imperial=imperial)
        yield Row(f"first move, {move.by}, on {_each(plan)}", text, "", more=True)
        after = figure_row("dip after it", plan.after_first_move_hz, "MHz", ".3f", scale=1e-6)
        yield replace(after, more=True)
    together = ", both parts together" if plan.parts == 2 else ""
    shift = plan.sensitivity_hz_per_m
    yield figure_row(f"kHz per cm longer{together}", shift, "", ".2f", scale=1e-5)
    if imperial:
        yield figure_row(f"kHz per inch longer{together}", shift, "", ".1f", scale=FOOT_M / 12e3)
    yield Row("earlier sweeps learned from", str(plan.learned_from), "", more=True)
    yield Row("answer to length from", plan.known_from, "", more=not plan.learned_from)


def _predictions(past: Sequence[PastPrediction]) -> Grid:
    """How far the tool was off before."""
    rows = [
        (
            f"{each.sweep}",
            _with_interval(each.predicted_hz),
            _with_interval(each.dip_hz),
            f"{each.off_hz / 1e3:+.0f} kHz",
        )
        for each in past
    ]
    title = sentence(predictions_text(past).rstrip("."))
    return Grid(title, ("sweep", "predicted", "dip then", "off by"), tuple(rows))


def _earlier(plan: TrimPlan, trail: Trail, imperial: bool) -> Grid:
    """How the wire came to be what it is."""
    rows = [
        (
            file_title(past.name),
            length_text(past.length_m, imperial=imperial),
            _with_interval(past.dip_hz),
            past.by,
            "yes" if past.is_learned_from else "no, it contradicts the others",
        )
        for past in trail.earlier
    ]
    now = ("now", length_text(trail.present_m, imperial=imperial), _with_interval(plan.now_hz), "", "")
    return Grid(
        "Sweeps of this antenna, oldest first",
        (
            "sweep",
            f"{plan.part}, feed to turning point",
            "dip, 95 % interval",
            "then changed by",
            "learned from",
        ),
        (*rows, now),
        more=True,
    )


def _pictures(plan: TrimPlan, seen: Review, number: int) -> Iterator[Picture]:
    """How the dip goes with the length, and the sweep itself with the target."""
    from sweepkit.report.review_pictures import review_pictures

    prefix = f"p{number}"
    if plan.trail is not None:
        from sweepkit.plots.trimming import plot_trim

        steps, predicted = _trim_steps(plan, plan.trail)
        length_m, dip_hz = plan.trail.line()
        figure = plot_trim(
            steps,
            target_hz=plan.target_hz,
            line_m=length_m,
            line_hz=dip_hz,
            predicted=predicted,
            size=NARROW,
            titled=False,
        )
        words = _in_words(steps, predicted, plan)
        note = _marks(len(steps) > 1, predicted is not None)
        yield as_picture(figure, f"{prefix}-trim", "Dip over length, with 95 % intervals", words, note=note)
    yield from review_pictures(seen, prefix=prefix, only_swr=True, target_hz=plan.target_hz)


def _marks(has_earlier: bool, has_move: bool) -> str:
    """What each line and mark of the picture is, in words that ask for no colour."""
    discs = "Discs: the sweeps" if has_earlier else "Disc: the sweep"
    diamond = "; diamond: where the first move should bring it" if has_move else ""
    return (
        f"{discs}{diamond}; strokes through them: 95 % intervals. Solid line: how the dip answers to length, its 95 % "
        "interval shaded. Level dashed line: the target."
    )


def _trim_steps(plan: TrimPlan, trail: Trail) -> tuple[list[TrimStep], TrimStep | None]:
    """Sweeps so far, and where the first move should lead."""
    from sweepkit.plots.trimming import TrimStep

    steps = [
        TrimStep(
            past.length_m,
            past.dip_hz,
            file_title(past.name) + ("" if past.is_learned_from else ", not learned from"),
            past.is_learned_from,
        )
        for past in trail.earlier
    ]
    steps.append(TrimStep(trail.present_m, plan.now_hz, "now"))
    if plan.first_move.by == "none":
        return steps, None
    after = f"{plan.first_move.by} {length_text(abs(plan.first_move.m))}"
    return steps, TrimStep(trail.present_m + plan.first_move.m, plan.after_first_move_hz, after)


def _in_words(steps: Sequence[TrimStep], predicted: TrimStep | None, plan: TrimPlan) -> str:
    """The picture for those who do not see it."""
    said = [
        f"{step.name}: {length_text(step.length_m)}, dip {_with_interval(step.dip_hz)}"
        for step in (*steps, *([predicted] if predicted else []))
    ]
    return f"Dip over length of each part. {'; '.join(said)}. Target {frequency_text(plan.target_hz)}."


def _with_interval(figure: Figure) -> str:
    return figure.text(".3f", "MHz", scale=1e-6)
