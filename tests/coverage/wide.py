"""How often the intervals of every dip hold in sweeps over many bands, behind real lines and real analyzers.

    python -m tests.coverage.wide --n 64 --seed 1

Antennas of :mod:`tests.models.wide_antennas` over 3 to 30 MHz, each with several dips; lines, joints and analyzer of
:mod:`tests.models.set_ups`. Nothing is told but type and length of the line. Counted are the true dips below SWR 3.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from sweepkit.reviews import review
from sweepkit.sweep import Sweep
from tests.models.set_ups import joint, make_coax, read_off
from tests.models.wide_antennas import WideAntenna, read

LOW_HZ, HIGH_HZ = 3e6, 30e6
WORTH = 0.5  # of the reflection: dips below SWR 3
NEAR = 0.02  # of the frequency: a dip farther off is another one
KINDS = ("dipole", "vee", "vertical", "loop", "fan", "end-fed", "random wire")


def true_dips(f_hz: np.ndarray, z_ohm: np.ndarray) -> list[tuple[float, float]]:
    """Frequency and SWR of each dip worth it."""
    size = np.abs((z_ohm - 50) / (z_ohm + 50))
    low = np.flatnonzero((size[1:-1] < size[:-2]) & (size[1:-1] < size[2:]) & (size[1:-1] < WORTH)) + 1
    return [(float(f_hz[k]), float((1 + size[k]) / (1 - size[k]))) for k in low]


def swept(antenna: WideAntenna, dice: np.random.Generator) -> tuple[Sweep, str, list[tuple[float, float]]]:
    """A sweep through a line, what is told of it, and the truth at the feedpoint."""
    dense_hz = np.linspace(LOW_HZ, HIGH_HZ, 16201)
    dense_ohm = antenna.z_ohm(dense_hz, dice)
    every = int(dice.choice([40, 27, 20]))  # 406, 601 or 811 points
    f_hz, z_ohm = dense_hz[::every], dense_ohm[::every]
    kind, told_m = str(dice.choice(["RG-58", "RG-213", "RG-8X"])), round(float(dice.uniform(2, 20)), 1)
    coax = make_coax(kind, told_m, dice)
    z_ohm = joint(f_hz, coax.seen_through(f_hz, joint(f_hz, z_ohm, dice), coax.length_m), dice)
    gamma = (z_ohm - 50) / (z_ohm + 50)
    gamma = read_off(f_hz, gamma, dice.uniform(0.0005, 0.002), dice, in_ohms=False)
    return Sweep.from_gamma(f_hz, gamma), f"{kind} {told_m} m", true_dips(dense_hz, dense_ohm)


def counted(n: int, seed: int) -> Iterator[tuple[str, float, bool, bool]]:
    """Kind, error of the dip in per cent, and whether dip and SWR were held, for each true dip."""
    antennas = [antenna for antenna in read() if antenna.kind in KINDS]
    for k in range(n):
        antenna = antennas[k % len(antennas)]
        dice = np.random.default_rng([seed, k])
        sweep, line, truth = swept(antenna, dice)
        seen = review(sweep, bands=(), draws=500, lines=(line,)).feedpoint
        for f_hz, swr in truth:
            dips = [dip for dip in seen.dips if dip.f_hz.value and abs(dip.f_hz.value / f_hz - 1) < NEAR]
            if dips:
                dip = min(dips, key=lambda each: abs(each.f_hz.value - f_hz))
                held = dip.f_hz.low <= f_hz <= dip.f_hz.high
                yield (
                    antenna.kind,
                    100 * abs(dip.f_hz.value / f_hz - 1),
                    held,
                    dip.swr.low <= swr <= dip.swr.high,
                )
            else:
                yield antenna.kind, np.nan, False, False


def main() -> None:
    """Rows by kind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=64)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rows = defaultdict(list)
    for kind, *row in counted(asked.n, asked.seed):
        rows[kind].append(row)
        rows["all"].append(row)
    for kind, row in rows.items():
        error, dip, swr = np.array(row, dtype=float).T
        print(
            f"{kind:12s} {len(row):4d} dips; held {100 * dip.mean():.0f} % (dip), {100 * swr.mean():.0f} % (SWR); "
            f"error {np.nanmedian(error):.3f} / {np.nanquantile(error, 0.95):.3f} %, missing {np.isnan(error).sum()}"
        )


if __name__ == "__main__":
    main()
