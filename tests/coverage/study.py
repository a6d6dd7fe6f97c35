"""How often the 95 % interval holds the true value, per figure, and how wide it is.

    python -m tests.coverage.study --n 2000        # the table of docs/uncertainty.md

Antennas with exactly known figures (resonators, and modelled antennas by interpolation) are swept with noise
and a directivity error of told rms size; only sweeps that the review calls good enough count. This tries the
arithmetic from draws to intervals; whether the draws hold enough is for tests.coverage.set_ups.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from sweepkit.figures import Figure
from sweepkit.kit import Analyzer, Kit
from sweepkit.reviews import Review, review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import REFERENCE_OHM, Case, Truth, draw_case, find_truths

LIMITS_SWR = (1.5, 2.0, 3.0)
POINTS = (51, 101, 201, 401, 801)
FLAT_SWR = 1.05  # dips below it are scored apart: there the interval reaches the wall at 1


@dataclass
class Score:
    """What happened to one figure over the study."""

    inside: list[bool] = field(default_factory=list)
    width: list[float] = field(default_factory=list)
    missing: int = 0

    def add(self, figure: Figure, true: float, scale: float) -> None:
        if figure.value is None or figure.low is None or figure.high is None:
            self.missing += 1
            return
        self.inside.append(bool(figure.low <= true <= figure.high))
        self.width.append((figure.high - figure.low) / scale)


def sweep_of(case: Case, dice: np.random.Generator) -> tuple[Sweep, float]:
    """A sweep of a case, and the directivity of its analyzer in dB."""
    points, noise = int(dice.choice(POINTS)), float(np.exp(dice.uniform(np.log(0.001), np.log(0.01))))
    directivity_db = float(dice.uniform(35, 46))
    f_hz = np.linspace(case.low_hz, case.high_hz, points)
    z_ohm = case.z_ohm(f_hz)
    gamma = (z_ohm - REFERENCE_OHM) / (z_ohm + REFERENCE_OHM)
    directivity = complex(*dice.standard_normal(2)) / np.sqrt(2)
    gamma = gamma + 10 ** (-directivity_db / 20) * directivity
    gamma = gamma + noise / np.sqrt(2) * (dice.standard_normal(points) + 1j * dice.standard_normal(points))
    return Sweep.from_gamma(f_hz, gamma), directivity_db


def run_study(n: int, *, seed: int = 1, draws: int = 1000) -> dict[str, Score]:
    """Score every figure over ``n`` sweeps that are good enough."""
    scores: dict[str, Score] = defaultdict(Score)
    done = trial = 0
    while done < n:
        dice = np.random.default_rng([seed, trial])
        trial += 1
        case = draw_case(dice)
        sweep, directivity_db = sweep_of(case, dice)
        kit = Kit(analyzer=Analyzer(directivity_db=directivity_db, tracking=0.0, source_match_db=100.0))
        answer = review(sweep, kit=kit, measured_at="feedpoint", bands=(), draws=draws, seed=trial)
        if not answer.adequate:
            continue
        done += 1
        _score(answer, find_truths(case, LIMITS_SWR), scores)
    return scores


def _score(answer: Review, truths: list[Truth], scores: dict[str, Score]) -> None:
    """Each true dip against the dip found nearest to it."""
    plane = answer.feedpoint
    assert plane is not None
    for truth in truths:
        near = [
            k
            for k, dip in enumerate(plane.dips)
            if dip.f_hz.value is not None and abs(dip.f_hz.value / truth.f_hz - 1) < 0.05
        ]
        if not near:
            scores["(dips not seen)"].missing += 1
            continue
        number = min(near, key=lambda k: abs((plane.dips[k].f_hz.value or 0.0) - truth.f_hz))
        dip, flat = plane.dips[number], " (below SWR 1.05)" if truth.swr < FLAT_SWR else ""
        scores["dip frequency" + flat].add(dip.f_hz, truth.f_hz, truth.f_hz / 100)
        scores["SWR at the dip" + flat].add(dip.swr, truth.swr, 1)
        scores["R at the dip" + flat].add(dip.r_ohm, truth.r_ohm, truth.r_ohm / 100)
        scores["X at the dip" + flat].add(dip.x_ohm, truth.x_ohm, 1)
        for width in plane.swr_bandwidths:
            if width.dip == number:
                _score_edges(width, truth, scores)
        _score_resonance(plane, truth, scores)


def _score_edges(width, truth: Truth, scores: dict[str, Score]) -> None:
    low_hz, high_hz = truth.edges_hz[width.limit_swr]
    if low_hz is None or high_hz is None:
        return
    scores["SWR edge, low"].add(width.low_hz, low_hz, truth.f_hz / 100)
    scores["SWR edge, high"].add(width.high_hz, high_hz, truth.f_hz / 100)
    scores["SWR bandwidth"].add(width.bandwidth_hz, high_hz - low_hz, (high_hz - low_hz) / 100)


def _score_resonance(plane, truth: Truth, scores: dict[str, Score]) -> None:
    if truth.resonance is None or abs(truth.resonance[0] / truth.f_hz - 1) > 0.03:
        return
    f_hz, r_ohm, q = truth.resonance
    near = [r for r in plane.resonances if r.f_hz.value is not None and abs(r.f_hz.value / f_hz - 1) < 0.03]
    if not near:
        scores["resonance"].missing += 1
        return
    found = min(near, key=lambda r: abs((r.f_hz.value or 0.0) - f_hz))
    scores["resonance"].add(found.f_hz, f_hz, f_hz / 100)
    scores["R at resonance"].add(found.r_ohm, r_ohm, r_ohm / 100)
    scores["Q"].add(found.q, q, q / 100)


UNITS = {"SWR at the dip": "", "X at the dip": "ohm"}


def render(scores: dict[str, Score]) -> str:
    """The table of the documents."""
    lines = ["| figure | inside | of | no answer | median width |", "|---|---|---|---|---|"]
    for name, score in sorted(scores.items()):
        unit = UNITS.get(name.split(" (")[0], "%")
        if not score.inside:
            lines.append(f"| {name} | - | 0 | {score.missing} | - |")
            continue
        share, width = np.mean(score.inside), np.median(score.width)
        lines.append(f"| {name} | {share:.1%} | {len(score.inside)} | {score.missing} | {width:.3g} {unit} |")
    return "\n".join(lines)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    print(render(run_study(arguments.n, seed=arguments.seed)))
