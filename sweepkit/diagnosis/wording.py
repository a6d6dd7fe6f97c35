"""Causes in words: what it is, the test that shows it, and what each number says for or against it."""

from __future__ import annotations

from math import exp
from typing import NamedTuple

from sweepkit.diagnosis.seen import Seen
from sweepkit.diagnosis.signatures import ELSE, Signature
from sweepkit.diagnosis.spreads import Spread
from sweepkit.diagnosis.weigh import distance_of
from sweepkit.next_tests import step_of_test

FITS, SPEAKS_AGAINST = 1.6, 2.0  # standard deviations from a signature


class Cause(NamedTuple):
    """A cause in words, the code of the test that shows it, and what that costs (1: a look, 5: a rebuild)."""

    title: str
    test: str
    effort: int


CAUSES = {
    "radial-off": Cause("a radial off or broken", "radials-clipped", 1),
    "radial-added": Cause("more radials than before", "put-back", 2),
    "drier-soil": Cause("drier soil", "soil-as-before", 4),
    "wetter-soil": Cause("wetter soil", "soil-as-before", 4),
    "wrong-tap": Cause("another coil tap", "tap-moved", 1),
    "length-changed": Cause("another length of wire or whip", "wire-looked-along", 2),
    "leg-off": Cause("a leg off or broken", "legs-metered", 2),
    "no-counterpoise": Cause("counterpoise missing", "counterpoise-on", 2),
    "counterpoise-added": Cause("a counterpoise that was not there before", "put-back", 2),
    "wet-wire": Cause("wet or iced wire", "dried", 3),
    "touching": Cause("the wire touches something", "wire-looked-along", 1),
    "common-mode": Cause("current on the outside of the coax", "coax-moved", 2),
    "hot-drift": Cause("a part that got hot", "cooled", 3),
    "line-loss": Cause("more loss in the line", "antenna-unplugged", 3),
    "loose-joint": Cause("a loose joint", "wiggled", 2),
    "open-line": Cause("an open line", "far-end-shorted", 2),
    "shorted-line": Cause("a short in the line", "antenna-unplugged", 2),
    "wrong-impedance-piece": Cause("a piece of line of another impedance", "antenna-unplugged", 1),
    "wrong-plane": Cause("another reference plane", "plane-shorted", 2),
    "poor-calibration": Cause("calibration lost", "check-load", 2),
    "interference": Cause("another station's signal", "swept-again", 1),
    "swr-too-good": Cause("the line hides what is behind it", "antenna-unplugged", 2),
    "other-antenna": Cause("another antenna, or the wrong file", "put-back", 1),
    ELSE: Cause("something not in the table", "put-back", 2),
}


def step_of(code: str) -> str:
    """The test for a cause; it begins with the radio off."""
    return step_of_test(CAUSES[code].test)


def say_evidence(
    row: Signature, seen: Seen, spread: Spread, *, odds: float, findings: tuple[str, ...]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What speaks for and against a cause, by the variant that fits best and the findings it explains, in words."""
    speaks_for, against = list(findings), []
    for name, part in seen.parts.items():
        z, _ = distance_of(row, name, part, spread)
        if row.code == ELSE:
            continue
        text = _say(name, part.value, row, seen)
        if text and abs(z) <= FITS:
            speaks_for.append(text)
        elif text and abs(z) >= SPEAKS_AGAINST:
            against.append(text)
    if seen.dip_kept is False:
        (against if row.dip_kept > 0.5 else speaks_for).append("the dip of before is gone")
    elif seen.dip_kept and row.dip_kept < 0.5:
        against.append("the dip is still there")
    if odds > 1:
        speaks_for.append("what you say was changed points here; that is no proof")
    if not speaks_for and row.code != ELSE:
        speaks_for.append("nothing fits well, yet it is met often enough to live on")
    if row.code == ELSE:
        speaks_for.append("causes outside the table, or several at once, are always possible")
    return tuple(speaks_for), tuple(against)


def _say(name: str, value: float, row: Signature, seen: Seen) -> str:
    """One quantity against its signature, in words."""
    if name == "f":
        before, now = seen.dips_hz
        assert before is not None
        assert now is not None
        moved = f"dip {before / 1e6:.3f} -> {now / 1e6:.3f} MHz ({value:+.2f} %)"
        return f"{moved}; {row.variant}: {row.centre['f']:+.1f} % give or take {row.spread['f']:.1f}"
    if name in ("r", "q"):
        word = ("R" if name == "r" else "Q") + ("" if seen.at_feedpoint else ", guessed through the line,")
        usual = f"{row.centre[name]:+.0f} % give or take {row.spread[name]:.0f}"
        return f"{word} changed by {value:+.0f} %; {row.variant}: {usual}"
    if name == "loss":
        if abs(value) < 0.1 or (row.centre["loss"] == 0 and abs(value) < 2 * row.spread["loss"]):
            return ""
        return f"the line seems to lose {value:+.1f} dB more, one way"
    if name == "turn":
        if row.code == "wrong-plane":
            return f"{100 * exp(value):.0f} % of the difference changes a magnitude; a plane changes none"
        return "" if value > -1.2 else "the curve is turned, its magnitudes are kept"
    if name == "as_loss":
        if row.code == "line-loss":
            return f"more loss in the line leaves {100 * exp(value):.0f} % of the difference unexplained"
        return "" if value > -1.0 else "the whole curve has shrunk, as by more loss in the line"
    if name == "as_scale":
        left = f"one factor and one offset leave {100 * exp(value):.0f} % of the difference"
        return left if row.code == "poor-calibration" else ""
    if name == "end":
        if row.code in ("open-line", "shorted-line", "leg-off"):
            word = "an open" if value > 0 else "a short"
            return f"at the end of the line told the phase is nearer to that of {word}"
        return ""
    if row.code in ("open-line", "shorted-line", "leg-off"):
        return f"the return loss varies by {value:.1f} dB over the sweep; a bare line hardly varies"
    return ""
