"""How often faults seeded into a sweep are seen, and how often a healthy sweep is blamed.

    python -m tests.coverage.faults --n 600        # the table of docs/sweep-health.md

The sweeps are those of the coverage study. Burst: 2 to 10 % of the points, next to each other, off by 0.03 to 0.5
of the reflection in any direction. Step: from some point on, everything off by 0.05 to 0.3. Mirror: the sign of
the phase turned round. Single: one point off by 0.05 to 0.5. Block: 2 to 10 % of the points off by the same 0.05 to
0.3. Scale: all reflections 1.1 times too large.
"""

from __future__ import annotations

import argparse
from collections import Counter

import numpy as np

from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import draw_case
from tests.coverage.study import sweep_of

CODES = ("interference", "jagged", "loose-joint", "wrong-plane", "reflection-above-one")
KINDS = ("healthy", "burst", "single", "block", "step", "mirror", "scale")


def seeded(gamma: np.ndarray, fault: str, dice: np.random.Generator) -> np.ndarray:
    """The reflection with one fault."""
    hit, n = gamma.copy(), gamma.size
    if fault == "burst":
        length = max(2, int(n * dice.uniform(0.02, 0.10)))
        start = int(dice.integers(3, n - length - 3))
        size = dice.uniform(0.1, 0.5) * dice.uniform(0.3, 1.0, length)
        hit[start : start + length] += size * np.exp(2j * np.pi * dice.random(length))
    elif fault == "step":
        hit[int(dice.integers(10, n - 10)) :] += dice.uniform(0.05, 0.3) * np.exp(2j * np.pi * dice.random())
    elif fault == "single":
        hit[int(dice.integers(3, n - 3))] += dice.uniform(0.05, 0.5) * np.exp(2j * np.pi * dice.random())
    elif fault == "block":
        length = max(2, int(n * dice.uniform(0.02, 0.10)))
        start = int(dice.integers(3, n - length - 3))
        hit[start : start + length] += dice.uniform(0.05, 0.3) * np.exp(2j * np.pi * dice.random())
    elif fault == "scale":
        hit *= 1.1
    elif fault == "mirror":
        hit = hit.conj()
    return hit


def run_faults(n: int) -> dict[str, Counter[str]]:
    """What was said of each kind of sweep, over ``n`` of each that are otherwise good enough."""
    said: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    trial = 0
    while said["healthy"]["n"] < n:
        dice = np.random.default_rng([31, trial])
        trial += 1
        sweep, _ = sweep_of(draw_case(dice), dice)
        if sweep.gamma is None or not review(sweep, draws=0, bands=()).adequate:
            continue
        for kind, counts in said.items():
            answer = review(Sweep.from_gamma(sweep.f_hz, seeded(sweep.gamma, kind, dice)), draws=0, bands=())
            counts.update({finding.code for finding in answer.findings} & set(CODES))
            counts["n"] += 1
    return said


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=600)
    print("| seeded | " + " | ".join(CODES) + " |\n|---|" + "---|" * len(CODES))
    for kind, counts in run_faults(parser.parse_args().n).items():
        print(f"| {kind} | " + " | ".join(f"{counts[code] / counts['n']:.1%}" for code in CODES) + " |")
