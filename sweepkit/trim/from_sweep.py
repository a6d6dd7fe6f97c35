"""The whole way from sweeps to the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sweepkit.antennas.catalogue import kind_named
from sweepkit.antennas.kind import Kind, Known, Move
from sweepkit.errors import BadInput
from sweepkit.findings import Finding
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit, as_kit
from sweepkit.lines import LinePiece
from sweepkit.plain_types import record
from sweepkit.reviews.check_sweeps import CheckSweeps
from sweepkit.reviews.line import NO_RESONANCE
from sweepkit.reviews.outing import learn_outing
from sweepkit.reviews.review import Review, file_json
from sweepkit.sweep import Place, Sweep
from sweepkit.trim.aim import Aim
from sweepkit.trim.answer import TrimPlan
from sweepkit.trim.folds import Lie
from sweepkit.trim.no_answer import SWEEP_AGAIN, cannot_say, nothing_to_trim, sweep_to_take
from sweepkit.trim.notices import doubt_kind
from sweepkit.trim.plan import plan_from_dips
from sweepkit.trim.seen import SeenSweep, see_earlier
from sweepkit.trim.wire import EarlierState
from sweepkit.trim.wish import Already, NoPlan, OwnAnswer, Wish

SCHEMA = "sweepkit/trim/1"
AS_SWEPT = ": the move rests on the dip as it was swept"
# Findings of the review that trimming does not ask about
FILE_ONLY = ("span-too-narrow", "dip-at-edge", "line-not-excluded")


@dataclass(frozen=True, eq=False)
class TrimAnswer:
    """The plan and the review it rests on."""

    plan: TrimPlan
    review: Review

    def to_json(self) -> dict[str, Any]:
        """The answer as promised."""
        return {"schema": SCHEMA, "file": file_json(self.review.sweep)} | record(self.plan)


def plan_trim(
    sweep: Sweep,
    *,
    kind: str | Kind,
    length_m: float,
    target_hz: float | None = None,
    band_hz: tuple[float, float] | None = None,
    by: Move | None = None,
    tail_m: float | None = None,
    lies: Lie | None = None,
    known: Known | None = None,
    must_work_wet: bool = False,
    own: tuple[OwnAnswer, ...] = (),
    earlier: Sequence[tuple[EarlierState, Sweep]] = (),
    kit: Kit | str | Path | None = None,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: Place = "unknown",
    checks: CheckSweeps | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
) -> TrimAnswer:
    """How much to trim one antenna.

    ``length_m`` goes from the feed to the turning point of each trimmed part; ``band_hz``, in place of ``target_hz``,
    is to have the lowest worst SWR. ``must_work_wet``: aim higher by half of what water moves a wire; by a fold or a
    slide, which can be let out again. ``own`` is what changes of it did at other outings; ``earlier`` are sweeps of the
    same antenna behind the same line, oldest first; ``checks`` are of the analyzer's own standards.

    What cannot be is a ``BadInput``: a length that belongs to no dip, a target too far away, lengths that contradict.
    """
    try:
        return _plan_trim(
            sweep,
            kind_named(kind) if isinstance(kind, str) else kind,
            _Asked(length_m, target_hz, band_hz, by, tail_m, lies, known or Known(), must_work_wet, own),
            earlier,
            as_kit(kit),
            {"lines": lines, "measured_at": measured_at, "checks": checks, "draws": draws, "seed": seed},
        )
    except BadInput as error:
        error.path = error.path or sweep.source.path or None
        raise


@dataclass(frozen=True)
class _Asked:
    """What was asked, as :func:`plan_trim` takes it."""

    length_m: float
    target_hz: float | None
    band_hz: tuple[float, float] | None
    by: Move | None
    tail_m: float | None
    lies: Lie | None
    known: Known
    must_work_wet: bool
    own: tuple[OwnAnswer, ...]


def _plan_trim(
    sweep: Sweep,
    kind: Kind,
    asked: _Asked,
    earlier: Sequence[tuple[EarlierState, Sweep]],
    kit: Kit,
    look: dict[str, Any],
) -> TrimAnswer:
    target_hz, band_hz = asked.target_hz, asked.band_hz
    if (target_hz is None) == (band_hz is None):
        raise BadInput("give either a target frequency or a band or segment, and only one of them")
    look = look | {"kit": kit}
    outing = learn_outing([sweep, *(then for _, then in earlier)], **look)
    look = look | {"outing": outing}
    seen = SeenSweep.of(sweep, look)
    middle_hz = target_hz or float(np.sqrt(np.prod(band_hz or (1.0, 1.0))))
    if kind.answer is None:
        return TrimAnswer(nothing_to_trim(kind, middle_hz), seen.review)
    aim = Aim(middle_hz, None, ()) if band_hz is None else Aim.for_band(seen, band_hz, kind, asked.length_m)
    by = asked.by or kind.move
    if asked.must_work_wet:
        if by == "cut":
            raise BadInput(
                "a margin for rain is folded, not cut, so that it can be let out again; say --by fold"
            )
        aim = aim.raised_for_rain()
    limit_swr = seen.review.limit_swr
    already = Already(aim.good_enough, seen.swr_at(aim.target_hz))
    wish = Wish(
        kind,
        asked.length_m,
        aim.target_hz,
        by,
        asked.tail_m,
        asked.lies,
        asked.known,
        limit_swr=limit_swr,
        own=asked.own,
    )
    stopped = seen.stops
    if stopped or not seen.dips:
        why = stopped[0].text if stopped else "no dip stands out in this sweep"
        return TrimAnswer(cannot_say(wish, why, seen), seen.review)
    if doubt := _doubted(seen, kind):
        none = cannot_say(wish, f"it does not look like {kind.title}", seen)
        findings = (doubt, *none.findings)
        return TrimAnswer(replace(none, findings=findings, next_sweeps=()), seen.review)
    plan = plan_from_dips(
        seen.dips,
        wish,
        earlier=tuple(see_earlier(state, then, look) for state, then in earlier),
        span_hz=seen.span_hz,
        already=already,
        with_interval=look["draws"] > 0,
        seed=look["seed"],
    )
    if isinstance(plan, NoPlan):
        return TrimAnswer(cannot_say(wish, plan.reason, seen, plan.dip), seen.review)
    apart = () if outing is None or outing.finding is None else (outing.finding,)
    return TrimAnswer(_with_review(plan, wish, seen, (*aim.findings, *apart)), seen.review)


def _doubted(seen: SeenSweep, kind: Kind) -> Finding | None:
    """A kind that two dips or more speak against, at a feedpoint that is known and not contradicted."""
    if seen.review.planes.feedpoint is None or any(
        finding.code in ("wrong-plane", "line-likely") for finding in seen.review.findings
    ):
        return None
    return doubt_kind(seen.dips, kind.usual.resonance, kind.title)


def _with_review(plan: TrimPlan, wish: Wish, seen: SeenSweep, more: tuple[Finding, ...]) -> TrimPlan:
    """The plan with what the review of the sweep has to say, and the sweep to take where a better one is wanted."""
    hidden = FILE_ONLY if plan.unsure is None else SWEEP_AGAIN
    told = tuple(finding for finding in seen.review.findings if finding.code not in hidden)
    next_sweeps = () if plan.unsure is None else (sweep_to_take(wish, plan.unsure, seen),)
    findings = _plane_first((*plan.findings, *more, *told))
    return replace(plan, findings=findings, next_sweeps=next_sweeps)


def _plane_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """A contradicted plane comes first, and says why the dip does not look like the kind; the dip is used."""
    plane = [
        replace(finding, text=finding.text.replace(NO_RESONANCE, AS_SWEPT))
        for finding in findings
        if finding.code == "wrong-plane"
    ]
    beside = ("wrong-plane", "kind-unlikely") if plane else ()
    return (*plane, *(finding for finding in findings if finding.code not in beside))
