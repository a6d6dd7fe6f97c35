"""What large sizes cost: CPU and peak memory of whole processes, and the power of growth from each size to the next.

    TMPDIR=/dev/shm python -m tests.benchmarks.sizes files points draws   # tables of docs/speed.md

``files``: folders of 201 points, without draws, as a table; names of 500 files stand for many each. ``points`` and
``draws``: one review as JSON.
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from sweepkit.writers import sweep_text
from tests.benchmarks.folder import fill
from tests.benchmarks.growth import made

OURS = [sys.executable, "-m", "sweepkit"]
DISTINCT = 500
FILES = (1000, 10_000, 100_000)
POINTS = (10_000, 30_000, 100_000)
DRAWS = (1000, 3000, 10_000)  # the most that a command takes
_WATCHED = """
import json, resource, subprocess, sys
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps([used.ru_utime + used.ru_stime, used.ru_maxrss / 1024]))
"""


def watched(words: list[str]) -> tuple[float, float]:
    """CPU [s] and peak memory [MB] of a process."""
    done = subprocess.run(
        [sys.executable, "-c", _WATCHED, *words], capture_output=True, text=True, check=True
    )
    cpu_s, peak_mb = json.loads(done.stdout)
    return cpu_s, peak_mb


def files(place: Path) -> None:
    """Folders without draws."""
    first = place / "first"
    first.mkdir()
    fill(first, DISTINCT)
    rows = []
    for size in FILES:
        folder = place / str(size)
        folder.mkdir()
        for k in range(size):
            os.link(first / f"{k % DISTINCT:06d}.s1p", folder / f"{k:06d}.s1p")
        told = ["--draws", "0", "--measured-at", "feedpoint", "--csv", str(place / "table.csv"), "--force"]
        rows.append((size, *watched([*OURS, "review", str(folder), *told])))
    _print("files", rows)


def points(place: Path) -> None:
    """One review of so many points."""
    rows = []
    for size in POINTS:
        path = place / f"{size}.s1p"
        path.write_text(sweep_text(made(size, 1), "touchstone"))
        told = ["--measured-at", "feedpoint", "--draws", "200", "--json"]
        rows.append((size, *watched([*OURS, "review", str(path), *told])))
    _print("points, 200 draws", rows)


def draws(place: Path) -> None:
    """One review of 201 points with so many."""
    path = place / "one.s1p"
    path.write_text(sweep_text(made(201, 1), "touchstone"))
    told = ["--measured-at", "feedpoint", "--json"]
    rows = [(n, *watched([*OURS, "review", str(path), *told, "--draws", str(n)])) for n in DRAWS]
    _print("draws, 201 points", rows)


def _print(what: str, rows: list[tuple[int, float, float]]) -> None:
    """As a table; the power is that from the row before."""
    print(f"\n| {what} | CPU [s] | peak [MB] | power |\n|---|---|---|---|")
    for k, (size, cpu_s, peak_mb) in enumerate(rows):
        before = rows[k - 1] if k else None
        power = "" if before is None else f"{math.log(cpu_s / before[1]) / math.log(size / before[0]):.2f}"
        print(f"| {size} | {cpu_s:.2f} | {peak_mb:.0f} | {power} |", flush=True)


def main() -> None:
    """Print what was asked for."""
    for name in sys.argv[1:]:
        with tempfile.TemporaryDirectory() as place:
            {"files": files, "points": points, "draws": draws}[name](Path(place))


if __name__ == "__main__":
    main()
