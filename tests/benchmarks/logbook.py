"""What the logbook costs, as ratios within one run.

    python -m tests.benchmarks.logbook        # the table of docs/speed.md
    python -m tests.benchmarks.logbook scale [SWEEPS...]  # the table of docs/scale.md; 100, 10 000 and 100 000 sweeps

Whole processes, CPU seconds (user and system), pairwise in turn against ``sweepkit review`` of the same file or against
``python -c "import skrf"``, so that a machine whose speed drifts does not matter. The logbooks are made by
``tests.benchmarks.fill_logbook``.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from tests.benchmarks.fill_logbook import fill, sweep_bytes
from tests.benchmarks.review import BASE, cpu_s

RUNS = 15
SCALE_RUNS = 3
SIZES = (100, 10_000, 100_000)
SWEEPKIT = [sys.executable, "-m", "sweepkit"]
FIRST_NEW = 10_000_000  # number of the first sweep that no logbook holds
FACTS = [
    "--antenna",
    "dipole 3",
    "--site",
    "ridge",
    "--when",
    "2026-05-02T09:30+02:00",
    "--set",
    "ground=wet",
]

Words = list[str]


class NewFiles:
    """Sweeps no logbook has: a file that is there already would not be added."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.count = folder, 0

    def next(self) -> str:
        """Path of another one."""
        path = self.folder / f"new_{self.count}.s1p"
        path.write_bytes(sweep_bytes(FIRST_NEW + self.count))
        self.count += 1
        return str(path)


def ratios(pair: Callable[[], tuple[Words, Words]], runs: int = RUNS) -> list[float]:
    """CPU of one process over that of another, in turn; the first pair only warms the disk's cache."""
    one_over_other = []
    for _ in range(runs + 1):
        one, other = pair()
        one_over_other.append(cpu_s(one)[0] / cpu_s(other)[0])
    return one_over_other[1:]


def row(name: str, values: list[float]) -> str:
    """A line of a table: median and range."""
    return f"| {name} | {statistics.median(values):.2f} | {min(values):.2f} to {max(values):.2f} |"


def speed(folder: Path) -> None:
    """The table of docs/speed.md."""
    new, log = NewFiles(folder), folder / "log.sqlite"

    def adding() -> tuple[Words, Words]:
        file = new.next()
        add = [*SWEEPKIT, "log", "add", file, "--log", str(log), *FACTS]
        return add, [*SWEEPKIT, "review", file, "--line", "RG-58 15 m"]

    print("| process | CPU: median | range |\n|---|---|---|")
    for sweeps in (100, 10_000):
        log.unlink(missing_ok=True)
        fill(log, sweeps)
        print(row(f"`log add` of one sweep to {sweeps}, over `review` of it", ratios(adding)))
    listing = [*SWEEPKIT, "log", "list", "--log", str(log)]
    print(row("`log list` of 10 000 sweeps, over `import skrf`", ratios(lambda: (listing, BASE))))
    few = folder / "few.sqlite"
    fill(few, 4)
    short = [*SWEEPKIT, "log", "list", "--log", str(few)]
    print(row("`log list` of 4 sweeps, over `import skrf`", ratios(lambda: (short, BASE))))


def scale(folder: Path, sizes: Sequence[int]) -> None:
    """The table of docs/scale.md."""
    new = NewFiles(folder)
    print(f"| sweeps | file | {' | '.join(_commands(folder, 0, new))} |\n|---|---|---|---|---|---|---|---|")
    for sweeps in sizes:
        fill(folder / "log.sqlite", sweeps)
        size_mb = (folder / "log.sqlite").stat().st_size / 1e6
        runs = SCALE_RUNS if sweeps < SIZES[-1] else 1
        cells = [_median(command, runs) for command in _commands(folder, sweeps, new).values()]
        print(f"| {sweeps} | {size_mb:.1f} MB | {' | '.join(cells)} |", flush=True)
        (folder / "log.sqlite").unlink()


def _commands(folder: Path, sweeps: int, new: NewFiles) -> dict[str, Callable[[], Words]]:
    """What is timed, by the heading of its column."""
    log = ["--log", str(folder / "log.sqlite")]
    return {
        "add one": lambda: ["log", "add", new.next(), *FACTS, *log],
        "list": lambda: ["log", "list", *log],
        "list one antenna at one site": lambda: ["log", "list", *FACTS[:4], *log],
        "show": lambda: ["log", "show", str(sweeps // 2), *log],
        "check": lambda: ["log", "check", *log],
        "export": lambda: ["log", "export", str(folder / "export"), "--force", *log],
    }


def _median(command: Callable[[], Words], runs: int) -> str:
    """Ratio to ``import skrf``."""
    return f"{statistics.median(ratios(lambda: ([*SWEEPKIT, *command()], BASE), runs)):.1f}"


def main(words: Words) -> None:
    with tempfile.TemporaryDirectory() as folder:
        if words[:1] == ["scale"]:
            scale(Path(folder), [int(word) for word in words[1:]] or SIZES)
        else:
            speed(Path(folder))


if __name__ == "__main__":
    main(sys.argv[1:])
