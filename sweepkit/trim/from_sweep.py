"""The whole way from sweeps to the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sweepkit.antennas.catalogue import kind_named
from sweepkit.antennas.kind import Kind, Known, Move
from sweepkit.antennas.which import expected_hz
from sweepkit.errors import BadInput
from sweepkit.feedline.likely import guess_line
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.instrument import DEFAULT_DRAWS
from sweepkit.kit import Kit, read_kit
from sweepkit.lines import LinePiece
from sweepkit.quantities import frequency_text
from sweepkit.reviews.next_sweep import NextSweep, sweep_across
from sweepkit.reviews.review import Review, review
from sweepkit.sweep import Place, Sweep
from sweepkit.trim.answer import TrimPlan
from sweepkit.trim.band_target import best_scale
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.dips_of_view import dips_of_view
from sweepkit.trim.folds import Lie
from sweepkit.trim.move import FirstMove
from sweepkit.trim.plan import Already, EarlierSweep, NoPlan, Wish, plan_from_dips
from sweepkit.trim.wire import EarlierState

# What a matched line of unknown length does to the dip: 0.06 % in the middle, 0.3 % for one in ten (wire
# models behind 15 to 30 m); much less where the sweep shows no delay.
UNKNOWN_LINE_SIGMA = 0.002
NO_LINE_SEEN_SIGMA = 0.0005
SWEEP_REACH = 0.10  # the sweep to take reaches this far beyond dip and target
VAGUE = 0.3  # spread of ln(length) beyond which a length does not say where the dip is
NARROW_WIDTH = 0.006  # SWR-2 width of a short loaded whip over its frequency; modelled range 0.5 to 6 %
STOPS = ("jagged", "open-line", "shorted-line")  # findings after which no dip is believed
FILE_ONLY = ("span-too-narrow", "dip-at-edge")  # findings of the review that trimming does not ask about


@dataclass(frozen=True, eq=False)
class TrimAnswer:
    """The plan and the review it rests on."""

    plan: TrimPlan
    review: Review

    def to_json(self) -> dict[str, Any]:
        """The answer as promised."""
        return self.plan.to_json(self.review.to_json()["file"])


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
    earlier: Sequence[tuple[EarlierState, Sweep]] = (),
    kit: Kit | str | Path | None = None,
    lines: Sequence[LinePiece | str] | None = None,
    measured_at: Place = "unknown",
    draws: int = DEFAULT_DRAWS,
    seed: int = 0,
) -> TrimAnswer:
    """How much to trim one antenna.

    Parameters
    ----------
    sweep : Sweep
        Its present sweep.
    kind : str or Kind
        Kind of antenna.
    length_m : float
        Feed to turning point of each trimmed part. [m]
    target_hz : float, optional
        Where the dip is to go. [Hz]
    band_hz : (float, float), optional
        Band or segment that is to have the lowest worst SWR; in place of ``target_hz``. [Hz]
    by : {"fold", "cut", "slide"}, optional
        How it is done; the kind's usual way where not said.
    tail_m : float, optional
        Tail that each part carries. [m]
    lies : "contact", "taped" or a spacing [m], optional
        How a folded tail lies.
    known : Known, optional
        What else is known of the antenna.
    earlier : sequence of (EarlierState, Sweep)
        Earlier sweeps of the same antenna behind the same line, oldest first.
    kit, lines, measured_at, draws, seed
        As for :func:`sweepkit.reviews.review`.

    Returns
    -------
    TrimAnswer
        The plan.

    Raises
    ------
    BadInput
        What cannot be: a length that belongs to no dip, a target too far away, lengths that contradict.
    """
    kind = kind_named(kind) if isinstance(kind, str) else kind
    kit = kit if isinstance(kit, Kit) else Kit() if kit is None else read_kit(kit)
    if (target_hz is None) == (band_hz is None):
        raise BadInput("give either a target frequency or a band or segment, and only one of them")
    look = {"kit": kit, "lines": lines, "measured_at": measured_at, "draws": draws, "seed": seed}
    seen = _Seen.of(sweep, look)
    middle_hz = target_hz or float(np.sqrt(np.prod(band_hz or (1.0, 1.0))))
    if kind.answer is None:
        return TrimAnswer(_nothing_to_trim(kind, middle_hz), seen.review)
    aim = _Aim(middle_hz, None, ()) if band_hz is None else _Aim.for_band(seen, band_hz, kind, length_m)
    limit_swr = seen.review.limit_swr
    already = Already(aim.good_enough, seen.swr_at(aim.target_hz))
    wish = Wish(
        kind, length_m, aim.target_hz, by or kind.move, tail_m, lies, known or Known(), limit_swr=limit_swr
    )
    stopped = [finding for finding in seen.review.findings if finding.code in STOPS]
    if stopped or not seen.dips:
        why = stopped[0].text if stopped else "no dip stands out in this sweep"
        return TrimAnswer(_cannot_say(wish, why, seen), seen.review)
    plan = plan_from_dips(
        seen.dips,
        wish,
        earlier=tuple(_earlier(state, then, look) for state, then in earlier),
        span_hz=seen.span_hz,
        already=already,
        with_interval=draws > 0,
        seed=seed,
    )
    if isinstance(plan, NoPlan):
        return TrimAnswer(_cannot_say(wish, plan.reason, seen, plan.dip), seen.review)
    return TrimAnswer(_with_review(plan, wish, seen, aim.findings), seen.review)


@dataclass(frozen=True, eq=False)
class _Seen:
    """A sweep reviewed, and its dips at the plane that is tuned."""

    review: Review
    dips: tuple[DipEnsemble, ...]
    points_choices: tuple[int, ...] | None

    @classmethod
    def of(cls, sweep: Sweep, look: dict[str, Any]) -> _Seen:
        reviewed = review(sweep, bands=(), **look)
        view = reviewed.planes.feedpoint
        sigma = 0.0
        if view is None:
            view = reviewed.planes.measured
            none_seen = view.phase == "signed" and guess_line(view.f_hz, view.gamma).answer == "none seen"
            sigma = NO_LINE_SEEN_SIGMA if none_seen else UNKNOWN_LINE_SIGMA
        dips = dips_of_view(view, extra_sigma=sigma, seed=look["seed"])
        if sigma == UNKNOWN_LINE_SIGMA:
            dips = tuple(dip.without_shape() for dip in dips)
        return cls(reviewed, dips, look["kit"].analyzer.points)

    @property
    def span_hz(self) -> tuple[float, float]:
        f_hz = self.review.planes.measured.f_hz
        return float(f_hz[0]), float(f_hz[-1])

    def swr_at(self, f_hz: float) -> float | None:
        """SWR of the measured curve where it is measured; ``None`` outside the sweep."""
        view = self.review.planes.measured
        if not view.f_hz[0] <= f_hz <= view.f_hz[-1]:
            return None
        size = min(float(np.interp(f_hz, view.f_hz, np.abs(view.gamma))), 0.999)
        return (1 + size) / (1 - size)


@dataclass(frozen=True)
class _Aim:
    """Target frequency, why nothing needs doing, and what was noticed on the way."""

    target_hz: float
    good_enough: str | None
    findings: tuple[Finding, ...]

    @classmethod
    def for_band(cls, seen: _Seen, band_hz: tuple[float, float], kind: Kind, length_m: float) -> _Aim:
        from sweepkit.antennas.which import choose_dip

        low_hz, high_hz = band_hz
        words = f"{frequency_text(low_hz)} to {frequency_text(high_hz)}"
        found = best_scale(seen.review.planes, low_hz, high_hz)
        limit = seen.review.limit_swr
        good = None
        if found.worst_now is not None and found.worst_now <= limit:
            good = f"SWR is {found.worst_now:.2f} or less from {words} already; {limit:g} was asked for"
        middle_hz = float(np.sqrt(low_hz * high_hz))
        if not seen.dips:
            return cls(middle_hz, good, ())
        choice = choose_dip(kind, length_m, [dip.measured_hz for dip in seen.dips])
        if found.scale is None or choice.number is None:
            aimed = Finding(
                "band-not-swept",
                "note",
                f"the sweep does not show enough of the curve to fit it to {words}; the dip is aimed at the "
                "middle",
                "sweep at least the width of the band to both sides of the dip",
            )
            return cls(middle_hz, good, (aimed,))
        target_hz = seen.dips[choice.number].measured_hz * found.scale
        reached = Finding(
            "band-target",
            "note",
            f"with the dip at {frequency_text(target_hz)} the worst SWR from {words} will be about "
            f"{found.worst_then:.2f}",
            "",
        )
        return cls(target_hz, good, (reached,))


def _earlier(state: EarlierState, sweep: Sweep, look: dict[str, Any]) -> EarlierSweep:
    dips = _Seen.of(sweep, look).dips
    if not dips:
        raise BadInput(
            f"--earlier {state.name}: no dip stands out in this sweep; leave it out, or take a better one",
            path=sweep.source.path or None,
        )
    return EarlierSweep(dips, state)


def _with_review(plan: TrimPlan, wish: Wish, seen: _Seen, more: tuple[Finding, ...]) -> TrimPlan:
    """The plan with what the review of the sweep has to say."""
    told = tuple(finding for finding in seen.review.findings if finding.code not in FILE_ONLY)
    return replace(plan, findings=(*plan.findings, *more, *told))


def _cannot_say(wish: Wish, why: str, seen: _Seen, dip: DipEnsemble | None = None) -> TrimPlan:
    """No answer, and the sweep to take."""
    return TrimPlan(
        action="cannot_say",
        reason=why,
        now_hz=Figure.none(why),
        target_hz=wish.target_hz,
        parts=wish.kind.parts,
        change_m=Figure.none(why),
        first_move=FirstMove("none", 0.0),
        after_first_move_hz=Figure.none(why),
        sensitivity_hz_per_m=Figure.none(why),
        learned_from=0,
        next_sweeps=(_sweep_to_take(wish, dip, seen),),
        findings=seen.review.findings,
        cautions=(),
        part=wish.kind.part,
        where=wish.kind.where,
    )


def _sweep_to_take(wish: Wish, dip: DipEnsemble | None, seen: _Seen) -> NextSweep:
    """A sweep that shows the dip of this length as well as the target."""
    near_hz = dip.measured_hz if dip is not None else expected_hz(wish.kind, wish.length_m)
    if dip is None and wish.kind.length_usual[1] > VAGUE:
        near_hz = wish.target_hz  # the length alone does not say where it dips
    low_hz, high_hz = sorted((near_hz, wish.target_hz))
    width = max(wish.kind.usual.bandwidth[0], NARROW_WIDTH)
    return sweep_across(
        low_hz * (1 - SWEEP_REACH),
        high_hz * (1 + SWEEP_REACH),
        width_hz=width * wish.target_hz,
        points_choices=seen.points_choices,
    )


def _nothing_to_trim(kind: Kind, target_hz: float) -> TrimPlan:
    """A kind whose dip is not what it is used by."""
    why = (
        f"{kind.title} is kept away from resonance on purpose and matched by a tuner: there is nothing to trim; "
        "choose a length that is no multiple of half a wave on the bands used"
    )
    return TrimPlan(
        action="leave",
        reason=why,
        now_hz=Figure.none(why),
        target_hz=target_hz,
        parts=kind.parts,
        change_m=Figure.none(why),
        first_move=FirstMove("none", 0.0),
        after_first_move_hz=Figure.none(why),
        sensitivity_hz_per_m=Figure.none(why),
        learned_from=0,
        next_sweeps=(),
        findings=(),
        cautions=(),
        part=kind.part,
        where=kind.where,
    )
