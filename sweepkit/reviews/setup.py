"""Several sweeps of one setup, say one per band: one answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sweepkit.antennas.rungs import Rung
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.reviews.bands import BandFigures
from sweepkit.reviews.common_dip import find_disagreement
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.reviews.outing import learn_outing
from sweepkit.reviews.plane import DipFigures, Plane, ResonanceFigures
from sweepkit.reviews.review import Review, review
from sweepkit.reviews.summary import summarise
from sweepkit.sweep import Sweep

SAME_SHARE = 0.005  # dips of two sweeps nearer than this, of their frequency, are one dip [-]
COVERED_SHARE = 0.5  # a sweep to take is taken where another covers so much of it, its middle included
COARSER = 1.5  # with a step no longer than so many times the one asked for
OF_THE_SWEEP = ("too-coarse", "dip-at-edge", "span-too-narrow")  # findings that another sweep can settle


def review_setup(sweeps: Sequence[Sweep], **known: Any) -> Review:
    """One answer from several sweeps of one setup, all with phase or all without.

    Each band is judged on the sweep that covers it best, each dip comes from the sweep with the finest step round it.
    The answer is good enough where every sweep is, or another one of the setup already is the sweep to take.
    """
    if not sweeps:
        raise BadInput("a setup has at least one sweep; name its files")
    _check_phases(sweeps)
    outing = learn_outing(sweeps, **known)
    answers = [_reviewed(sweep, known | {"outing": outing}) for sweep in sweeps]
    if len(answers) == 1:
        return answers[0]
    answers, odd = of_one_state(answers, sweeps)
    odd += () if outing is None or outing.finding is None else (outing.finding,)
    if len(answers) == 1:
        return replace(answers[0], findings=(*odd, *answers[0].findings))
    missing = [_missing(answer, answers) for answer in answers]
    return replace(
        answers[0],
        radio=_joined([(answer.radio, _step_hz(answer)) for answer in answers]),
        feedpoint=_joined([(answer.feedpoint, _step_hz(answer)) for answer in answers]),
        bands=_best_bands(answers),
        adequate=not any(missing),
        next_sweeps=tuple(dict.fromkeys(sweep for lacking in missing for sweep in lacking)),
        findings=odd
        + tuple(
            finding
            for answer, lacking in zip(answers, missing, strict=True)
            for finding in _named(answer, settled=not lacking)
        ),
        sweeps=tuple(answer.sweep for answer in answers),
        parts=tuple(answers),
    )


def of_one_state(
    answers: list[Review], sweeps: Sequence[Sweep], *, rung: Rung = "joined-anew"
) -> tuple[list[Review], tuple[Finding, ...]]:
    """The sweeps that agree with the last one, and what the others say: dips too far apart are of other states."""
    names = [sweep.source.name or f"sweep {number}" for number, sweep in enumerate(sweeps, start=1)]
    figures = [summarise(answer) for answer in answers]
    kept, odd = [len(answers) - 1], []
    for k in reversed(range(len(answers) - 1)):
        apart = [
            found
            for m in kept
            if (
                found := find_disagreement(
                    figures[k], figures[m], (names[k], names[m]), body="wire", rung=rung
                )
            )
            is not None
        ]
        if apart:
            odd.append(apart[0])
        else:
            kept.append(k)
    findings = tuple(
        Finding(
            "disagreeing-sweeps",
            "warning",
            f"{one.text}; {one.a} is left out",
            "review them one by one, or name sweeps of one state only",
        )
        for one in reversed(odd)
    )
    return [answers[k] for k in sorted(kept)], findings


def _reviewed(sweep: Sweep, known: dict[str, Any]) -> Review:
    try:
        return review(sweep, **known)
    except BadInput as error:
        error.path = error.path or sweep.source.path or None
        raise


def _check_phases(sweeps: Sequence[Sweep]) -> None:
    first = sweeps[0]
    for sweep in sweeps[1:]:
        if sweep.phase != first.phase:
            raise BadInput(
                f"the phase of this sweep is {sweep.phase}, that of the setup's first {first.phase}; one answer "
                "needs all alike; review them one by one, or export all with phase",
                path=sweep.source.path or None,
            )


def _missing(answer: Review, answers: Sequence[Review]) -> tuple[NextSweep, ...]:
    """Sweeps to take that no other sweep of the setup already is."""
    return tuple(
        wanted
        for wanted in answer.next_sweeps
        if not any(_is_taken(wanted, other) for other in answers if other is not answer and other.adequate)
    )


def _is_taken(wanted: NextSweep, other: Review) -> bool:
    f_hz = other.planes.measured.f_hz
    low_hz, high_hz = max(wanted.start_hz, float(f_hz[0])), min(wanted.stop_hz, float(f_hz[-1]))
    span_hz = wanted.stop_hz - wanted.start_hz
    return (
        low_hz <= wanted.start_hz + span_hz / 2 <= high_hz
        and high_hz - low_hz >= COVERED_SHARE * span_hz
        and _step_hz(other) <= COARSER * span_hz / (wanted.points - 1)
    )


def _step_hz(answer: Review) -> float:
    return answer.planes.measured.step_hz


def _best_bands(answers: Sequence[Review]) -> tuple[BandFigures, ...]:
    """Each band once: where it is known what may be done, then best covered, then finest step."""
    best: dict[str, tuple[tuple[bool, float, float], BandFigures]] = {}
    for answer in answers:
        for band in answer.bands:
            rank = (band.verdict != "unknown", band.covered, -_step_hz(answer))
            if band.name not in best or rank > best[band.name][0]:
                best[band.name] = (rank, band)
    return tuple(sorted((band for _, band in best.values()), key=lambda band: band.low_hz))


def _joined(planes: Sequence[tuple[Plane | None, float]]) -> Plane | None:
    """Planes of several sweeps as one, finest step first; dips deepest first, widths renumbered."""
    known = sorted(
        ((plane, step_hz) for plane, step_hz in planes if plane is not None), key=lambda pair: pair[1]
    )
    if not known:
        return None
    dips: list[tuple[DipFigures, list[Any]]] = []
    resonances: list[ResonanceFigures] = []
    for plane, step_hz in known:
        finer_dips = [dip.f_hz for dip, _ in dips]
        for number, dip in enumerate(plane.dips):
            if not any(_is_same(dip.f_hz, finer, step_hz) for finer in finer_dips):
                dips.append((dip, [width for width in plane.swr_bandwidths if width.dip == number]))
        finer_resonances = [resonance.f_hz for resonance in resonances]
        for resonance in plane.resonances:
            if not any(_is_same(resonance.f_hz, finer, step_hz) for finer in finer_resonances):
                resonances.append(resonance)
    dips.sort(key=lambda pair: pair[0].swr.value or float("inf"))
    widths = [replace(width, dip=number) for number, (_, own) in enumerate(dips) for width in own]
    return Plane(
        tuple(dip for dip, _ in dips),
        tuple(sorted(resonances, key=lambda resonance: resonance.f_hz.value or 0.0)),
        tuple(widths),
    )


def _is_same(coarse: Figure, fine: Figure, step_hz: float) -> bool:
    """Whether two sweeps mean the same: near, within a step of the coarser one, or intervals that meet."""
    if coarse.value is None or fine.value is None:
        return False
    if abs(coarse.value - fine.value) <= max(SAME_SHARE * fine.value, step_hz):
        return True
    if coarse.low is None or coarse.high is None or fine.low is None or fine.high is None:
        return False
    return coarse.low <= fine.high and fine.low <= coarse.high


def _named(answer: Review, *, settled: bool) -> list[Finding]:
    """Findings that say which sweep they are about, without those that another sweep has settled."""
    name = answer.sweep.source.name
    return [
        replace(finding, text=f"{name}: {finding.text}" if name else finding.text)
        for finding in answer.findings
        if not (settled and not answer.adequate and finding.code in OF_THE_SWEEP)
    ]
