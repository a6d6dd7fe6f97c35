"""How often a healthy sweep is blamed, coarse and wide ones, ones through a line and ones without phase included.

    python -m tests.coverage.healthy --n 500        # a table of docs/sweep-health.md

Noise is 0.0002 to 0.01, the directivity error 35 to 46 dB on every second sweep, 1 to 30 m of line with loss in
front of every second one, and 11 to 801 points.
"""

from __future__ import annotations

import argparse
from collections import Counter

import numpy as np

from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.coverage.antennas import NARROW_TABLES, Case, parallel, series, side_by_side, table

CODES = ("reflection-above-one", "interference", "jagged", "loose-joint", "wrong-plane")
POINTS = (11, 21, 31, 51, 101, 201, 401, 801)
FAMILIES = {
    "narrow": "modelled antennas, one band",
    "wide": "modelled dipole and end-fed, 1 to 30 and 3 to 30 MHz",
    "whip": "one narrow dip (Q 20 to 300), 1 to 30 MHz",
    "several": "two to five dips, 1 to 30 MHz",
    "loop": "very narrow dip (Q 150 to 1200), 4 % of its frequency",
    "high-r": "14.0 to 14.35 MHz, R 55 to 200 ohm",
}


def draw_healthy(family: str, dice: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies and reflection of one healthy sweep."""
    case = _case(family, dice)
    f_hz = np.linspace(case.low_hz, case.high_hz, int(dice.choice(POINTS)))
    z_ohm = case.z_ohm(f_hz)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    if dice.random() < 0.5:
        length_m, speed = dice.uniform(1, 30), 299_792_458.0 * 0.66
        loss = 0.0015 * length_m * np.sqrt(f_hz / 1e6)  # Np one way, a thin coax; common practice, no source
        gamma = gamma * np.exp(-4j * np.pi * f_hz * length_m / speed - 2 * loss)
    if dice.random() < 0.5:
        gamma = gamma + 10 ** (-dice.uniform(35, 46) / 20) * np.exp(2j * np.pi * dice.random())
    noise = float(np.exp(dice.uniform(np.log(2e-4), np.log(0.01)))) / np.sqrt(2)
    return f_hz, gamma + noise * (dice.standard_normal(f_hz.size) + 1j * dice.standard_normal(f_hz.size))


def _case(family: str, dice: np.random.Generator) -> Case:
    if family == "narrow":
        return table(str(dice.choice(NARROW_TABLES)))
    if family == "wide":
        return table(str(dice.choice(["dipole_40m_wide", "end_fed_40m_wide"])))
    if family == "whip":
        q = float(np.exp(dice.uniform(np.log(20), np.log(300))))
        return Case(family, series(dice.uniform(15, 60), q, dice.uniform(3.5e6, 29e6)), 1e6, 30e6)
    if family == "several":
        bands_hz = (3.6e6, 7.1e6, 14.2e6, 21.2e6, 28.5e6)[: int(dice.integers(2, 6))]
        q = np.exp(dice.uniform(np.log(8), np.log(80), len(bands_hz)))
        branches = [
            series(dice.uniform(20, 90), each, f_hz * dice.uniform(0.97, 1.03))
            for each, f_hz in zip(q, bands_hz, strict=True)
        ]
        return Case(family, side_by_side(*branches), 1e6, 30e6)
    if family == "loop":
        f0_hz = float(dice.choice([7.1e6, 14.2e6, 29e6]))
        q = float(np.exp(dice.uniform(np.log(150), np.log(1200))))
        loop = series(dice.uniform(20, 90), q, f0_hz * dice.uniform(0.995, 1.005))
        return Case(family, loop, 0.98 * f0_hz, 1.02 * f0_hz)
    kind = series if dice.random() < 0.5 else parallel
    z_ohm = kind(dice.uniform(55, 200), dice.uniform(6, 20), 14.2e6 * dice.uniform(0.98, 1.02))
    return Case(family, z_ohm, 14.0e6, 14.35e6)


def run_healthy(n: int, *, seed: int = 41, has_phase: bool = True) -> dict[str, Counter[str]]:
    """What was said of ``n`` healthy sweeps of each family."""
    said: dict[str, Counter[str]] = {}
    for number, family in enumerate(FAMILIES):
        said[family] = Counter(n=n)
        for trial in range(n):
            f_hz, gamma = draw_healthy(family, np.random.default_rng([seed, number, trial]))
            sweep = Sweep.from_gamma(f_hz, gamma) if has_phase else Sweep.from_magnitude(f_hz, np.abs(gamma))
            found = review(sweep, draws=0, bands=()).findings
            said[family].update({finding.code for finding in found} & set(CODES))
    return said


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=500)
    n = parser.parse_args().n
    for has_phase in (True, False):
        print("\nwith phase" if has_phase else "\nwithout phase")
        print("| sweeps | " + " | ".join(CODES) + " |\n|---|" + "---|" * len(CODES))
        for family, counts in run_healthy(n, has_phase=has_phase).items():
            print(f"| {FAMILIES[family]} | " + " | ".join(f"{counts[code] / n:.2%}" for code in CODES) + " |")
