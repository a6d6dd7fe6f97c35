"""Kill add, edit, import and export at random moments, the real commands, and count what is lost.

python -m tests.logbook.kill_commands [COUNT] [SEED]
"""

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from sweepkit.logbook import check_logbook, import_logbook, list_sweeps, open_logbook
from sweepkit.logbook.computed import raw_bytes
from tests.logbook.flip_bits import fill

ROOT = Path(__file__).parents[2]


def run(words, cwd, *, kill_after_s=None):
    """Run ``sweepkit log`` in a process; whether it ended by itself, what it printed, and how long it took."""
    start_s = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-m", "sweepkit", "log", *words],
        cwd=cwd, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    if kill_after_s is not None:
        time.sleep(kill_after_s)
        process.send_signal(signal.SIGKILL)
    out = process.communicate()[0]
    return process.returncode != -signal.SIGKILL, out, time.monotonic() - start_s


def exported(folder, scratch):
    """How many sweeps an export gives to a new logbook."""
    scratch.unlink(missing_ok=True)
    with open_logbook(scratch, create=True) as log:
        return len(import_logbook(log, folder).sweeps)


def kill_one(kind, folder, number, moment):
    """One command killed at a share of its usual time; 1 where it had ended before, and what was lost."""
    log, source, new = folder / "log.sqlite", folder / "in", folder / f"{number}.s1p"
    rows = "".join(f"{7 + k / 100:.2f} 0.3 {number * 1e-6 + k / 50:.6f}\n" for k in range(11))
    new.write_text("# MHz S RI R 50\n" + rows)
    words = {
        "add": ["add", str(new), "--log", str(log)],
        "edit": ["edit", "1", "--set", f"sweep_note=n{number}", "--log", str(log)],
        "import": ["import", str(source), "--log", str(folder / f"new{number}.sqlite")],
        "export": ["export", str(folder / "out"), "--force", "--log", str(log)],
    }[kind]
    with open_logbook(log) as opened:
        before = len(list_sweeps(opened))
    ended, out, _ = run(words, folder, kill_after_s=moment)
    lost = 0
    with open_logbook(log) as opened:
        lost += len(check_logbook(opened).problems)
        now = list_sweeps(opened)
        lost += not before <= len(now) <= before + 1
        lost += sum(int(one) not in {sweep.id for sweep in now} for one in out.split() if kind == "add")
        lost += sum(not raw_bytes(opened, sweep) for sweep in now)
    if kind == "import" and (folder / f"new{number}.sqlite").exists():
        with open_logbook(folder / f"new{number}.sqlite", create=True) as fresh:
            lost += len(check_logbook(fresh).problems) + (len(list_sweeps(fresh)) not in (0, 21))
    if kind == "export":
        run(["export", str(folder / "out"), "--log", str(log)], folder)  # refused, but puts things right
        lost += exported(folder / "out", folder / "scratch.sqlite") < 21
        lost += sum(name.startswith(".out") for name in os.listdir(folder))
    return ended, lost


def study(count, seed):
    """Ended and lost by command, each killed so many times."""
    chance, ended, lost = random.Random(seed), Counter(), Counter()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fill(folder / "log.sqlite")
        run(["export", "in", "--log", "log.sqlite"], folder)
        took_s = run(["export", "out", "--log", "log.sqlite"], folder)[2]
        for number in range(count):
            for kind in ("add", "edit", "import", "export"):
                one = kill_one(kind, folder, number, took_s * chance.uniform(0.2, 1.2))
                ended[kind] += one[0]
                lost[kind] += one[1]
    return ended, lost


def main():
    """Print what was counted."""
    count, seed = (*map(int, sys.argv[1:]), *(50, 1)[len(sys.argv) - 1 :])
    ended, lost = study(count, seed)
    for kind in ("add", "edit", "import", "export"):
        print(f"{kind}: {count - ended[kind]} of {count} killed at work, lost {lost[kind]}")


if __name__ == "__main__":
    main()
