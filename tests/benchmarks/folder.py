"""What a folder of sweeps costs beside the plainest loop with the same answers, and how much memory it takes.

    python -m tests.benchmarks.folder --n 512 --rounds 5        # tables of docs/speed.md

Whole processes, CPU seconds, one BLAS thread on both sides. What one sweep more costs is the difference of a folder and
half of it, so that start-up does not count. The loop reads with scikit-rf and takes the dip by a parabola, SWR 2
edges by straight lines, the zero of X, and Q from its slope.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
from pathlib import Path

import numpy as np

from tests.benchmarks.review import cpu_s
from tests.coverage.antennas import series

LOOP = (sys.executable, "-m", "tests.benchmarks.plain_loop")


def fill(folder: Path, n: int, points: int = 201, decimals: int = 9) -> None:
    """``n`` sweeps of one wire, put up again and again, in Touchstone files of so many decimals."""
    dice = np.random.default_rng(2)
    f_hz = np.linspace(6.8e6, 7.4e6, points)
    for k in range(n):
        z_ohm = series(dice.uniform(35, 75), dice.uniform(8, 16), 7.1e6 * dice.uniform(0.99, 1.01))(f_hz)
        scatter = dice.standard_normal(points) + 1j * dice.standard_normal(points)
        gamma = (z_ohm - 50) / (z_ohm + 50) + 0.001 * scatter
        rows = zip(f_hz.tolist(), gamma.real.tolist(), gamma.imag.tolist(), strict=True)
        text = "".join(f"{f:.0f} {re:.{decimals}f} {im:.{decimals}f}\n" for f, re, im in rows)
        (folder / f"{k:06d}.s1p").write_text("# Hz S RI R 50\n" + text)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=200)
    parser.add_argument("--draws", type=int, default=0)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--decimals", type=int, default=9)
    arguments = parser.parse_args()
    n = arguments.n
    with tempfile.TemporaryDirectory() as place:
        for size in (n // 2, n):
            (Path(place) / str(size)).mkdir()
            fill(Path(place) / str(size), size, decimals=arguments.decimals)
        rounds = [one_round(Path(place), n, arguments.draws) for _ in range(arguments.rounds)]
    for name in rounds[0]:
        values = [each[name] for each in rounds]
        print(f"{name}: {statistics.median(values):.3g} ({min(values):.3g} to {max(values):.3g})")


def one_round(place: Path, n: int, draws: int) -> dict[str, float]:
    """Both sides in turn over a folder and half of it."""
    cost = {}
    for size in (n // 2, n):
        folder = place / str(size)
        ours = [sys.executable, "-m", "sweepkit", "review", str(folder), "--draws", str(draws), "--force"]
        ours += ["--measured-at", "feedpoint", "--csv", str(place / f"{size}.csv")]
        cost[size] = cpu_s(ours), cpu_s([*LOOP, str(folder)])
    ours_ms, loop_ms = (1e3 * (cost[n][side][0] - cost[n // 2][side][0]) / (n - n // 2) for side in (0, 1))
    return {
        "a further sweep, plain loop over review": loop_ms / ours_ms,
        f"whole process, {n} files": cost[n][1][0] / cost[n][0][0],
        "CPU of a further sweep [ms]": ours_ms,
        "of the loop [ms]": loop_ms,
        f"peak memory of {n // 2} files [MB]": cost[n // 2][0][1],
        f"of {n}": cost[n][0][1],
    }


if __name__ == "__main__":
    main()
