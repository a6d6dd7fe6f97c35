"""``review --plot`` over what cannot be avoided, in one run: the review, Figure and Agg imported, one save.

``python -m tests.benchmarks.plot`` prints the ratio of CPU times; no test passes or fails on it.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SWEEP = ROOT / "sample_sweeps" / "ridge_dipole_40m.s1p"
ROUNDS = 9
UNAVOIDABLE = """
import io, sys
from sweepkit.cli.main import app
try:
    app(["review", sys.argv[1]])
except SystemExit:
    pass
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
figure = Figure(figsize=(7, 4.2))
axes = figure.add_subplot()
axes.plot([1, 2], [1, 2])
axes.set_xlabel("frequency, MHz")
axes.set_title("title")
figure.savefig(io.BytesIO(), format="png", dpi=150)
"""


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        plot = [sys.executable, "-m", "sweepkit", "review", str(SWEEP), "--force"]
        plot += ["--plot", str(Path(folder) / "a.png")]
        base = [sys.executable, "-c", UNAVOIDABLE, str(SWEEP)]
        ratios = [cpu_s(plot) / cpu_s(base) for _ in range(ROUNDS)]
    print(
        f"review --plot over the unavoidable: {statistics.median(ratios):.2f}, {min(ratios):.2f} to {max(ratios):.2f}"
    )


def cpu_s(command: list[str]) -> float:
    """CPU time of a process. [s]"""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


if __name__ == "__main__":
    main()
