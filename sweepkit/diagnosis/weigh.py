"""Which causes the shift speaks for: prior odds times likelihoods, with a wide "something else" among them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from math import log, pi, sqrt

import numpy as np

from sweepkit.diagnosis.dip import Part
from sweepkit.diagnosis.seen import Seen
from sweepkit.diagnosis.signatures import ELSE, Signature, signatures_of
from sweepkit.diagnosis.spreads import Spread
from sweepkit.diagnosis.told_words import Told

FREEDOM = 4.0  # Student's t: sizes in the table are trends, and a normal spread would trust them too much
# Of a trend the sign is surer than the size: a dip that moved the wrong way gets a normal spread after all.
# What the quantities that are not in the table look like, centre and standard deviation: of the causes named, and
# of all others. Read off the physics; sizes: common practice, no source.
BESIDES: dict[str, tuple[dict[str, tuple[float, float]], tuple[float, float]]] = {
    # a pure delay changes no magnitude; the loss of a piece of coax little
    "turn": ({"wrong-plane": (-2.5, 0.8), ELSE: (-0.7, 1.0)}, (-0.5, 0.5)),
    # more loss shrinks the whole curve and does nothing else
    "as_loss": ({"line-loss": (-1.8, 0.7), ELSE: (-0.5, 1.0)}, (-0.2, 0.3)),
    # a lost calibration is one factor and one offset; in a narrow sweep more loss or a longer line are nearly so
    "as_scale": (
        {
            "poor-calibration": (-2.0, 0.7),
            "wrong-plane": (-1.5, 1.0),
            "line-loss": (-1.5, 1.0),
            ELSE: (-0.7, 1.0),
        },
        (-0.5, 0.5),
    ),
    # a bare line reflects nearly the same everywhere; a leg off at a choked feedpoint leaves one, else coax radiates
    "ripple": (
        {"open-line": (1.0, 1.0), "shorted-line": (1.0, 1.0), "leg-off": (2.0, 2.5), ELSE: (5.0, 6.0)},
        (8.0, 6.0),
    ),
    # an open at the end of the line is +1 there, a short -1; farther in the line either may be anything
    "end": (
        {"open-line": (0.5, 0.9), "shorted-line": (-0.5, 0.9), "leg-off": (0.8, 0.5)},
        (0.0, 0.8),
    ),
}
# Findings that a cause explains; sizes of the chances: common practice, no source.
SHOWS = {
    "open-line": {"open-line"},
    "shorted-line": {"shorted-line"},
    "leg-off": {"open-line"},
    "loose-joint": {"loose-joint", "jagged"},
    "interference": {"interference", "jagged"},
    "wrong-plane": {"wrong-plane", "line-likely"},
    "poor-calibration": {"poor-calibration", "reflection-above-one"},
    "line-loss": {"swr-too-good"},
    "swr-too-good": {"swr-too-good"},
}
TOLD: frozenset[str] = frozenset().union(*SHOWS.values())
SHOWN, NOT_SHOWN = 0.6, 0.4
# A finding without its cause: none in 1800 healthy sweeps (docs/sweep-health.md) for faults of the sweep itself; an
# antenna far off its resonance may look like a bare line or a delayed one: common practice, no source.
UNEXPLAINED = {"line-likely": 0.05, "swr-too-good": 0.05, "open-line": 0.01, "shorted-line": 0.01}
HEALTHY = 0.003
MUST_SHOW = ("open-line", "shorted-line", "interference", "poor-calibration")
IN_THE_SWEEP = (
    "loose-joint",
    "interference",
)  # what happens during a sweep makes its figures mean little: ...
BLUR = 4.0  # ... so far they may be off, in standard deviations; common practice, no source
NOT_RETURNED = {
    "loose-joint": 5.0,
    "hot-drift": 4.0,
    "interference": 3.0,
}  # A unlike A: something still moves


@dataclass(frozen=True)
class Weighed:
    """A cause, its weight and the variant of it that fits best."""

    code: str
    weight: float
    best: Signature


def weigh_causes(
    seen: Seen,
    *,
    kind: str | None,
    told: Told,
    spread: Spread,
    findings: Collection[str],
    returned: bool | None,
) -> list[Weighed]:
    """Causes with their weights, heaviest first.

    ``findings`` are codes of what the sweep now shows and the one before did not; ``returned``: whether A came back.
    """
    rows = signatures_of(kind)
    logs = np.array([_log_likelihood(row, seen, spread, findings) for row in rows])
    logs += [log(row.common * told.odds.get(row.code, 1.0)) for row in rows]
    if returned is False:
        logs += [log(NOT_RETURNED.get(row.code, 1.0)) for row in rows]
    shares = np.exp(logs - logs.max())
    shares /= shares.sum()
    causes = []
    for code in dict.fromkeys(row.code for row in rows):
        own = [k for k, row in enumerate(rows) if row.code == code]
        best = rows[max(own, key=lambda k: float(shares[k]))]
        causes.append(Weighed(code, float(shares[own].sum()), best))
    return sorted(causes, key=lambda cause: -cause.weight)


def distance_of(row: Signature, name: str, part: Part, spread: Spread) -> tuple[float, float]:
    """How far a quantity is from a signature, in standard deviations, and that standard deviation."""
    if name in BESIDES:
        own, others = BESIDES[name]
        centre, width = own.get(row.code, others)
    else:
        centre, width = row.centre[name], row.spread[name]
    repeats = {"f": 100 * spread.f, "r": 100 * spread.r, "q": 100 * spread.q, "loss": spread.loss_db}
    sigma = sqrt(width**2 + part.sigma**2 + 2 * repeats.get(name, 0.0) ** 2)
    return (part.value - centre) / sigma, sigma


def _log_likelihood(row: Signature, seen: Seen, spread: Spread, findings: Collection[str]) -> float:
    explained = SHOWS.get(row.code, set())
    total = _log_density(row, seen, spread, 1.0)
    if row.code in IN_THE_SWEEP and explained & set(findings):
        total = float(np.logaddexp(total, _log_density(row, seen, spread, BLUR))) - log(2)
    if seen.dip_kept is not None:
        total += log(row.dip_kept if seen.dip_kept else 1 - row.dip_kept)
    for code in findings:
        if code in TOLD:
            total += log(SHOWN if code in explained else UNEXPLAINED.get(code, HEALTHY))
    if row.code in MUST_SHOW and not explained & set(findings):
        total += log(NOT_SHOWN)
    return total


def _log_density(row: Signature, seen: Seen, spread: Spread, blurred: float) -> float:
    """Of all quantities, each by itself."""
    total = 0.0
    for name, part in seen.parts.items():
        z, sigma = distance_of(row, name, part, spread)
        z, sigma = z / blurred, sigma * blurred
        sure_sign = name == "f" and abs(row.centre["f"]) >= row.spread["f"]
        wrong_way = sure_sign and row.centre["f"] * part.value < 0
        fall = z * z / 2 if wrong_way else (FREEDOM + 1) / 2 * log(1 + z * z / FREEDOM)
        total += -log(sigma * sqrt(pi)) - fall
    return total
