"""What one sweep proves without another to hold it against, each with what else could look like it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sweepkit.diagnosis.answer import Hypothesis
from sweepkit.diagnosis.signatures import ELSE
from sweepkit.diagnosis.wording import CAUSES, step_of
from sweepkit.errors import BadInput
from sweepkit.feedline.line_findings import find_line_faults
from sweepkit.feedline.told import Told
from sweepkit.findings import Finding
from sweepkit.reviews.review import Review

PROVED_WRONG = 0.05  # belief that what looks proved is nothing; common practice, no source
FIRST = 0.75  # weight of what is seen, the rest is for what looks like it; common practice, no source
# A finding, the cause it stands for, what looks like it, and why that lives on.
SEEN = {
    "open-line": ("open-line", ELSE, "an antenna far off its resonance, or a leg off, can look like it"),
    "shorted-line": ("shorted-line", ELSE, "matching parts that are a short for direct current look like it"),
    "wrong-impedance-piece": (
        "wrong-impedance-piece",
        "loose-joint",
        "a poor joint reflects in one place too",
    ),
    "swr-too-good": ("swr-too-good", ELSE, "an antenna that is wide and lossy by design looks like it"),
    "loose-joint": ("loose-joint", "interference", "a strong signal can throw points off too"),
    "interference": ("interference", "loose-joint", "a joint that lets go for a moment looks like it"),
    "jagged": ("interference", "loose-joint", "a joint that makes poor contact scatters points as well"),
    "wrong-plane": ("wrong-plane", "poor-calibration", "a phase of the wrong sign turns the curve as well"),
    "reflection-above-one": (
        "poor-calibration",
        "interference",
        "a strong signal adds to what comes back",
    ),
}
MATCHED_SWR = 2.0  # a dip below it is an antenna's, on any line; common practice, no source
LEAST_SPAN_HZ = 20e6  # narrower sweeps do not part the echoes of a piece of a few metres
NEVER_ALONE = "one sweep only; another one of the same thing would tell more"


def prove_alone(review: Review) -> tuple[tuple[Hypothesis, ...], float] | None:
    """Causes that one sweep proves, heaviest first, and the belief in none of them; ``None`` where it proves none."""
    found: dict[str, Hypothesis] = {}
    for finding in (*review.findings, *_pieces(review)):
        if finding.code not in SEEN or finding.level == "note":
            continue
        code, other, why = SEEN[finding.code]
        if code not in found or found[code].weight < FIRST:
            found[code] = Hypothesis(
                code, FIRST, (finding.text,), (why,), step_of(code), CAUSES[code].test, finding.distance_m
            )
        if other not in found:
            found[other] = Hypothesis(
                other, 1 - FIRST, (why,), (NEVER_ALONE,), step_of(other), CAUSES[other].test
            )
    if not found:
        return None
    share = (1 - PROVED_WRONG) / sum(one.weight for one in found.values())
    scaled = [replace(one, weight=one.weight * share) for one in found.values()]
    return tuple(sorted(scaled, key=lambda one: (-one.weight, CAUSES[one.code].effort))), PROVED_WRONG


def nothing_known(nothing_wrong: float = 0.5) -> tuple[tuple[Hypothesis, ...], float]:
    """That something else is wrong, and that nothing is, where no cause has a name."""
    why = "causes outside the table are always possible"
    step = step_of(ELSE)
    return (Hypothesis(ELSE, 1 - nothing_wrong, (why,), (), step, CAUSES[ELSE].test),), nothing_wrong


def _pieces(review: Review) -> tuple[Finding, ...]:
    """A piece of another impedance, where no antenna is seen and the sweep is that of a line."""
    dips = review.main_plane.dips
    matched = bool(dips) and (dips[0].swr.value or MATCHED_SWR) < MATCHED_SWR
    f_hz = review.sweep.f_hz
    if matched or f_hz[-1] - f_hz[0] < LEAST_SPAN_HZ:
        return ()
    if review.sweep.phase != "signed" or review.planes.measured_at == "feedpoint":
        return ()
    from sweepkit.feedline.measure import measure_line  # loads scikit-rf: only where a line may be seen alone

    try:
        with np.errstate(all="ignore"):  # what is no line may drive the fit far out
            measured = measure_line([(review.sweep, "unknown")], Told(), draws=0)
    except BadInput:
        return ()
    return tuple(finding for finding in find_line_faults(measured) if finding.code == "wrong-impedance-piece")
