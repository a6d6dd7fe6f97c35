"""What is worth saying beside the plan: contradictions, a kind that does not fit, a limit out of reach."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sweepkit.antennas.kind import Kind
from sweepkit.cautions import ONE_WAY, POWER_OFF
from sweepkit.findings import Finding
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, frequency_text, length_text
from sweepkit.trim.answer import Action
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.folds import FoldDraws
from sweepkit.trim.move import FirstMove
from sweepkit.trim.particles import Contradiction
from sweepkit.trim.wire import EarlierState, WireState
from sweepkit.trim.wish import Wish

KIND_AGREED = 2 / 3  # of the dips must turn the wrong way before the kind is doubted
MOST_SWR = 4.0  # of a dip that says anything of the kind; common practice, no source
NEARLY_BARE = 0.9  # of the length that needs no coil; our choice
MARGIN = 1.35  # how far beyond its usual range a figure must lie to speak against the kind
# Of the part; longer tails are no longer worth what the law says; common practice, no source
LONGEST_FOLD = 0.10


def notice_contradictions(
    contradictions: tuple[Contradiction, ...], states: tuple[EarlierState, ...]
) -> tuple[Finding, ...]:
    """Earlier sweeps that do not go with the present one."""
    return tuple(_contradiction(each, states[each.number]) for each in contradictions)


def _contradiction(each: Contradiction, state: EarlierState) -> Finding:
    moved, expected = 100 * each.ln_shift, 100 * each.foretold
    if each.wrong_way:
        text = (
            f"{state.name}: since then the dip moved {moved:+.2f} % although the change of length should have "
            f"moved it {expected:+.2f} %, the other way; something else changed (line, counterpoise, radials, "
            "height), or the sweeps are in the wrong order"
        )
    else:
        text = (
            f"{state.name}: since then the dip moved {moved:+.2f} %, the change of length explains "
            f"{expected:+.2f} %; a wrong length, another way of changing it, or something else moved too"
        )
    return Finding(
        "earlier-contradicts",
        "warning",
        text + "; it is left out",
        "check lengths and order, and say fold:, cut: or slide: before the length",
    )


def doubt_kind(dips: Sequence[DipEnsemble], usual: str, title: str) -> Finding | None:
    """Most dips turn the other way: series where the kind is parallel, or the reverse; two or more must."""
    shown = [
        dip for dip in dips if dip.resonance is not None and not dip.extrapolated and dip.swr[0] < MOST_SWR
    ]
    wrong = [dip for dip in shown if dip.resonance != usual]
    if len(wrong) < 2 or len(wrong) < KIND_AGREED * len(shown):
        return None
    other = "series" if usual == "parallel" else "parallel"
    where = ", ".join(frequency_text(dip.measured_hz) for dip in wrong)
    return Finding(
        "kind-unlikely",
        "stop",
        f"this does not look like {title}: the dips at {where} are {other} resonances, those of "
        f"{title} are {usual} ones",
        "check --kind (a fan, a dipole, an end-fed?), the line and where it was measured before touching wire",
    )


def notice_kind(dip: DipEnsemble, wish: Wish) -> tuple[Finding, ...]:
    """A dip that does not look like the kind, or like a whip that needs a coil."""
    kind, against = wish.kind, []
    share = wish.length_m * dip.measured_hz / SPEED_OF_LIGHT_M_S
    if (
        kind.name == "loaded-whip"
        and wish.known.coil_h is None
        and share > NEARLY_BARE * kind.length_range[1]
    ):
        against.append(
            f"its {length_text(wish.length_m)} are {share:.2f} wavelengths there, about a quarter, which needs no "
            "coil: a vertical?"
        )
    if dip.resonance is not None and dip.resonance != kind.usual.resonance:
        way = "rises" if dip.resonance == "series" else "falls"
        against.append(f"reactance {way} through the dip, that of {kind.title} does not")
    drawn_ohm = dip.r_ohm[np.isfinite(dip.r_ohm)]
    low, high = kind.usual.r_ohm
    if drawn_ohm.size and (np.median(drawn_ohm) < low / MARGIN or np.median(drawn_ohm) > high * MARGIN):
        against.append(f"it shows {np.median(drawn_ohm):.0f} ohm, usual are {low:.0f} to {high:.0f}")
    if not against:
        return ()
    return (
        Finding(
            "kind-unlikely",
            "warning",
            f"the dip at {frequency_text(dip.measured_hz)} does not look like {kind.title}: "
            + "; ".join(against),
            "check the kind, the line and where it was measured before changing wire",
        ),
    )


def notice_target(target_hz: float, span_hz: tuple[float, float]) -> tuple[Finding, ...]:
    """A target the sweep does not cover."""
    if span_hz[0] <= target_hz <= span_hz[1]:
        return ()
    return (
        Finding(
            "target-outside-sweep",
            "note",
            f"the target {frequency_text(target_hz)} lies outside the sweep, {frequency_text(span_hz[0])} to "
            f"{frequency_text(span_hz[1])}",
            "take the next sweep wide enough to see both the dip and the target",
        ),
    )


def notice_tail(move: FirstMove, wish: Wish, learned_from: int) -> tuple[Finding, ...]:
    """A first fold of which nobody says how its tail will lie."""
    if move.by != "fold" or move.m > 0 or wish.lies is not None or learned_from:
        return ()
    wire = "" if wish.known.wire is not None else ", and how thick the wire is, like --wire '1 mm'"
    return (
        Finding(
            "tail-untold",
            "note",
            "how the tail will lie is not told, which makes most of the interval of the fold",
            f"say it, like --tail-lies taped{wire}; or fold, and ask again with the sweep after it",
        ),
    )


def notice_limit(dip: DipEnsemble, limit_swr: float) -> tuple[Finding, ...]:
    """A dip that is not deep enough wherever it is."""
    known = dip.swr[np.isfinite(dip.swr)]
    if not known.size or float(np.quantile(known, 0.025)) <= limit_swr:
        return ()
    return (
        Finding(
            "trimming-not-enough",
            "warning",
            f"the dip reaches SWR {dip.swr[0]:.2f}; trimming moves it but cannot bring it below {limit_swr:g}:1",
            "change height, radials, the angle of the legs or the matching; or use a tuner",
        ),
    )


def list_cautions(
    action: Action, move: FirstMove, kind: Kind, present: WireState, folds: FoldDraws
) -> tuple[str, ...]:
    """Cautions, most important first."""
    if action in ("leave", "cannot_say"):
        return ()
    cautions = [POWER_OFF]
    if kind.parts == 2:
        cautions.append("Change both legs by the same length.")
    if move.by == "cut":
        cautions.append(ONE_WAY)
        cautions.append("Cut this much, sweep again, then cut the rest.")
        if present.tail_m:
            gain = float(folds.value_m(present.tail_m).mean())
            cautions.append(
                f"Leave the {length_text(present.tail_m)} tail on: taking it off raises the frequency further, "
                f"as if another {length_text(max(present.tail_m - gain, 0.0))} were cut."
            )
    if move.by == "fold" and action == "shorten":
        cautions.append(
            "Fold tightly against the wire and sweep again, then fold or let out the rest; leave the fold on, cutting "
            "it off shifts again."
        )
        if present.tail_m - move.m > LONGEST_FOLD * present.length_m:
            cautions.append(
                f"The tail would be more than {LONGEST_FOLD:.0%} of the {kind.part}; cut the larger part of it "
                "off instead, in two steps."
            )
    cautions.append("Hands off the wire and the line while sweeping, at its final height.")
    return tuple(cautions)
