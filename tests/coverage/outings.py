"""What sweeps of one outing gain by sharing line and calibration, and how often they are taken apart.

    python -m tests.coverage.outings --n 60 --sweeps 3

Antennas, lines and analyzers of tests.models.set_ups: one wire at several lengths, a few per cent apart, behind one
line and read with one calibration, which drifts on from sweep to sweep. In one world more the last sweep is read with
another calibration, in a third one through another piece of the same type.
"""

from __future__ import annotations

import argparse
from functools import partial

import numpy as np

from sweepkit.reviews import review
from sweepkit.reviews.outing import learn_outing
from sweepkit.sweep import Sweep
from tests.coverage.set_ups import figures_of
from tests.models import set_ups
from tests.models.set_ups import LINE_CLASSES, Antenna, SetUp, joint, make_coax, read_off, truth_of

FAMILIES = {"dipole": "dipole", "vee": "inverted-vee", "whip": "loaded-whip", "vertical": "vertical"}
WORLDS = ("shared", "another calibration", "another piece")


def draw_outing(seed: int, sweeps: int, world: str) -> list[SetUp]:
    """One wire at several lengths."""
    dice = np.random.default_rng([77, seed])
    family = str(dice.choice([*FAMILIES]))
    fitting = [s for s in set_ups.specimens(set_ups.SPECIMENS) if s.spec.kind == FAMILIES[family]]
    specimen = fitting[int(dice.integers(len(fitting)))]
    first_m = specimen.spec.guess_m * float(dice.uniform(0.97, 1.04))
    line_class = str(dice.choice([name for name in LINE_CLASSES if name != "none"]))
    types = ["RG-59", "RG-6"] if line_class == "75 ohm" else ["RG-58", "RG-213", "RG-8X"]
    type_name, told_m = str(dice.choice(types)), round(float(dice.uniform(*LINE_CLASSES[line_class])), 1)
    found = []
    for k in range(sweeps):
        odd = k == sweeps - 1
        length_m = first_m * (1 + 0.02 * k)
        hz = specimen.spec.target_hz * specimen.spec.guess_m / length_m
        antenna = Antenna(family, partial(specimen.z_ohm, length_m=length_m), 0.823 * hz, 1.177 * hz)
        f_hz = np.linspace(0.87 * hz, 1.13 * hz, 201)
        line_dice = np.random.default_rng([78, seed, odd and world == "another piece"])
        piece = make_coax(type_name, told_m, line_dice)
        z_ohm = piece.seen_through(f_hz, joint(f_hz, antenna.z_ohm(f_hz), line_dice))
        z_ohm = joint(f_hz, z_ohm, line_dice)
        read_dice = np.random.default_rng([79, seed, odd and world == "another calibration"])
        read = read_off(f_hz, (z_ohm - 50) / (z_ohm + 50), 0.0, read_dice, in_ohms=False)
        chance = np.random.default_rng([80, seed, k])
        noise = 0.001 / np.sqrt(2) * (chance.standard_normal(201) + 1j * chance.standard_normal(201))
        drift = 0.001 * complex(*chance.standard_normal(2))
        told = (f"{type_name} {told_m:g} m",)
        found.append(SetUp(family, line_class, "", "", told, f_hz, read * (1 + drift) + noise, antenna))
    return found


def reviewed(some: list[SetUp], *, together: bool) -> tuple[list, bool | None]:
    """The figures of each, and whether they were taken apart (``None`` where nothing is told of it)."""
    sweeps = [Sweep.from_gamma(one.f_hz, one.gamma) for one in some]
    known = {"lines": some[0].told, "measured_at": "radio", "draws": 300}
    outing = learn_outing(sweeps, **known) if together else None
    apart = None if outing is None else outing.finding is not None
    if apart:
        outing = None  # as in the logbook where nobody told that they share
    return [review(sweep, bands=(), outing=outing, **known) for sweep in sweeps], apart


def main() -> None:
    """Print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=60)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--sweeps", type=int, default=2)
    asked = parser.parse_args()
    for world in WORLDS:
        apart, rows = [], {"alone": [], "together": []}
        for seed in range(asked.seed, asked.seed + asked.n):
            some = draw_outing(seed, asked.sweeps, world)
            truths = [truth_of(one) for one in some]
            if any(truth["dip"] is None for truth in truths):
                continue
            for way in rows:
                answers, is_apart = reviewed(some, together=way == "together")
                if way == "together":
                    apart.append(is_apart)
                rows[way].append([figures_of(*both) for both in zip(answers, truths, strict=True)])
                rows[way][-1] = (rows[way][-1], truths)
        counted = [one for one in apart if one is not None]
        print(f"{world}: taken apart {sum(counted)} of {len(counted)}, {apart.count(None)} tell nothing")
        for way, outings in rows.items():
            print(f"  {way}: {'; '.join(_said(outings, name) for name in ('dip', 'swr', 'r', 'x0'))}")


def _said(outings: list, name: str) -> str:
    """Held, error median / 95 %, and that of the difference of the first two."""
    held, error, width, between = [], [], [], []
    for figures, truths in outings:
        off = []
        for found, truth in zip(figures, truths, strict=True):
            figure, true = found.get(name), truth[name]
            if true is None:
                continue
            answered = figure is not None and figure.value is not None
            held.append(answered and figure.low <= true <= figure.high)
            if answered:
                off.append(100 * (figure.value / true - 1))
                width.append(100 * (figure.high - figure.low) / true)
        error += np.abs(off).tolist()
        between += [abs(off[1] - off[0])] if len(off) > 1 else []
    quantiles = "{:.2g} / {:.2g}".format(*np.quantile(error, [0.5, 0.95]))
    return (
        f"{name} {100 * np.mean(held):.0f} of {len(held)}, {quantiles}, width {np.median(width):.2g}, "
        "difference {:.2g} / {:.2g}".format(*np.quantile(between, [0.5, 0.95]))
    )


if __name__ == "__main__":
    main()
