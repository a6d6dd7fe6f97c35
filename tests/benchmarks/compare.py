"""What a comparison of a large logbook costs, as ratios within one run.

    TMPDIR=/dev/shm python -m tests.benchmarks.compare        # the table of docs/scale.md
    TMPDIR=/dev/shm python -m tests.benchmarks.compare unkept # what sweeps without kept figures cost, docs/speed.md

Whole processes: CPU over that of ``python -c "import skrf"``, median of three pairs, and peak memory. The logbooks
are those of ``tests.benchmarks.fill_logbook``; of every sweep the figures of one of 20 real reviews are kept, as
``log add`` would have kept its own. ``unkept``: of the last 100 of 10 000 none are; what they add to ``compare``, over
``review FOLDER --csv`` of the same 100 files.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from sweepkit.logbook import find_sweep, open_logbook, summary_of
from sweepkit.logbook.computed import keep_figures
from sweepkit.logbook.finding import sweeps_where
from sweepkit.logbook.reviewed import SUMMARY, keys_of_figures
from tests.benchmarks.fill_logbook import fill, sweep_bytes
from tests.benchmarks.review import BASE, cpu_s

SIZES = (1000, 10_000)
REAL = 20
UNKEPT = 100
RUNS = 3


def filled(path: Path, sweeps: int, *, unkept: int = 0) -> None:
    """A logbook whose sweeps all have figures, but the last ones."""
    fill(path, sweeps)
    with open_logbook(path) as log:
        real = [summary_of(log, find_sweep(log, number + 1)).to_json() for number in range(REAL)]
        for start in range(REAL, sweeps - unkept, 500):
            numbers = list(range(start + 1, min(start + 501, sweeps - unkept + 1)))
            with log.reading() as connection:
                found = sweeps_where(connection, {"sweep.id": numbers})
                keys = keys_of_figures(connection, {sweep.id: sweep for sweep in found})
            keep_figures(log, {n: {f"{SUMMARY} {keys[n]}": real[n % REAL]} for n in numbers})


def peak_mb(words: list[str]) -> float:
    """Largest memory of a process. [MB]"""
    code = f"import subprocess, resource; subprocess.run({words!r}, stdout=subprocess.DEVNULL, check=True); "
    code += "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return int(done.stdout) / 1024


def unkept(folder: Path, sweeps: int = SIZES[-1]) -> None:
    """Print CPU of each process, and the ratio, for each of a few turns."""
    without, now, sweep_files = folder / "without.sqlite", folder / "now.sqlite", folder / "files"
    filled(without, sweeps, unkept=UNKEPT)
    sweep_files.mkdir()
    for number in range(sweeps - UNKEPT, sweeps):
        (sweep_files / f"{number}.s1p").write_bytes(sweep_bytes(number))
    ours = [sys.executable, "-m", "sweepkit"]
    comparing = [*ours, "compare", "--log", str(now), "--by", "site"]
    told = ["--line", "RG-58 15 m", "--measured-at", "radio", "--csv", str(folder / "table.csv"), "--force"]
    for _ in range(RUNS):
        shutil.copy(without, now)
        first, folder_s, again = (
            cpu_s(words)[0] for words in (comparing, [*ours, "review", str(sweep_files), *told], comparing)
        )
        print(f"{UNKEPT} unkept {first:.1f} s, all kept {again:.1f} s, folder {folder_s:.1f} s: ", end="")
        print(f"what they add over the folder {(first - again) / folder_s:.2f}", flush=True)


def main() -> None:
    """Print the table."""
    if sys.argv[1:] == ["unkept"]:
        with tempfile.TemporaryDirectory() as folder:
            unkept(Path(folder))
        return
    print("| sweeps | by | CPU over `import skrf` | peak memory |\n|---|---|---|---|")
    for sweeps in SIZES:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "demo.sqlite"
            filled(path, sweeps)
            for by in ("site", "setup"):
                words = [sys.executable, "-m", "sweepkit", "compare", "--log", str(path), "--by", by]
                ratios = [cpu_s(words)[0] / cpu_s(BASE)[0] for _ in range(RUNS)]
                print(
                    f"| {sweeps} | {by} | {statistics.median(ratios):.1f} | {peak_mb(words):.0f} MB |",
                    flush=True,
                )


if __name__ == "__main__":
    main()
