"""The same thing swept again: one answer that rests on all, with the repeatability that was measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sweepkit.antennas.rungs import Rung
from sweepkit.conversions import ComplexArray
from sweepkit.errors import BadInput
from sweepkit.findings import Finding
from sweepkit.kit import as_kit
from sweepkit.reviews.review import Repeatability, Review, review
from sweepkit.reviews.setup import of_one_state
from sweepkit.sweep import Sweep

LEAST_REPEATS = 2  # Student's t of one degree of freedom then makes intervals wide, and they hold
OTHER_STATE: Rung = "put-up-again"  # dips further apart are of other states; a loose joint moves less
SAME_GRID = 1e-6  # relative difference of two frequencies that are the same


@dataclass(frozen=True, eq=False)
class Repeats:
    """Several sweeps of the same thing as their mean and what each differs from it."""

    mean: Sweep  # with the findings of all, each once
    spread: ComplexArray  # each repeat's reflection less the mean, shape (repeats, n)
    sweeps: tuple[Sweep, ...]

    @property
    def spread_rms(self) -> float:
        """Rms difference of one repeat from the mean of all, degrees of freedom counted. [-]"""
        return float(np.sqrt((np.abs(self.spread) ** 2).sum(axis=0).mean() / (len(self.sweeps) - 1)))


def gather_repeats(sweeps: Sequence[Sweep]) -> Repeats:
    """Mean and spread of two or more sweeps with phase, on one grid and reference; ``BadInput`` where they are not."""
    if len(sweeps) < LEAST_REPEATS:
        raise BadInput(
            f"--repeats got {len(sweeps)} sweep; expected {LEAST_REPEATS} or more of the same thing, better 5; "
            "sweep it again and name all files"
        )
    first = sweeps[0]
    curves = [_curve_like(sweep, first) for sweep in sweeps]
    stack = np.stack(curves)
    mean = stack.mean(axis=0)
    findings = tuple(dict.fromkeys(finding for sweep in sweeps for finding in sweep.findings))
    return Repeats(
        replace(first, gamma=mean, gamma_abs=np.abs(mean), findings=findings), stack - mean, tuple(sweeps)
    )


def judge_spread(repeats: Repeats, noise: float) -> Finding | None:
    """A finding where repeats differ by more than the noise seen inside one makes them."""
    spread = repeats.spread_rms
    if spread < max(3 * noise, 0.005):
        return None
    return Finding(
        "loose-joint",
        "warning",
        f"the repeats differ by {spread:.3f} of the reflection, the noise of each is {noise:.4f}: something "
        "moved between them",
        "radio off and disconnected: sweep again with hands off; wiggle each joint in turn while sweeping",
    )


def review_repeats(sweeps: Sequence[Sweep], **known: Any) -> Review:
    """One answer from two or more sweeps of the same thing over the same points, with the repeatability measured."""
    kit = as_kit(known.get("kit"))
    alike = [sweep.renormalised(kit.radio.z0_ohm) for sweep in sweeps]
    gather_repeats(alike)  # refuses what cannot be repeats
    known = {**known, "kit": kit}
    singles, odd = _of_one_state(alike, known)
    alike = [single.sweep for single in singles]
    if len(alike) < LEAST_REPEATS:
        alone = review(alike[0], **known)
        return replace(alone, findings=(*odd, *alone.findings))
    repeats = gather_repeats(alike)
    answer = review(repeats.mean, **known, spread=repeats.spread)
    noise = float(np.quantile([np.median(single.planes.measured.noise) for single in singles], 0.5))
    moved = judge_spread(repeats, noise)
    return replace(
        answer,
        findings=(*odd, *((moved,) if moved else ()), *answer.findings),
        sweeps=repeats.sweeps,
        repeatability=_repeatability(singles),
    )


def _of_one_state(sweeps: list[Sweep], known: dict[str, Any]) -> tuple[list[Review], tuple[Finding, ...]]:
    """Reviews of the repeats that agree with the last one; intervals are drawn only where dips alone do not."""
    for drawn in ({"draws": 0}, {}):
        answers = [review(sweep, **{**known, "bands": (), **drawn}) for sweep in sweeps]
        kept, odd = of_one_state(answers, sweeps, rung=OTHER_STATE)
        if not odd:
            return answers, ()
    return kept, odd


def _repeatability(singles: Sequence[Review]) -> Repeatability:
    """Standard deviation of the deepest dip over the repeats."""
    dips = [single.main_plane.dips[0] for single in singles if single.main_plane.dips]
    f_hz = [dip.f_hz.value for dip in dips if dip.f_hz.value is not None]
    swr = [dip.swr.value for dip in dips if dip.swr.value is not None]
    whole = len(f_hz) == len(swr) == len(singles)
    return Repeatability(
        repeats=len(singles),
        dip_hz_sd=float(np.std(f_hz, ddof=1)) if whole else None,
        dip_swr_sd=float(np.std(swr, ddof=1)) if whole else None,
    )


def _curve_like(sweep: Sweep, first: Sweep) -> ComplexArray:
    """The reflection of a sweep that may be a repeat of the first."""
    path = sweep.source.path or None
    if sweep.gamma is None:
        raise BadInput(f"repeats need phase; this one has none (phase: {sweep.phase})", path=path)
    if sweep.reference_ohm != first.reference_ohm:
        raise BadInput(
            f"reference {sweep.reference_ohm:g} ohm, the first repeat has {first.reference_ohm:g}; "
            "export all alike",
            path=path,
        )
    if sweep.f_hz.size != first.f_hz.size or not np.allclose(sweep.f_hz, first.f_hz, rtol=SAME_GRID, atol=0):
        raise BadInput(
            f"{sweep.f_hz.size} points from {sweep.f_hz[0] / 1e6:g} to {sweep.f_hz[-1] / 1e6:g} MHz, the first "
            f"repeat has {first.f_hz.size} from {first.f_hz[0] / 1e6:g} to {first.f_hz[-1] / 1e6:g}; "
            "repeats are swept over the same points",
            path=path,
        )
    return sweep.gamma
