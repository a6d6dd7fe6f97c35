"""Peak memory of the real command on a sweep of 100 000 points: below 300 MB whatever is asked of it."""

import subprocess
import sys

import numpy as np
import pytest

from sweepkit.sweep import Sweep
from sweepkit.writers import sweep_text

pytest.importorskip("resource")  # not on Windows

POINTS = 100_000
MOST_MB = 300
LINE = ["--measured-at", "radio", "--line", "RG-58 15 m"]
NOT_TOLD = ["--measured-at", "radio"]
TRIM = ["--kind", "dipole", "--length", "10.1 m", "--target", "7.2 MHz"]

# A process of its own between: what a child is charged with begins with the size of the process it came from.
PEAK = """
import resource, subprocess, sys
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
unit = 2**20 if sys.platform == "darwin" else 2**10  # bytes there, kilobytes elsewhere
print(done.returncode, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / unit, done.stderr[-300:])
"""


def reflection(f_hz, kind):
    if kind == "line":
        return 0.97 * np.exp(-4j * np.pi * f_hz * 35e-9 - np.sqrt(f_hz / 1e6) * 0.01)
    z_ohm = 65 + 1j * 650 * (f_hz / 7.05e6 - 7.05e6 / f_hz)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    return gamma if kind == "feedpoint" else gamma * 0.9 * np.exp(-4j * np.pi * f_hz * 76e-9)


@pytest.fixture(scope="module")
def sweeps(tmp_path_factory):
    folder = tmp_path_factory.mktemp("dense")
    dice = np.random.default_rng(1)
    grids = {
        "feedpoint": np.linspace(6e6, 8.5e6, POINTS),
        "radio": np.linspace(6e6, 8.5e6, POINTS),
        "wide": np.linspace(1e6, 60e6, POINTS),
        "uneven": np.geomspace(1e6, 60e6, POINTS),
        "line": np.linspace(1e6, 60e6, POINTS),
    }
    paths = {"folder": folder}
    for kind, f_hz in grids.items():
        noise = 0.001 * (dice.standard_normal(POINTS) + 1j * dice.standard_normal(POINTS))
        paths[kind] = folder / f"{kind}.s1p"
        sweep = Sweep.from_gamma(f_hz, reflection(f_hz, kind) + noise)
        paths[kind].write_text(sweep_text(sweep, "touchstone"), encoding="utf-8")
    return paths


COMMANDS = {
    "review": ["review", "{feedpoint}", "--measured-at", "feedpoint"],
    "review, line told": ["review", "{radio}", *LINE],
    "review, a line told that does not fit": [
        "review",
        "{wide}",
        "--measured-at",
        "radio",
        "--line",
        "RG-58 35 m",
    ],
    "review, line guessed": ["review", "{wide}", *NOT_TOLD],
    "review, line guessed, uneven": ["review", "{uneven}", *NOT_TOLD],
    "review, a bare line": ["review", "{line}", *NOT_TOLD],
    "review to files": [
        "review",
        "{radio}",
        *LINE,
        "--csv",
        "{out}.csv",
        "--plot",
        "{out}.png",
        "--report",
        "{out}.html",
    ],
    "trim": ["trim", "{feedpoint}", "--measured-at", "feedpoint", *TRIM],
    "trim behind a line": ["trim", "{radio}", *LINE, *TRIM],
    "feedline": ["feedline", "{line}", "--end", "open"],
    "feedline, end not told": ["feedline", "{line}", "--end", "unknown", "--report", "{out}.html"],
    "diagnose": ["diagnose", "{feedpoint}", "--baseline", "{radio}"],
    "diagnose behind a line": ["diagnose", "{radio}", *LINE],
    "plot": ["plot", "{feedpoint}", "{radio}", "-o", "{out}.svg"],
    "compare": ["compare", "{feedpoint}", "{radio}"],
    "convert": ["convert", "{feedpoint}", "--to", "csv", "-o", "{out}.csv"],
    "log add": ["log", "add", "{feedpoint}", "--log", "{out}.db", "--measured-at", "feedpoint"],
}


@pytest.mark.slow
@pytest.mark.parametrize("name", COMMANDS)
def test_a_hundred_thousand_points_stay_below_300_mb(name, sweeps, tmp_path):
    words = [word.format(**sweeps, out=tmp_path / "out") for word in COMMANDS[name]]
    done = subprocess.run(
        [sys.executable, "-c", PEAK, sys.executable, "-m", "sweepkit", *words],
        capture_output=True,
        text=True,
        check=True,
        timeout=600,
    )
    code, peak_mb, *said = done.stdout.split(maxsplit=2)
    assert code == "0", said
    assert float(peak_mb) < MOST_MB
