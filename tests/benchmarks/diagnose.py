"""What a diagnosis costs over the review of its files, as a ratio within one run.

    python -m tests.benchmarks.diagnose

Whole processes, CPU seconds (user and system), in turn, so that a machine whose speed drifts does not matter.
"""

from __future__ import annotations

import statistics
import sys

from tests.benchmarks.review import RUNS, cpu_s

COMMAND = [sys.executable, "-m", "sweepkit"]
PAIR = ["sample_sweeps/meadow_vertical_1.s1p", "sample_sweeps/meadow_vertical_2.s1p"]
LINE = ["--line", "RG-58 12 m"]


def ratio(words: list[str], base: list[str]) -> float:
    """Median of the ratios of two commands that are run in turn."""
    pairs = [(cpu_s([*COMMAND, *words])[0], cpu_s([*COMMAND, *base])[0]) for _ in range(RUNS)]
    return statistics.median(one / other for one, other in pairs)


def main() -> None:
    print("| diagnosis of a pair over | CPU |\n|---|---|")
    for name, more in (("the review of both", []), ("the same behind 12 m of line", LINE)):
        value = ratio(["diagnose", *PAIR, "--json", *more], ["review", *PAIR, "--json", *more])
        print(f"| {name} | {value:.2f} |")


if __name__ == "__main__":
    main()
