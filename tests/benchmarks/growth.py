"""How CPU grows with points, draws, files, pieces of line and setups: the picture and the powers of docs/speed.md.

    python -m tests.benchmarks.growth docs/pictures/growth.png

One process, one BLAS thread; every number is the least of three turns, and all of a line are over its first. The
power is that over the last two steps, where what a start costs tells least.
"""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable
from types import MappingProxyType

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from sweepkit.comparison import ComparedSetup, compare_setups
from sweepkit.reviews import review, summarise
from sweepkit.reviews.asked import ask
from sweepkit.reviews.many import review_many
from sweepkit.sweep import Sweep
from tests.coverage.antennas import series

TURNS = 3
SIZES = {
    "points": (1000, 3000, 10_000, 30_000, 100_000),
    "draws": (100, 300, 1000, 3000, 10_000),
    "files": (30, 100, 300, 1000),
    "pieces of line": (1, 2, 4, 8),
    "setups": (10, 30, 100, 300, 1000),
}


def made(points: int, seed: int) -> Sweep:
    """A resonator with noise."""
    dice = np.random.default_rng(seed)
    f_hz = np.linspace(6.8e6, 7.4e6, points)
    z_ohm = series(dice.uniform(35, 75), dice.uniform(8, 16), 7.1e6 * dice.uniform(0.99, 1.01))(f_hz)
    scatter = dice.standard_normal(points) + 1j * dice.standard_normal(points)
    return Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50) + 0.001 * scatter)


def of_points(size: int) -> Callable[[], object]:
    """A review of a sweep of so many."""
    sweep = made(size, 1)
    return lambda: review(sweep, measured_at="feedpoint", draws=200).to_json()


def of_draws(size: int) -> Callable[[], object]:
    """A review with so many."""
    sweep = made(201, 1)
    return lambda: review(sweep, measured_at="feedpoint", draws=size).to_json()


def of_files(size: int) -> Callable[[], object]:
    """Reviews of so many sweeps as a stream, without draws."""
    sweeps, asked = [made(201, seed) for seed in range(size)], ask(measured_at="feedpoint", draws=0)
    return lambda: sum(1 for _ in review_many(sweeps, lambda sweep: (sweep, asked)))


def of_pieces(size: int) -> Callable[[], object]:
    """A review behind so many pieces of line, 16 m in all."""
    sweep, lines = made(201, 1), [f"RG-58 {16 / size:g} m"] * size
    return lambda: review(sweep, lines=lines, draws=200).to_json()


def of_setups(size: int) -> Callable[[], object]:
    """A comparison of so many setups at five sites, whose figures are there."""
    figures = [summarise(review(made(201, seed), measured_at="feedpoint", draws=200)) for seed in range(10)]
    setups = [
        ComparedSetup(
            f"S{k}",
            MappingProxyType(
                {"antenna": "dipole", "kind": "dipole", "site": f"site {k % 5}", "when": _when(k)}
            ),
            (figures[k % len(figures)],),
        )
        for k in range(size)
    ]
    return lambda: compare_setups(setups, by="site").to_json()


def _when(day: int) -> str:
    return f"{2001 + day // 336:04d}-{1 + day % 336 // 28:02d}-{1 + day % 28:02d}T10:00:00+00:00"


LINES = {
    "points": of_points,
    "draws": of_draws,
    "files": of_files,
    "pieces of line": of_pieces,
    "setups": of_setups,
}


def cpu_s(run: Callable[[], object]) -> float:
    """The least of some turns, after one that loads what it needs."""
    run()
    times = []
    for _ in range(TURNS):
        start = time.process_time()
        run()
        times.append(time.process_time() - start)
    return min(times)


def draw(measured: dict[str, list[float]], path: str) -> None:
    """CPU over that of the smallest, against size over the smallest, both on logarithmic axes."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(6.4, 4.4), dpi=120, layout="constrained")
    axes = figure.add_subplot()
    for marker, (name, costs) in zip("osD^v", measured.items(), strict=True):
        times = np.array(SIZES[name]) / SIZES[name][0]
        axes.loglog(times, np.array(costs) / costs[0], marker=marker, label=f"{name}, from {SIZES[name][0]}")
    axes.loglog([1, 100], [1, 100], color="0.6", linestyle="--", label="as much as there is more of it")
    axes.set_xlabel("times as many")
    axes.set_ylabel("times as much CPU")
    axes.grid(visible=True, which="major", color="0.9")
    axes.legend()
    figure.savefig(path)


def main() -> None:
    """Measure, draw, and print a table."""
    measured = {name: [cpu_s(of(size)) for size in SIZES[name]] for name, of in LINES.items()}
    print("| with | from, to | times the CPU | power of the last two steps |\n|---|---|---|---|")
    for name, costs in measured.items():
        sizes = SIZES[name]
        power = math.log(costs[-1] / costs[-3]) / math.log(sizes[-1] / sizes[-3])
        print(f"| {name} | {sizes[0]}, {sizes[-1]} | {costs[-1] / costs[0]:.1f} | {power:.2f} |")
    draw(measured, sys.argv[1])


if __name__ == "__main__":
    main()
