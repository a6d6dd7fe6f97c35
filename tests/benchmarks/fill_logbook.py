"""Fill a logbook with made-up sweeps, through the functions everybody uses.

    python -m tests.benchmarks.fill_logbook demo.sqlite 10000            # 101 points each; a third number: other points

Six antennas at five sites, setups of four sweeps with the facts of the sample outings, one setup every third day. Every
raw file is another one: a dip that moves. What is kept of a review is not made here.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from sweepkit.logbook import open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps

PER_SETUP = 4
FIRST = datetime(2001, 4, 1, 9, tzinfo=UTC)
SITES = ("ridge", "valley", "meadow", "spit", "quarry")
SHARED = {
    "kind": "dipole",
    "parts": ["two legs of bare wire, 1.2 mm"],
    "line": ["RG-58 15 m"],
    "choke": "12 turns on a ring, at the feedpoint",
    "form": "flat",
    "feed_height_m": 9.0,
    "ground": "average",
    "weather": ["dry", "calm"],
    "temperature_c": 14.0,
    "analyzer": "club analyzer",
}


def sweep_bytes(number: int, points: int = 101) -> bytes:
    """A raw file of a dipole, another one for each number."""
    f_hz = np.round(np.linspace(6.6e6, 7.6e6, points))
    dice = np.random.default_rng(number)
    dip_hz, r_ohm = 7.1e6 * (1 + 0.01 * dice.standard_normal()), 65 * np.exp(0.2 * dice.standard_normal())
    z_ohm = r_ohm + 1j * 2 * 12 * 65 * (f_hz / dip_hz - 1)
    noise = 0.001 * (dice.standard_normal(points) + 1j * dice.standard_normal(points))
    gamma = (z_ohm - 50) / (z_ohm + 50) + noise
    rows = zip(f_hz.tolist(), gamma.real.tolist(), gamma.imag.tolist(), strict=True)
    head = f"! made-up sweep {number}\n# Hz S RI R 50\n"
    return (head + "".join(f"{f:.0f} {re:.6f} {im:.6f}\n" for f, re, im in rows)).encode()


def setups(sweeps: int, points: int) -> Iterator[tuple[NewSetup, list[NewSweep]]]:
    """Setups until there are that many sweeps."""
    for setup, first in enumerate(range(0, sweeps, PER_SETUP)):
        facts = SHARED | {"antenna": f"dipole {setup % 6}", "site": SITES[setup % 5]}
        moments = [FIRST + timedelta(hours=72 * setup, minutes=10 * k) for k in range(PER_SETUP)]
        yield (
            NewSetup(facts),
            [
                NewSweep(
                    f"sweep_{first + k}.s1p",
                    sweep_bytes(first + k, points),
                    {"when": moments[k].isoformat(), "measured_at": "radio", "length_m": 10.2, "tail_m": 0.1},
                )
                for k in range(min(PER_SETUP, sweeps - first))
            ],
        )


def fill(path: Path, sweeps: int, points: int = 101) -> None:
    """Add that many sweeps to a logbook, made where there is none."""
    with open_logbook(path, create=True) as log:
        for setup, new in setups(sweeps, points):
            add_sweeps(log, new, setup=setup)


def main(words: list[str]) -> None:
    fill(Path(words[0]), *map(int, words[1:]))


if __name__ == "__main__":
    main(sys.argv[1:])
