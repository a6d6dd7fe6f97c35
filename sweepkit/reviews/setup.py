"""Several sweeps of one setup, say one per band: one answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sweepkit.errors import BadInput
from sweepkit.findings import Finding
from sweepkit.reviews.bands import BandFigures
from sweepkit.reviews.plane import DipFigures, Plane, ResonanceFigures
from sweepkit.reviews.review import Review, review
from sweepkit.sweep import Sweep

SAME_SHARE = 0.005  # dips of two sweeps nearer than this, of their frequency, are one dip [-]


def review_setup(sweeps: Sequence[Sweep], **known: Any) -> Review:
    """One answer from several sweeps of one setup.

    Each band is judged on the sweep that covers it best, each dip comes from the sweep with the finest step
    round it, and the answer is good enough only where every sweep is.

    Parameters
    ----------
    sweeps : sequence of Sweep
        One or more.
    **known
        As for :func:`sweepkit.reviews.review`.

    Raises
    ------
    BadInput
        No sweep at all, or what :func:`sweepkit.reviews.review` refuses.
    """
    if not sweeps:
        raise BadInput("a setup has at least one sweep; name its files")
    answers = [_reviewed(sweep, known) for sweep in sweeps]
    if len(answers) == 1:
        return answers[0]
    next_sweeps = tuple(dict.fromkeys(sweep for answer in answers for sweep in answer.next_sweeps))
    return replace(
        answers[0],
        radio=_joined([(answer.radio, _step_hz(answer)) for answer in answers]),
        feedpoint=_joined([(answer.feedpoint, _step_hz(answer)) for answer in answers]),
        bands=_best_bands(answers),
        adequate=all(answer.adequate for answer in answers),
        next_sweeps=next_sweeps,
        findings=tuple(finding for answer in answers for finding in _named(answer)),
        sweeps=tuple(sweeps),
        parts=tuple(answers),
    )


def _reviewed(sweep: Sweep, known: dict[str, Any]) -> Review:
    try:
        return review(sweep, **known)
    except BadInput as error:
        error.path = error.path or sweep.source.path or None
        raise


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
    for plane, _ in known:
        for number, dip in enumerate(plane.dips):
            if not any(_is_same(dip.f_hz.value, other.f_hz.value) for other, _ in dips):
                dips.append((dip, [width for width in plane.swr_bandwidths if width.dip == number]))
        for resonance in plane.resonances:
            if not any(_is_same(resonance.f_hz.value, other.f_hz.value) for other in resonances):
                resonances.append(resonance)
    dips.sort(key=lambda pair: pair[0].swr.value or float("inf"))
    widths = [replace(width, dip=number) for number, (_, own) in enumerate(dips) for width in own]
    return Plane(
        tuple(dip for dip, _ in dips),
        tuple(sorted(resonances, key=lambda resonance: resonance.f_hz.value or 0.0)),
        tuple(widths),
    )


def _is_same(one_hz: float | None, other_hz: float | None) -> bool:
    return one_hz is not None and other_hz is not None and abs(one_hz - other_hz) <= SAME_SHARE * other_hz


def _named(answer: Review) -> list[Finding]:
    """Findings that say which sweep they are about."""
    name = answer.sweep.source.path.replace("\\", "/").rsplit("/", 1)[-1]
    return [
        replace(finding, text=f"{name}: {finding.text}" if name else finding.text)
        for finding in answer.findings
    ]
