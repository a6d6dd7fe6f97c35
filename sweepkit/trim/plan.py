"""From dips to the plan: pure, no files; ``from_sweep`` brings the dips."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sweepkit.antennas.which import choose_dip, expected_hz
from sweepkit.conversions import FloatArray
from sweepkit.figures import COVERAGE_QUANTILES, Figure
from sweepkit.quantities import frequency_text, length_text
from sweepkit.trim.answer import TrimPlan
from sweepkit.trim.deciding import decide, refuse_far_target, refuse_large_change
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.move import (
    OVERSHOOT,
    FirstMove,
    after_hz,
    change_m,
    choose_first_move,
    sensitivity_hz_per_m,
)
from sweepkit.trim.notices import (
    list_cautions,
    notice_contradictions,
    notice_kind,
    notice_limit,
    notice_tail,
    notice_target,
)
from sweepkit.trim.particles import Learned, Particles, learn
from sweepkit.trim.trail import NO_DIP, PastDip, Trail
from sweepkit.trim.wire import EarlierState, History, reconstruct
from sweepkit.trim.wish import Already, EarlierSweep, NoPlan, Wish

USUAL_WORTH = 0.8  # of a fold over a cut, to know about how long it will be
FEWEST_POINTS = 1  # inside a dip; from there on its interval tells how well it is placed


def plan_from_dips(
    dips: tuple[DipEnsemble, ...],
    wish: Wish,
    *,
    earlier: tuple[EarlierSweep, ...] = (),
    span_hz: tuple[float, float],
    already: Already | None = None,
    with_interval: bool = True,
    seed: int = 0,
) -> TrimPlan | NoPlan:
    """How much to trim; ``earlier`` are sweeps of the same wire, oldest first, each with at least one dip.

    What cannot be is a ``BadInput``: a length that belongs to no dip, a target too far from it, histories that
    contradict.
    """
    states = tuple(each.state for each in earlier)
    history = reconstruct(states, length_m=wish.length_m, tail_m=wish.tail_m)
    present_m = wish.length_m + history.present.tail_m / 4  # a tail acts a little; enough to know the dip
    choice = choose_dip(wish.kind, present_m, [dip.measured_hz for dip in dips])
    if choice.number is None:
        return NoPlan(_only_overtone(wish, dips, choice.overtone or 1.0, span_hz))
    dip = dips[choice.number]
    if dip.points_inside < FEWEST_POINTS:
        return NoPlan(
            f"the dip near {frequency_text(dip.measured_hz)} falls between two points; "
            "it takes one inside to place it at all",
            dip,
        )
    refuse_far_target(dip, wish)
    dips_then = tuple(
        _same_dip(each, dip, state.length_m, wish)
        for each, state in zip(earlier, history.states, strict=True)
    )
    learned = learn(
        dip,
        dips_then,
        history,
        kind=wish.kind,
        known=wish.known,
        lies=wish.lies,
        fold_m=_fold_m(dip, wish, history),
        own=wish.own,
        seed=seed,
    )
    plan = _plan(dip, wish, learned, history, states, span_hz, already or Already(), with_interval, seed)
    return replace(plan, trail=_trail(plan, wish, dips_then, learned, history, states, with_interval))


def _fold_m(dip: DipEnsemble, wish: Wish, history: History) -> float:
    """About how long a tail will be that brings the dip to the target; the longest that there was, where it is cut."""
    tails_m = [state.tail_m for state in (*history.states, history.present)]
    needed_m = wish.length_m * (1 - dip.measured_hz / wish.target_hz) if wish.by == "fold" else 0.0
    return max(*tails_m, history.present.tail_m + needed_m / USUAL_WORTH)


def _plan(
    dip: DipEnsemble,
    wish: Wish,
    learned: Learned,
    history: History,
    states: tuple[EarlierState, ...],
    span_hz: tuple[float, float],
    already: Already,
    with_interval: bool,
    seed: int,
) -> TrimPlan:
    particles, present = learned.particles, history.present
    learned_from = learned.learned_from + _sweeps_elsewhere(wish)
    dice = np.random.default_rng([seed, 11])
    change = change_m(particles, present, wish.target_hz, by=wish.by, dice=dice)
    to_overshoot = change_m(particles, present, OVERSHOOT * wish.target_hz, by=wish.by, dice=dice)
    move = choose_first_move(
        particles,
        change,
        to_overshoot,
        by=wish.by,
        learned_from=learned_from,
        tail_m=present.tail_m,
    )
    action, reason = decide(dip, wish, particles, change, already, move)
    if action in ("leave", "cannot_say"):
        move = FirstMove("none", 0.0)
    refuse_large_change(move, wish)
    figure = _figures(particles, with_interval)
    after = after_hz(particles, present, move, dice=dice)
    return TrimPlan(
        action=action,
        reason=reason,
        now_hz=figure(np.exp(particles.ln_f)),
        target_hz=wish.target_hz,
        parts=wish.kind.parts,
        change_m=figure(change),
        first_move=move,
        after_first_move_hz=figure(after),
        sensitivity_hz_per_m=figure(sensitivity_hz_per_m(particles, present, by=wish.by)),
        learned_from=learned_from,
        next_sweeps=(),
        findings=(
            *notice_contradictions(learned.contradictions, states),
            *notice_kind(dip, wish),
            *notice_target(wish.target_hz, span_hz),
            *notice_limit(dip, wish.limit_swr),
            *notice_tail(move, wish, learned_from),
        ),
        cautions=list_cautions(action, move, wish.kind, present, particles.folds),
        part=wish.kind.part,
        where=wish.kind.where,
        known_from=_known_from(wish, learned.learned_from),
        unsure=dip if action == "cannot_say" or dip.extrapolated else None,
    )


def _known_from(wish: Wish, learned_from: int) -> str:
    """In words after "from"."""
    known = []
    if learned_from:
        known.append(f"this wire's own {'two' if learned_from == 1 else learned_from + 1} sweeps")
    if wish.own:
        outings = "an earlier outing" if len(wish.own) == 1 else f"{len(wish.own)} earlier outings"
        known.append(f"{_sweeps_elsewhere(wish)} sweeps of it at {outings}")
    return ", ".join([*known, f"and {wish.kind.basis}" if known else wish.kind.basis])


def _sweeps_elsewhere(wish: Wish) -> int:
    return sum(answer.sweeps for answer in wish.own)


def _trail(
    plan: TrimPlan,
    wish: Wish,
    dips_then: tuple[DipEnsemble, ...],
    learned: Learned,
    history: History,
    states: tuple[EarlierState, ...],
    with_interval: bool,
) -> Trail:
    """What a picture of the plan shows."""
    contradicted = {contradiction.number for contradiction in learned.contradictions}
    earlier = tuple(
        PastDip(
            name=told.name,
            length_m=state.length_m,
            dip_hz=Figure.from_draws(then.f_hz if with_interval else then.f_hz[:1], reason=NO_DIP),
            by=told.by,
            is_learned_from=number not in contradicted,
        )
        for number, (told, state, then) in enumerate(zip(states, history.states, dips_then, strict=True))
    )
    return Trail(earlier, history, learned.particles, wish.by, plan.change_m.value or 0.0, with_interval)


def _figures(particles: Particles, with_interval: bool) -> Callable[[FloatArray], Figure]:
    def figure(values: FloatArray) -> Figure:
        """Weighted median and 95 % interval over the particles."""
        low, middle, high = particles.quantile(values, (COVERAGE_QUANTILES[0], 0.5, COVERAGE_QUANTILES[1]))
        return Figure(middle, low, high) if with_interval else Figure(middle)

    return figure


def _only_overtone(
    wish: Wish, dips: tuple[DipEnsemble, ...], ratio: float, span_hz: tuple[float, float]
) -> str:
    """That the sweep shows an overtone of the dip and not the dip, in words, and what else the length may be."""
    own_hz = expected_hz(wish.kind, wish.length_m)
    near = frequency_text(own_hz)
    own = f"the dip that belongs to {wish.kind.title} of this length, near {near}"
    if not span_hz[0] <= own_hz <= span_hz[1]:
        return f"{own}, is not in the sweep; what dips there is its overtone, {ratio:g} times higher"
    first_hz = min((dip.measured_hz for dip in dips), key=lambda hz: abs(np.log(hz / (ratio * own_hz))))
    other = length_text(wish.length_m * own_hz / first_hz)
    ask = "is that twice the wire? give it once" if round(ratio) == 2 else "check the length"
    return (
        f"{own}, does not show, though the sweep goes there; the one at {frequency_text(first_hz)} is its overtone, or "
        f"the first dip of a {wish.kind.part} of {other}; {ask}"
    )


def _same_dip(each: EarlierSweep, dip: DipEnsemble, length_m: float, wish: Wish) -> DipEnsemble:
    """Of an earlier sweep's dips the one that belongs to the same resonance: nearest by plain 1/length."""
    near_hz = dip.measured_hz * wish.length_m / length_m
    return min(each.dips, key=lambda then: abs(np.log(then.measured_hz / near_hz)))
