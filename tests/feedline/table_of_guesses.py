"""The table of guessed lines in docs/feedline.md: modelled antennas with and without a line that nobody told of.

Not a test, needs PyNEC: ``python -m tests.feedline.table_of_guesses SEED COUNT`` (antennas per kind; minutes).
"""

from __future__ import annotations

import sys

import numpy as np

from sweepkit.conversions import gamma_from_z
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.delay import group_delay_s
from sweepkit.feedline.likely import guess_line
from sweepkit.lines import catalogued_piece
from tests.feedline.modelled import measured
from tests.models import families, nec

TYPES = ("RG-58", "RG-213", "RG-174", "RG-8X", "240-class foam", "400-class foam")
LENGTHS_M = (0, 5, 10, 20, 30)
NARROW = ((0.04, 101), (0.12, 201))  # half-width over the frequency of the antenna, points
WIDE = ((1e6, 30e6, 401), (5e6, 15e6, 201), (10e6, 20e6, 201))


def narrow_sweeps(seed, count, half_width, points):
    """Reflection of each antenna round the frequency it is made for."""
    for family in families.MAKERS:
        for spec in families.specs(family, seed, count):
            specimen = families.compute(spec)
            middle_hz = spec.target_hz
            f_hz = np.linspace(middle_hz * (1 - half_width), middle_hz * (1 + half_width), points)
            yield f_hz, gamma_from_z(specimen.z_ohm(f_hz, spec.guess_m), 50.0)


def wide_sweeps(seed, count, start_hz, stop_hz, points):
    """Reflection of each antenna over a wide span."""
    f_hz = np.linspace(start_hz, stop_hz, points)
    for family in families.MAKERS:
        for spec in families.specs(family, seed, count):
            z_ohm = nec.z_ohm(families.build(spec, spec.guess_m), f_hz)
            x_ohm = 2 * np.pi * f_hz * spec.coil_h
            z_ohm = z_ohm + spec.series_ohm + x_ohm / spec.coil_q + 1j * x_ohm
            if spec.transformer:
                z_ohm = nec.through_transformer(z_ohm, f_hz, **spec.transformer)
            yield f_hz, gamma_from_z(z_ohm, 50.0)


def print_rows(name, sweeps):
    dice = np.random.default_rng(1)
    for length_m in LENGTHS_M:
        answers, errors_ns, held = [], [], []
        for k, (f_hz, gamma) in enumerate(sweeps):
            pieces = [catalogued_piece(str(dice.choice(TYPES)), length_m)] if length_m else []
            true_s = group_delay_s(f_hz, LineChain(pieces).nominal).mean()
            guess = guess_line(f_hz, measured(f_hz, gamma, pieces, noise=0.002, seed=k))
            answers.append(guess.answer)
            if guess.answer == "likely" and length_m:
                errors_ns.append((guess.one_way_s.value - true_s) * 1e9)
                held.append(guess.one_way_s.low <= true_s <= guess.one_way_s.high)
        shares = " / ".join(
            f"{answers.count(a) / len(answers):.0%}" for a in ("likely", "none seen", "cannot say")
        )
        error = (
            f"{np.median(np.abs(errors_ns)):.0f} / {np.quantile(np.abs(errors_ns), 0.95):.0f}"
            if errors_ns
            else "-"
        )
        holds = f"{np.mean(held):.0%}" if held else "-"
        print(f"| {name} | {length_m} m | {shares} | {error} | {holds} |", flush=True)


def main(seed, count):
    print(
        "| sweep | line | likely / none seen / cannot say | error, median / 95 % (ns, one way) | interval holds |"
    )
    print("|---|---|---|---|---|")
    for half_width, points in NARROW:
        sweeps = list(narrow_sweeps(seed, count, half_width, points))
        print_rows(f"±{half_width:.0%} round the dip, {points} points", sweeps)
    for start_hz, stop_hz, points in WIDE:
        sweeps = list(wide_sweeps(seed + 1, count, start_hz, stop_hz, points))
        print_rows(f"{start_hz / 1e6:g} to {stop_hz / 1e6:g} MHz, {points} points", sweeps)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
