"""How often a line in front is seen, and how often one is seen that is not there: the table of docs/feedline.md.

    python -m tests.feedline.table_of_guesses 200

Sweeps round a dip come from tests.models.set_ups (8 kinds, real lines and analyzers), wide ones from
tests.models.wide_wires, long wires through 1:1, 4:1, 9:1 and 49:1 among them. Nothing here needs PyNEC.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator

import numpy as np

from sweepkit.feedline.likely import LineGuess, guess_line
from tests.models.set_ups import Array, draw_set_up, joint, make_coax, read_off
from tests.models.wide_wires import read_wires

NO_LINE = "none"
ROUND_A_DIP = (NO_LINE, "under 5 m", "5 to 15 m", "15 to 30 m", "75 ohm")
WIDE_SPANS = ((1.5e6, 29.9e6, 401), (3e6, 29.9e6, 201), (5e6, 15e6, 201), (10e6, 20e6, 201))
WIDE_LINES_M = (0, 10, 15, 25)


def round_a_dip(line_class: str, count: int, *, seed: int = 7) -> Iterator[tuple[str, Array, Array]]:
    """Kind of antenna, frequencies and reflection of sweeps round one dip."""
    for k in range(count):
        set_up = draw_set_up((seed, k), line_class=line_class)
        yield set_up.family, set_up.f_hz, set_up.gamma


def wide(line_m: float, *, seed: int = 3) -> Iterator[tuple[str, Array, Array]]:
    """The same of sweeps over many bands."""
    for n, wire in enumerate(read_wires()):
        for k, (start_hz, stop_hz, points) in enumerate(WIDE_SPANS):
            dice = np.random.default_rng([seed, n, k, int(line_m)])
            f_hz = np.linspace(start_hz, stop_hz, points)
            z_ohm = wire.z_ohm(f_hz, np.random.default_rng([seed + 6, n, k]))
            if line_m:
                coax = make_coax(str(dice.choice(["RG-58", "RG-8X", "RG-213"])), line_m, dice)
                z_ohm = joint(f_hz, coax.seen_through(f_hz, joint(f_hz, z_ohm, dice)), dice)
            yield wire.kind, f_hz, read_off(f_hz, (z_ohm - 50) / (z_ohm + 50), 0.001, dice, in_ohms=False)


def answers(sweeps: Iterator[tuple[str, Array, Array]]) -> dict[str, Counter[str]]:
    """How often each answer was given, by kind of antenna and for all."""
    told: dict[str, Counter[str]] = {"all": Counter()}
    for kind, f_hz, gamma in sweeps:
        guess: LineGuess = guess_line(f_hz, gamma)
        for key in ("all", kind):
            told.setdefault(key, Counter())[guess.answer] += 1
    return told


def print_rows(name: str, line: str, told: dict[str, Counter[str]]) -> None:
    for kind, counts in sorted(told.items()):
        n = counts.total()
        shares = " / ".join(f"{counts[a] / n:.0%}" for a in ("likely", "none seen", "cannot say"))
        print(f"| {name} | {line} | {kind} | {shares} of {n} |", flush=True)


def main(count: int) -> None:
    print("| sweep | line | antenna | likely / none seen / cannot say |\n|---|---|---|---|")
    for line_class in ROUND_A_DIP:
        print_rows("round a dip", line_class, answers(round_a_dip(line_class, count)))
    for line_m in WIDE_LINES_M:
        print_rows("10 to 28 MHz wide", f"{line_m} m", answers(wide(line_m)))


if __name__ == "__main__":
    main(int(sys.argv[1]))
