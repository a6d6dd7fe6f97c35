"""How often sweeps between which nothing changed are called changed.

    python -m tests.diagnosis.false_alarms --n 1000 --seed 7

Antennas of the coverage study (resonators, two bands, wire models), 51 to 401 points, noise 0.0003 to 0.003,
0 to 20 m of coax, a directivity error of 40 dB that stays; swept again at once, or after all was connected again,
or with nothing but noise between.
"""

from __future__ import annotations

import argparse

import numpy as np

from sweepkit.diagnosis.change import Change, compare_pair, compare_triple
from sweepkit.diagnosis.common_grid import find_common
from sweepkit.diagnosis.spreads import usual_spread
from sweepkit.feedline.chain import LineChain
from sweepkit.kit import Analyzer
from sweepkit.lines import catalogued_piece
from sweepkit.reviews.planes import lay_out_planes
from sweepkit.reviews.view import View
from sweepkit.sweep import Sweep
from tests.coverage.antennas import draw_case
from tests.diagnosis.modelled import analyzer_error, repeated, swept

HOWS = ("same", "reconnected", "noise")


def view_of(sweep: Sweep) -> View:
    (planes,) = lay_out_planes(
        [sweep],
        chain=None,
        measured_at="unknown",
        analyzer=Analyzer(),
        reference_ohm=50.0,
        draws=0,
        seed=0,
    )
    return planes.measured


def unchanged(dice: np.random.Generator, how: str, count: int) -> list[Sweep]:
    """The same antenna swept several times."""
    case = draw_case(dice)
    f_hz = np.linspace(case.low_hz, case.high_hz, int(dice.choice([51, 101, 201, 401])))
    piece = catalogued_piece("RG-58", float(dice.uniform(1, 20)))
    line = [piece] if dice.random() < 0.6 else []
    noise, error = float(np.exp(dice.uniform(np.log(3e-4), np.log(3e-3)))), analyzer_error(dice)
    known = {"error": error, "noise": noise, "line": LineChain(line).pieces}
    return [swept(repeated(case.z_ohm, dice, how), f_hz, dice, how=how, **known) for _ in range(count)]


def outcomes(how: str, count: int, n: int, seed: int, *, phase: bool = True) -> list[Change]:
    """The test on ``n`` pairs or triples."""
    found = []
    for trial in range(n):
        dice = np.random.default_rng([seed, trial, HOWS.index(how), count])
        sweeps = unchanged(dice, how, count)
        if not phase:
            sweeps = [Sweep.from_magnitude(sweep.f_hz, sweep.gamma_abs) for sweep in sweeps]
        common = find_common([view_of(sweep) for sweep in sweeps])
        if common is not None:
            compare = compare_pair if count == 2 else compare_triple
            found.append(compare(common, usual_spread("joined-anew", is_whip=False)))
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=7)
    arguments = parser.parse_args()
    print("| swept | repeats | phase | called changed | of | statistic, 99 % |\n|---|---|---|---|---|---|")
    for count, name in ((2, "A A"), (3, "A A A")):
        for how in HOWS:
            for phase in (True, False):
                found = outcomes(how, count, arguments.n, arguments.seed, phase=phase)
                yes = sum(change.changed == "yes" for change in found)
                worst = np.quantile([change.statistic for change in found], 0.99)
                word = "yes" if phase else "no"
                print(f"| {name} | {how} | {word} | {yes} | {len(found)} | {worst:.1f} |")
