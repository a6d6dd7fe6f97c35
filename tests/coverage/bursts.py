"""Whether a burst moves the figures: how often intervals hold the truth with one, without, and with it known.

    python -m tests.coverage.bursts --n 600        # a table of docs/sweep-health.md

The sweeps are those of the coverage study. A burst is 1 to 10 % of the points, next to each other, off by 0.05 to
0.5 in any direction; a third of them lie on the dip, a third on an SWR 2 edge, a third anywhere.
"""

from __future__ import annotations

import argparse
from collections import defaultdict

import numpy as np

from sweepkit.analysis.trust import Trust
from sweepkit.kit import Analyzer, Kit
from sweepkit.reviews import Review, planes, review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import Truth, draw_case, find_truths
from tests.coverage.study import FLAT_SWR, sweep_of

FIGURES = ("dip", "SWR", "R", "low edge", "high edge")
COUNTS = ("no dip", "dip too many", "said")
KINDS = ("without a burst", "with a burst", "burst known")


def seeded(sweep: Sweep, truth: Truth, dice: np.random.Generator) -> tuple[Sweep, np.ndarray]:
    """A sweep with a burst, and which points it hit."""
    n = sweep.f_hz.size
    length = max(1, round(n * dice.uniform(0.01, 0.10)))
    edge_hz = truth.edges_hz[2.0][int(dice.integers(2))] or truth.f_hz
    at_hz = (truth.f_hz, edge_hz, sweep.f_hz[int(dice.integers(n))])[int(dice.integers(3))]
    start = np.searchsorted(sweep.f_hz, at_hz) - int(dice.integers(length + 1))
    hit = np.arange(length) + int(np.clip(start, 1, n - length - 1))
    size = np.exp(dice.uniform(np.log(0.05), np.log(0.5), length))
    gamma = sweep.gamma.copy()
    gamma[hit] += size * np.exp(2j * np.pi * dice.random(length))
    return Sweep.from_gamma(sweep.f_hz, gamma), hit


def run_bursts(n: int, *, seed: int = 51, draws: int = 300) -> dict[str, dict[str, list[bool]]]:
    """Whether each figure's interval held the truth, over ``n`` sweeps that are good enough without a burst."""
    scores: dict[str, dict[str, list[bool]]] = {kind: defaultdict(list) for kind in KINDS}
    done = trial = 0
    while done < n:
        dice = np.random.default_rng([seed, trial])
        trial += 1
        case = draw_case(dice)
        sweep, directivity_db = sweep_of(case, dice)
        truth = min(find_truths(case, (2.0,)), key=lambda truth: truth.swr)
        known = {
            "kit": Kit(analyzer=Analyzer(directivity_db=directivity_db)),
            "measured_at": "feedpoint",
            "bands": (),
            "draws": draws,
        }
        clean = review(sweep, **known)
        if not clean.adequate or truth.swr < FLAT_SWR:
            continue
        done += 1
        hit, points = seeded(sweep, truth, dice)
        answers = (clean, review(hit, **known), _told(hit, points, known))
        for kind, answer in zip(KINDS, answers, strict=True):
            _score(answer, truth, len(clean.feedpoint.dips), scores[kind])
    return scores


def _told(sweep: Sweep, points: np.ndarray, known: dict) -> Review:
    """The review where it is known which points are off: as good as leaving them out can be."""
    weights = np.ones(sweep.f_hz.size)
    weights[points] = 0.0
    finding = planes.find_trusts
    planes.find_trusts = lambda *_: [Trust(weights, (), jagged=False)]
    try:
        return review(sweep, **known)
    finally:
        planes.find_trusts = finding


def _score(answer: Review, truth: Truth, dips: int, scores: dict[str, list[bool]]) -> None:
    plane = answer.feedpoint
    near = [k for k, dip in enumerate(plane.dips) if abs(dip.f_hz.value / truth.f_hz - 1) < 0.05]
    scores["no dip"].append(not near)
    scores["dip too many"].append(len(plane.dips) > dips)
    scores["said"].append(bool({f.code for f in answer.findings} & {"interference", "jagged"}))
    if not near:
        return
    k = min(near, key=lambda k: abs(plane.dips[k].f_hz.value - truth.f_hz))
    dip = plane.dips[k]
    figures = [("dip", dip.f_hz, truth.f_hz), ("SWR", dip.swr, truth.swr), ("R", dip.r_ohm, truth.r_ohm)]
    width = next(w for w in plane.swr_bandwidths if w.dip == k and w.limit_swr == 2.0)
    low_hz, high_hz = truth.edges_hz[2.0]
    if low_hz and high_hz:
        figures += [("low edge", width.low_hz, low_hz), ("high edge", width.high_hz, high_hz)]
    for name, figure, true in figures:
        scores[name].append(figure.value is not None and figure.low <= true <= figure.high)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=600)
    columns = (*FIGURES, *COUNTS)
    print("| | " + " | ".join(columns) + " |\n|---|" + "---|" * len(columns))
    for kind, scores in run_bursts(parser.parse_args().n).items():
        print(f"| {kind} | " + " | ".join(f"{np.mean(scores[name]):.1%}" for name in columns) + " |")
