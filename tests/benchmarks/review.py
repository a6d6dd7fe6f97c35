"""What a review costs, as ratios within one run.

    python -m tests.benchmarks.review        # the table of docs/speed.md

Whole processes, CPU seconds (user and system), pairwise against ``python -c "import skrf"`` in turn, so that a machine
whose speed drifts does not matter; and the ensemble of a thousand draws against a thousand scikit-rf networks.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from sweepkit.writers import sweep_text
from tests.coverage.antennas import series, side_by_side

ROOT = Path(__file__).resolve().parents[2]
RUNS = 9
NETWORKS = 200  # of the thousand; the rest would take as long
BASE = [sys.executable, "-c", "import skrf"]


def two_band_sweep(points: int = 401) -> Sweep:
    """A fan of two wires, seen over both of its bands."""
    dice = np.random.default_rng(1)
    f_hz = np.linspace(6.5e6, 14.9e6, points)
    z_ohm = side_by_side(series(45, 14, 7.1e6), series(60, 12, 14.15e6))(f_hz)
    scatter = dice.standard_normal(points) + 1j * dice.standard_normal(points)
    return Sweep.from_gamma(f_hz, (z_ohm - 50) / (z_ohm + 50) + 0.01 + 0.002 * scatter)


def cpu_s(command: list[str]) -> tuple[float, float]:
    """CPU seconds and peak memory [MB] of one process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, after.ru_maxrss / 1024


def ratio(command: list[str]) -> float:
    """Median of the pairwise ratios to the base command."""
    pairs = [(cpu_s(command)[0], cpu_s(BASE)[0]) for _ in range(RUNS)]
    return statistics.median(one / base for one, base in pairs)


def networks_against_draws(sweep: Sweep, *, behind_line: bool) -> tuple[float, float]:
    """CPU time of a thousand networks over that of a thousand draws, alone and with the rest of the review."""
    import skrf
    from skrf.media import Coaxial

    frequency = skrf.Frequency.from_f(sweep.f_hz, unit="Hz")
    media = Coaxial.from_attenuation_VF(frequency, att=5.2, unit="dB/100m", VF=0.66, z0_port=50)
    line = media.line(15, "m")
    gamma = np.asarray(sweep.gamma)
    start = time.process_time()
    for k in range(NETWORKS):
        network = skrf.Network(frequency=frequency, s=(gamma + 1e-4 * k).reshape(-1, 1, 1), z0=50)
        if behind_line:
            network = line.inv**network
        swr, z_ohm = network.s_vswr[:, 0, 0], network.z[:, 0, 0]
        dip = int(swr.argmin())
        np.interp(2.0, swr[dip : dip + 40].real, sweep.f_hz[dip : dip + 40])
        np.flatnonzero(np.diff(np.sign(z_ohm.imag)))
    networks_s = 1000 / NETWORKS * (time.process_time() - start)
    lines = ["RG-58 15 m"] if behind_line else None
    whole_s, nominal_s = (_review_s(sweep, lines, draws) for draws in (1000, 0))
    return networks_s / (whole_s - nominal_s), networks_s / whole_s


def _review_s(sweep: Sweep, lines: list[str] | None, draws: int) -> float:
    review(sweep, lines=lines, draws=draws)
    start = time.process_time()
    for _ in range(RUNS):
        review(sweep, lines=lines, draws=draws)
    return (time.process_time() - start) / RUNS


def main() -> None:
    sweep = two_band_sweep()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "two_bands.s1p"
        path.write_text(sweep_text(sweep, "touchstone"))
        command = [sys.executable, "-m", "sweepkit"]
        cases = {
            "`sweepkit --help`": [*command, "--help"],
            "review, 401 points, nominal values": [*command, "review", str(path), "--json", "--draws", "0"],
            "review, 401 points, 1000 draws": [*command, "review", str(path), "--json"],
            "the same behind 15 m of line": [*command, "review", str(path), "--json", "--line", "RG-58 15 m"],
        }
        print("| process | CPU over `import skrf` |\n|---|---|")
        for name, words in cases.items():
            print(f"| {name} | {ratio(words):.2f} |")
        print(f"\npeak memory of the last: {cpu_s(cases['the same behind 15 m of line'])[1]:.0f} MB")
    print("\n| 1000 networks, CPU over | 1000 draws | the whole review |\n|---|---|---|")
    for name, behind_line in (("as measured", False), ("with 15 m of line taken out", True)):
        alone, whole = networks_against_draws(sweep, behind_line=behind_line)
        print(f"| {name} | {alone:.0f} | {whole:.0f} |")


if __name__ == "__main__":
    main()
