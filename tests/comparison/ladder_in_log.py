"""How often ``log add`` names at once that a wire which kept standing has moved.

``python -m tests.comparison.ladder_in_log [pairs]``.

The analyzer has what the product is not told: directivity of 35 to 46 dB with a phase that drifts over frequency,
source match and tracking of 30 to 40 dB, drift between two sweeps of one calibration, and an antenna that keeps 0.003
of another shape when it is put up again. Other rungs: ``tests.comparison.ladder_commands``.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

from sweepkit.comparison.gather import setups_from_log
from sweepkit.logbook import list_sweeps, open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps
from sweepkit.records.nearest import say_against
from tests.coverage.antennas import table

WIRES = [("dipole_40m", 6.7e6, 7.5e6), ("dipole_20m_low", 13.5e6, 15.0e6), ("vee_80m", 3.4e6, 4.0e6)]
SWEPT_AGAIN_SD, PUT_UP_SD = 1e-4 / 2**0.5, 0.004  # of ln f of the dip
R_SD = 0.08  # of ln R, put up again
AT_FEEDPOINT = {"measured_at": "feedpoint"}
EARLIER = 2  # setups in the logbook before the one that keeps standing
POINTS, NOISE, SHAPE, DRIFT = 161, 0.001, 0.003, 0.1


def analyzer(dice):
    """Directivity, tracking and source match as slow functions of frequency over one sweep."""
    t = np.linspace(0, 1, POINTS)

    def slow(size):
        phase, turn = dice.uniform(0, 2 * np.pi), dice.normal(0, 1.0)
        return size * (1 + 0.2 * dice.standard_normal() * t) * np.exp(1j * (phase + turn * t))

    size = [10 ** (-dice.uniform(low, high) / 20) for low, high in ((35, 46), (30, 40), (30, 40))]
    return [slow(one) for one in size]


def written(dice, case, span, *, dip, r, shape, errors):
    """One sweep as its file would hold it."""
    f_hz = np.linspace(*span, POINTS)
    z_ohm = case(f_hz / np.exp(dip))
    z_ohm = z_ohm.real * np.exp(r) + 1j * z_ohm.imag
    gamma = (z_ohm - 50) / (z_ohm + 50)
    gamma = gamma + shape * (dice.standard_normal() + 1j * dice.standard_normal()) / 2**0.5
    directivity, tracking, match = errors
    gamma = directivity + gamma * (1 + tracking) / (1 - match * gamma)
    noise = NOISE / 2**0.5 * (dice.standard_normal(POINTS) + 1j * dice.standard_normal(POINTS))
    return f_hz, gamma + noise


def logged(dice, shift, folder):
    """The words of ``log add`` on a setup that kept standing, and of ``compare --kept`` on it, after earlier setups."""
    name, *span = WIRES[dice.integers(len(WIRES))]
    told = {"antenna": name, "kind": "dipole", "site": "ridge"}
    errors = analyzer(dice)
    with open_logbook(folder / f"{dice.integers(1 << 60)}.sqlite", create=True, tell=str) as log:
        for k in range(EARLIER + 1):
            at = {"dip": PUT_UP_SD * dice.standard_normal(), "r": R_SD * dice.standard_normal()}
            first = file_of(*written(dice, table(name).z_ohm, span, shape=SHAPE, errors=errors, **at))
            add_sweeps(log, [NewSweep(f"{k}.s1p", first, AT_FEEDPOINT)], setup=NewSetup(told))
        other = [(1 - DRIFT) * a + DRIFT * b for a, b in zip(errors, analyzer(dice), strict=True)]
        again = at | {"dip": at["dip"] + SWEPT_AGAIN_SD * dice.standard_normal() + shift}
        now = file_of(*written(dice, table(name).z_ohm, span, shape=0.0, errors=other, **again))
        add_sweeps(log, [NewSweep("now.s1p", now, AT_FEEDPOINT)], setup=EARLIER + 1)
        line = say_against(log, list_sweeps(log)[-1])
        setups = setups_from_log(log)
        before = setups[-1].sweeps[0] if len(setups[-1].sweeps) > 1 else None
    return "more than joining anew explains" in line and "no more" not in line, before is None


def file_of(f_hz, gamma):
    """A Touchstone file."""
    rows = [f"{f:.1f} {g.real:.6f} {g.imag:.6f}" for f, g in zip(f_hz, gamma, strict=True)]
    return ("# HZ S RI R 50\n" + "\n".join(rows) + "\n").encode()


def main(pairs):
    """One line for each shift."""
    for shift in (0.0, 0.005, 0.01, -0.01):
        dice = np.random.default_rng(31 + abs(round(1e4 * shift)))
        with tempfile.TemporaryDirectory() as folder:
            said = [logged(dice, shift, Path(folder)) for _ in range(pairs)]
        words, gates = (sum(one) for one in zip(*said, strict=True))
        print(f"{100 * shift:.1f} %: log add says it {words}, not averaged {gates}, of {pairs}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 15)
