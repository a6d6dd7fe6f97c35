"""What 1000 draws cost beside 1000 scikit-rf networks that answer the same, each of a sweep drawn anew.

    python -m tests.benchmarks.draws        # the table of docs/speed.md

One process, one BLAS thread, memory of arrays kept as in the command, CPU of turns taken in pairs; medians and
ranges. A network gets the plainest treatment
there is: SWR and impedance of all points, the dip by a parabola, SWR 2 edges by straight lines; behind a line that is
in the sweep, 15 m of it are taken out of each first, with a length of its own. Of the review counts what draws add to
the same without any, and the whole.
"""

from __future__ import annotations

import json
import os
import statistics
import time
from collections.abc import Callable

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import skrf

from sweepkit.cli.kept_memory import keep_memory
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import add_chain
from sweepkit.kit import Kit
from sweepkit.kit.choosing import as_pieces
from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.benchmarks.growth import made
from tests.benchmarks.plain_loop import dip_and_edges

DRAWS = 1000
NETWORKS = 200  # that are timed in one turn
TURNS = 7
LINE = "RG-58 15 m"


def behind_line(sweep: Sweep) -> Sweep:
    """The same at the radio."""
    chain = LineChain(as_pieces([LINE], Kit()))
    return Sweep.from_gamma(sweep.f_hz, add_chain(sweep.f_hz, sweep.gamma, chain.nominal)[0])


def networks(sweep: Sweep, *, has_line: bool) -> None:
    """Dip, edges and impedance of so many networks."""
    dice = np.random.default_rng(1)
    frequency = skrf.Frequency.from_f(sweep.f_hz, unit="hz")
    medium = skrf.media.DefinedGammaZ0(frequency, gamma=0.01 + 2j * np.pi * sweep.f_hz / 2e8, z0=50)
    for _ in range(NETWORKS):
        errors = 0.01 * dice.standard_normal(2) + 0.001 * dice.standard_normal((sweep.f_hz.size, 2))
        network = skrf.Network(frequency=frequency, s=sweep.gamma - errors.view(complex)[:, 0], z0=50)
        if has_line:
            line = medium.line(15 + 0.15 * dice.standard_normal(), "m")
            network = line.inv**network
        _, k, _, _ = dip_and_edges(network)
        _impedance = network.z[k, 0, 0]


def cpu_s(run: Callable[[], object]) -> float:
    start = time.process_time()
    run()
    return time.process_time() - start


def ratios(points: int, *, has_line: bool) -> list[tuple[float, float]]:
    """Networks over what draws add, and over the whole review, turn by turn."""
    sweep = made(points, 1)
    if has_line:
        sweep = behind_line(sweep)
    told = {"lines": [LINE]} if has_line else {"measured_at": "feedpoint"}

    def reviewed(draws: int) -> str:
        return json.dumps(review(sweep, draws=draws, **told).to_json())

    reviewed(DRAWS), networks(sweep, has_line=has_line)
    found = []
    for _ in range(TURNS):
        theirs = cpu_s(lambda: networks(sweep, has_line=has_line)) * DRAWS / NETWORKS
        nominal, whole = cpu_s(lambda: reviewed(0)), cpu_s(lambda: reviewed(DRAWS))
        found.append((theirs / (whole - nominal), theirs / whole))
    return found


def main() -> None:
    """Print the table."""
    keep_memory()
    print("| sweep | what 1000 draws add | the whole review |\n|---|---|---|")
    for has_line in (False, True):
        for points in (101, 201, 401, 1001):
            columns = zip(*ratios(points, has_line=has_line), strict=True)
            cells = (
                f"{statistics.median(each):.0f} ({min(each):.0f} to {max(each):.0f})" for each in columns
            )
            print(
                f"| {points} points{', 15 m of line' if has_line else ''} | {' | '.join(cells)} |", flush=True
            )


if __name__ == "__main__":
    main()
