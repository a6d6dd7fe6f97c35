"""The table of errors in docs/feedline.md: lines of geometric coax (Schelkunoff), measured by sweepkit.

Not a test: ``python -m tests.feedline.table_of_errors 50`` (lines per row; a few minutes).
"""

from __future__ import annotations

import sys

import numpy as np
import skrf
from skrf.media import Coaxial

from sweepkit.feedline.measure import measure_line
from sweepkit.feedline.propagation import DB_PER_NEPER
from sweepkit.feedline.told import Told
from sweepkit.sweep import Sweep

# Inner and outer diameter [m], permittivity, loss tangent, conductivity [S/m] (copper; a braid is worse): made up
# after data sheets of such lines.
GEOMETRIES = (
    (0.90e-3, 2.95e-3, 2.30, 2e-4, 5.8e7 / 1.5),
    (2.25e-3, 7.24e-3, 2.30, 2e-4, 5.8e7),
    (0.48e-3, 1.52e-3, 2.30, 3e-4, 5.8e7),
    (1.42e-3, 3.81e-3, 1.42, 1e-4, 5.8e7),
    (0.58e-3, 3.70e-3, 2.30, 2e-4, 5.8e7),
)
SPANS = ((60e6, 201), (120e6, 401), (230e6, 801))
LENGTHS_M = ((2, 6), (6, 20), (20, 60))


def medium_of(geometry, frequency):
    """The line as a medium of scikit-rf, its ports at 50 ohm."""
    inner_m, outer_m, permittivity, loss_tangent, conductivity = geometry
    medium = Coaxial(
        frequency,
        Dint=inner_m,
        Dout=outer_m,
        epsilon_r=permittivity,
        tan_delta=loss_tangent,
        sigma=conductivity,
    )
    medium.z0_port = 50
    return medium


def swept(geometry, length_m, stop_hz, points, dice):
    """A sweep of an open or shorted line with all errors of an analyzer, its end, and its loss [Np/m]."""
    frequency = skrf.Frequency(1e6, stop_hz, points, unit="Hz")
    medium = medium_of(geometry, frequency)
    end = float(dice.choice([1.0, -1.0]))
    far = skrf.Network(frequency=frequency, s=np.full((points, 1, 1), end + 0j), z0=50)
    true = (medium.line(length_m, "m") ** far).s[:, 0, 0]
    turn = np.exp(2j * np.pi * dice.random(3))
    noise = 10 ** dice.uniform(-3.3, -2.3) / np.sqrt(2) * dice.standard_normal((2, points))
    seen = (
        (1 + 0.003 * turn[0]) * true / (1 - 0.005 * turn[1] * true)
        + 0.01 * turn[2]
        + noise[0]
        + 1j * noise[1]
    )
    return Sweep.from_gamma(frequency.f, seen), "open" if end > 0 else "short", medium.gamma.real


def row(lengths_m, stop_hz, points, count):
    """Errors of length [m] and loss [dB] of ``count`` lines, and how often the intervals hold."""
    dice = np.random.default_rng(int(stop_hz / 1e6) + lengths_m[0])
    lengths, losses, holds = [], [], []
    for k in range(count):
        geometry = GEOMETRIES[k % len(GEOMETRIES)]
        length_m = dice.uniform(*lengths_m)
        sweep, end, neper_per_m = swept(geometry, length_m, stop_hz, points, dice)
        told = Told(velocity_factor=1 / np.sqrt(geometry[2]))
        line = measure_line([(sweep, end)], told, draws=300, seed=k)
        lengths.append(abs(line.length_m.value - length_m))
        true_db = np.interp(line.loss_hz, sweep.f_hz, neper_per_m) * length_m * DB_PER_NEPER
        losses += [abs(loss.value - true) for loss, true in zip(line.loss_db, true_db, strict=True)]
        holds += [loss.low <= true <= loss.high for loss, true in zip(line.loss_db, true_db, strict=True)]
    return lengths, losses, float(np.mean(holds))


def main(count):
    print(
        "| span | line | length, median / 95 % / worst | loss, median / 95 % / worst | loss interval holds |"
    )
    print("|---|---|---|---|---|")
    for stop_hz, points in SPANS:
        for lengths_m in LENGTHS_M:
            lengths, losses, held = row(lengths_m, stop_hz, points, count)
            mm = [
                f"{1e3 * value:.1f}"
                for value in (np.median(lengths), np.quantile(lengths, 0.95), max(lengths))
            ]
            db = [f"{value:.3f}" for value in (np.median(losses), np.quantile(losses, 0.95), max(losses))]
            print(
                f"| 1 to {stop_hz / 1e6:g} MHz, {points} points | {lengths_m[0]} to {lengths_m[1]} m "
                f"| {' / '.join(mm)} mm | {' / '.join(db)} dB | {held:.0%} |",
                flush=True,
            )


if __name__ == "__main__":
    main(int(sys.argv[1]))
