"""Where there is no change to advise: why, and the sweep to take instead."""

from __future__ import annotations

from sweepkit.antennas.kind import Kind
from sweepkit.antennas.which import expected_hz
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.reviews.next_sweep import NextSweep, sweep_across
from sweepkit.trim.answer import Action, TrimPlan
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.move import FirstMove
from sweepkit.trim.seen import SeenSweep
from sweepkit.trim.wish import Wish

# Findings of the review that name a sweep to take: the one that shows dip and target stands in their place.
SWEEP_AGAIN = ("span-too-narrow", "dip-at-edge", "too-coarse")
SWEEP_REACH = 0.10  # the sweep to take reaches this far beyond dip and target
# The one that the review names will do where it reaches this far; common practice, no source
LEAST_REACH = 0.05
VAGUE = 0.3  # spread of ln(length) beyond which a length does not say where the dip is
NARROW_WIDTH = 0.006  # SWR-2 width of a short loaded whip over its frequency; modelled range 0.5 to 6 %


def cannot_say(wish: Wish, why: str, seen: SeenSweep, dip: DipEnsemble | None = None) -> TrimPlan:
    """No answer, and the sweep to take; a dip may have been seen, but not well enough."""
    take = sweep_to_take(wish, dip, seen)
    told = tuple(finding for finding in seen.review.findings if finding.code not in SWEEP_AGAIN)
    return _empty("cannot_say", why, wish.kind, wish.target_hz, (take,), told)


def nothing_to_trim(kind: Kind, target_hz: float) -> TrimPlan:
    """A kind whose dip is not what it is used by."""
    why = (
        f"{kind.title} is kept away from resonance on purpose and matched by a tuner: there is nothing to trim; "
        "choose a length that is no multiple of half a wave on the bands used"
    )
    return _empty("leave", why, kind, target_hz, (), ())


def _empty(
    action: Action,
    why: str,
    kind: Kind,
    target_hz: float,
    next_sweeps: tuple[NextSweep, ...],
    findings: tuple[Finding, ...],
) -> TrimPlan:
    """A plan without figures."""
    return TrimPlan(
        action=action,
        reason=why,
        now_hz=Figure.none(why),
        target_hz=target_hz,
        parts=kind.parts,
        change_m=Figure.none(why),
        first_move=FirstMove("none", 0.0),
        after_first_move_hz=Figure.none(why),
        sensitivity_hz_per_m=Figure.none(why),
        learned_from=0,
        next_sweeps=next_sweeps,
        findings=findings,
        cautions=(),
        part=kind.part,
        where=kind.where,
    )


def sweep_to_take(wish: Wish, dip: DipEnsemble | None, seen: SeenSweep) -> NextSweep:
    """A sweep that shows the dip of this length as well as the target: that of the review, where it does."""
    near_hz = dip.measured_hz if dip is not None else expected_hz(wish.kind, wish.length_m)
    if dip is None and wish.kind.length_usual[1] > VAGUE:
        near_hz = wish.target_hz  # the length alone does not say where it dips
    low_hz, high_hz = sorted((near_hz, wish.target_hz))
    for named in seen.review.next_sweeps:
        if named.start_hz <= low_hz * (1 - LEAST_REACH) and high_hz * (1 + LEAST_REACH) <= named.stop_hz:
            return named
    width = max(wish.kind.usual.bandwidth[0], NARROW_WIDTH)
    return sweep_across(
        low_hz * (1 - SWEEP_REACH),
        high_hz * (1 + SWEEP_REACH),
        width_hz=width * wish.target_hz,
        analyzer=seen.analyzer,
    )
