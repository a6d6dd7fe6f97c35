"""How often the ladder is right, on modelled antennas that are swept again, joined anew and put up again.

``python -m tests.comparison.ladder_rates [pairs [wire|whip|end-fed|log]]``.

The analyzer has what the product is not told: directivity of 35 to 46 dB with a phase that drifts over frequency,
source match and tracking of 30 to 40 dB, drift between two sweeps of one calibration, and an antenna that keeps 0.003
of another shape when it is put up again.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

from sweepkit.comparison import ComparedSetup, compare_setups, setups_from_log
from sweepkit.logbook import NewSetup, NewSweep, add_sweeps, list_sweeps, open_logbook
from sweepkit.records.against import say_against
from sweepkit.reviews import review, summarise
from sweepkit.sweep import Sweep
from tests.coverage.antennas import series, table

ANTENNAS = {
    "wire": (
        "dipole",
        [("dipole_40m", 6.7e6, 7.5e6), ("dipole_20m_low", 13.5e6, 15.0e6), ("vee_80m", 3.4e6, 4.0e6)],
    ),
    "whip": ("loaded-whip", [("whip", 6.2e6, 8.4e6)]),
    "end-fed": ("end-fed", [("end_fed_40m", 6.45e6, 7.45e6)]),
}
DIP_SD = {
    body: (1e-4 / 2**0.5, 1e-3 / 2**0.5, sd)
    for body, sd in (("wire", 0.004), ("whip", 0.015), ("end-fed", 0.008))
}
R_SD = {body: (0.007, 0.014, sd) for body, sd in (("wire", 0.08), ("whip", 0.12), ("end-fed", 0.12))}
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


def swept(dice, case, span, **more):
    """The figures of one sweep."""
    sweep = Sweep.from_gamma(*written(dice, case, span, **more))
    return summarise(review(sweep, measured_at="feedpoint", bands=(), draws=100))


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


def impedance(name):
    """A wire from its table; a whip as the resonator it is, since no table is wide enough to put it up again."""
    return series(30.0, 44.0, 7.1e6) if name == "whip" else table(name).z_ohm


def pair(dice, body, rung, shift):
    """Two setups of one antenna with a rung between them, and a shift of the second."""
    kind, cases = ANTENNAS[body]
    name, *span = cases[dice.integers(len(cases))]
    errors = analyzer(dice)
    setups = []
    for k in range(2):
        other = analyzer(dice)
        if rung < 2:  # one outing, one calibration that drifts
            other = [(1 - DRIFT) * a + DRIFT * b for a, b in zip(errors, other, strict=True)]
        figures = swept(
            dice,
            impedance(name),
            span,
            dip=DIP_SD[body][rung] * dice.standard_normal() + k * shift,
            r=R_SD[body][rung] * dice.standard_normal(),
            shape=SHAPE if rung == 2 else 0.0,
            errors=other,
        )
        setups.append(ComparedSetup(f"{k}", {"antenna": name, "kind": kind}, (figures,), told=False))
    return setups


def logged(dice, shift, folder):
    """The words of ``log add`` on a setup that kept standing, and of ``compare --kept`` on it, after earlier setups."""
    name, *span = ANTENNAS["wire"][1][dice.integers(len(ANTENNAS["wire"][1]))]
    told = {"antenna": name, "kind": "dipole", "site": "ridge"}
    errors = analyzer(dice)
    with open_logbook(folder / f"{dice.integers(1 << 60)}.sqlite", create=True, tell=str) as log:
        for k in range(EARLIER + 1):
            at = {
                "dip": DIP_SD["wire"][2] * dice.standard_normal(),
                "r": R_SD["wire"][2] * dice.standard_normal(),
            }
            first = file_of(*written(dice, impedance(name), span, shape=SHAPE, errors=errors, **at))
            add_sweeps(log, [NewSweep(f"{k}.s1p", first, AT_FEEDPOINT)], setup=NewSetup(told))
        other = [(1 - DRIFT) * a + DRIFT * b for a, b in zip(errors, analyzer(dice), strict=True)]
        again = at | {"dip": at["dip"] + DIP_SD["wire"][0] * dice.standard_normal() + shift}
        now = file_of(*written(dice, impedance(name), span, shape=0.0, errors=other, **again))
        add_sweeps(log, [NewSweep("now.s1p", now, AT_FEEDPOINT)], setup=EARLIER + 1)
        line = say_against(log, list_sweeps(log)[-1])
        setups = setups_from_log(log)
        before = setups[-1].sweeps[0] if len(setups[-1].sweeps) > 1 else None
    return "more than joining anew explains" in line and "no more" not in line, before is None


def file_of(f_hz, gamma):
    """A Touchstone file."""
    rows = [f"{f:.1f} {g.real:.6f} {g.imag:.6f}" for f, g in zip(f_hz, gamma, strict=True)]
    return ("# HZ S RI R 50\n" + "\n".join(rows) + "\n").encode()


def through_the_log(pairs):
    """Changes of a setup that keeps standing, as ``log add`` says them and the gate before averages holds them."""
    for shift in (0.0, 0.005, 0.01, -0.01):
        dice = np.random.default_rng(31 + abs(round(1e4 * shift)))
        with tempfile.TemporaryDirectory() as folder:
            said = [logged(dice, shift, Path(folder)) for _ in range(pairs)]
        words, gates = (sum(one) for one in zip(*said, strict=True))
        print(
            f"log {100 * shift:.1f} %: log add says it {words}, not averaged {gates}, of {pairs}", flush=True
        )


def main(pairs, only=""):
    """One row for each body, rung and shift."""
    if only in ("", "log"):
        through_the_log(pairs)
    rungs = ("swept-again", "joined-anew", "put-up-again")
    rows = [
        ("wire", 0, 0.0),
        ("wire", 1, 0.0),
        ("wire", 2, 0.0),
        ("whip", 0, 0.0),
        ("whip", 1, 0.0),
        ("whip", 2, 0.0),
    ]
    rows += [("wire", 0, 0.005), ("wire", 1, 0.005), ("whip", 0, 0.005), ("wire", 0, 0.01), ("wire", 2, 0.02)]
    rows += [("wire", 2, 0.03), ("whip", 2, 0.05), ("whip", 2, 0.1), ("whip", 2, -0.1), ("whip", 2, 0.15)]
    rows += [("end-fed", rung, 0.0) for rung in range(3)]
    rows += [("end-fed", 0, 0.005), ("end-fed", 1, 0.005), ("end-fed", 0, 0.01), ("end-fed", 2, 0.04)]
    for body, rung, shift in (row for row in rows if only in row[0]):
        dice = np.random.default_rng(100 * rung + abs(round(1e4 * shift)) + len(body))
        dips, sides, untold = 0, 0, 0
        for _ in range(pairs):
            setups = pair(dice, body, rung, shift)
            found = compare_setups(setups, told=rungs[rung])
            words = {one.quantity: one.verdict for one in found.differences}
            dips += words["dip_hz"] == "different"
            sides += "different" in words.values()
            plain = compare_setups(setups)
            untold += plain.differences[0].verdict == "same"
        print(
            f"{body} {rungs[rung]} {100 * shift:.1f} %: dip different {dips}, dip or R {sides}, "
            f"untold same {untold}, of {pairs}",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40, *sys.argv[2:3])
