"""What folds are worth by the wire model, the law beside it, and folds followed as advised.

    python -m tests.models.folds_study law SEED COUNT          # the law of sweepkit/trim/folds.py against COUNT folds
    python -m tests.models.folds_study trims FOLDER SEED TRIES # antennas of ``families``, TRIES folds each
    python -m tests.models.folds_study floor SEED COUNT        # how near one fold can come, needs no wire model

Needs the extra ``models``. A leg over a mirror is half of a dipole in free space; what a fold does is done at its end.
Wires are those of ``sweepkit.antennas.wires_used``; tails lie as they were told to within a sixth, sag and bend.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator

from sweepkit.antennas.wires_used import PERMITTIVITY, RADIUS_M, RATIO, ToldWire, draw_wires
from sweepkit.conversions import FloatArray
from sweepkit.trim.folds import fold_value_m
from tests.models import families, nec, trial
from tests.models.nec import Wire

LEG = 0.24  # of a wavelength
BANDS_HZ = (3.6e6, 7.1e6, 10.1e6, 14.1e6, 21.2e6, 28.3e6)
BARE_SHARE = 0.5
FOLDED = (0.02, 0.05, 0.09, 0.14, 0.20)  # of a quarter wave: nodes of the worth of one tail
# What no model knows: of the spacing, of the worth, and wire that the bend takes, over the spacing.
SPACING_SIGMA, SAG_SIGMA, BEND_SIGMA = 0.15, 0.02, 0.3
WORTH_SIGMA, DEAD_SIGMA = 0.03, 0.25  # of the straight lines of others: their scatter
MOST_SEGMENTS = 250  # of a tail, none longer than its spacing
CLOSEST = 2.4  # spacing over the radius by which wires hold charge: nearer to each other the wire model fails


@dataclass(frozen=True)
class OneWire:
    """Radius [m], and sleeve as ``nec`` takes it."""

    radius_m: float
    sleeve: tuple[float, float] | None

    @property
    def outer_m(self) -> float:
        """Radius with the sleeve."""
        return self.radius_m * (self.sleeve[0] if self.sleeve else 1.0)

    @property
    def charge_m(self) -> float:
        """Radius of a bare wire with its capacitance."""
        ratio, permittivity = self.sleeve or (1.0, 1.0)
        return self.radius_m * float(ratio ** (1 - 1 / permittivity))


def draw_wire(dice: np.random.Generator) -> OneWire:
    """Any wire that people use."""
    sleeve = None if dice.random() < BARE_SHARE else (dice.uniform(*RATIO), dice.uniform(*PERMITTIVITY))
    return OneWire(dice.uniform(*RADIUS_M), sleeve)


def worth_m(wire: OneWire, leg_m: float, fold_m: float, spacing_m: float) -> float:
    """How much shorter a leg acts whose turning point moved by ``fold_m``; no wire is added or taken off."""
    tail_m = fold_m - spacing_m
    pieces = max(3, min(int(np.ceil(tail_m / spacing_m)), MOST_SEGMENTS))
    turn_m = leg_m - fold_m
    folded = _upright(turn_m, tail_m, pieces, wire)
    bend = Wire(
        (0, 0, turn_m), (0, spacing_m, turn_m), max(1, round(spacing_m * pieces / tail_m)), wire.radius_m
    )
    back = Wire((0, spacing_m, turn_m), (0, spacing_m, turn_m - tail_m), pieces, wire.radius_m)
    f_hz = _resonance_hz(
        replace(folded, wires=(*folded.wires, bend, back)), _quarter_hz(leg_m - 0.75 * fold_m)
    )
    acting_m = leg_m - 0.75 * fold_m
    for _ in range(2):
        straight = _upright(acting_m, 0.05 * leg_m, max(4, min(int(0.05 * leg_m / spacing_m), 100)), wire)
        acting_m *= _resonance_hz(straight, f_hz) / f_hz
    return leg_m - acting_m


def _quarter_hz(length_m: float) -> float:
    return LEG * families.SPEED_OF_LIGHT_M_S / length_m


def _upright(top_m: float, fine_m: float, pieces: int, wire: OneWire) -> nec.Antenna:
    """An upright wire whose last ``fine_m`` are cut into ``pieces``; segments grow towards its foot."""
    wires = [Wire((0, 0, top_m - fine_m), (0, 0, top_m), pieces, wire.radius_m)]
    at_m, piece_m, coarse_m = top_m - fine_m, fine_m / pieces, (top_m - fine_m) / 25
    while at_m > 0:
        piece_m = min(1.6 * piece_m, coarse_m)
        count = 2 if piece_m < coarse_m and at_m > 3 * piece_m else max(2, int(np.ceil(at_m / piece_m)))
        below_m = at_m - 2 * piece_m if count == 2 and at_m > 3 * piece_m else 0.0
        wires.append(Wire((0, 0, below_m), (0, 0, at_m), count, wire.radius_m))
        at_m = below_m
    return nec.Antenna(tuple(reversed(wires)), (0, 1), nec.SOILS["perfect"], sleeve=wire.sleeve)


def _resonance_hz(antenna: nec.Antenna, near_hz: float) -> float:
    """Where the reactance is zero, by secants."""
    f_hz, x_ohm = near_hz, nec.z_ohm(antenna, near_hz)[0].imag
    ahead_hz = f_hz * (1 - x_ohm / 700)  # the slope of a thin quarter wave
    for _ in range(3):
        ahead_ohm = nec.z_ohm(antenna, ahead_hz)[0].imag
        if abs(ahead_ohm) < 0.02:
            break
        f_hz, x_ohm, ahead_hz = (
            ahead_hz,
            ahead_ohm,
            ahead_hz - ahead_ohm * (ahead_hz - f_hz) / (ahead_ohm - x_ohm),
        )
    return float(ahead_hz)


class ModelledFold:
    """One tail on one wire: worth over length through the nodes, with what no model knows."""

    def __init__(self, lies: float, quarter_m: float, dice: np.random.Generator) -> None:
        wire = draw_wire(dice)
        self.told = ToldWire(wire.radius_m, wire.outer_m / wire.radius_m)
        spacing_m = lies * np.exp(SPACING_SIGMA * dice.standard_normal())
        spacing_m = max(spacing_m, 2 * wire.outer_m, CLOSEST * wire.charge_m)
        longest_m = min(FOLDED[-1] * quarter_m, MOST_SEGMENTS * spacing_m)
        folds_m = np.maximum(np.array(FOLDED) / FOLDED[-1] * longest_m, spacing_m * np.array([2, 3, 4, 5, 6]))
        worths_m = np.array([worth_m(wire, quarter_m, fold_m, spacing_m) for fold_m in folds_m])
        more_m = BEND_SIGMA * spacing_m * dice.standard_normal()
        more_m = np.clip(more_m, -0.5 * spacing_m, 0.5 * spacing_m)
        worths_m = worths_m * (1 + SAG_SIGMA * dice.standard_normal()) + more_m
        dead_m = max(folds_m[0] - worths_m[0] * (folds_m[1] - folds_m[0]) / (worths_m[1] - worths_m[0]), 0.0)
        past_m = folds_m[-1] + np.array([1.0, 2.0]) * quarter_m
        slope = (worths_m[-1] - worths_m[-2]) / (folds_m[-1] - folds_m[-2])
        nodes = [-1.0, min(dead_m, 0.9 * folds_m[0]), *folds_m, *past_m]
        values = [0.0, 0.0, *worths_m, *(worths_m[-1] + slope * (past_m - folds_m[-1]))]
        self._value_m = PchipInterpolator(nodes, values)
        self._ends_m = (nodes[1], float(past_m[-1]))

    def value_m(self, tail_m: float) -> float:
        """What a fold is worth."""
        return float(self._value_m(tail_m))

    def tail_worth_m(self, value_m: float) -> float:
        """The fold that is worth so much."""
        low_m, high_m = self._ends_m
        for _ in range(50):
            middle_m = (low_m + high_m) / 2
            low_m, high_m = (low_m, middle_m) if self.value_m(middle_m) > value_m else (middle_m, high_m)
        return low_m


def law(seed: str, count: str) -> None:
    """Print how far the law is from the model, over the leg."""
    dice, misfits = np.random.default_rng([int(seed), 77]), []
    for _ in range(int(count)):
        wire, leg_m = draw_wire(dice), LEG * families.SPEED_OF_LIGHT_M_S / float(dice.choice(BANDS_HZ))
        spacing_m = max(
            np.exp(dice.uniform(np.log(0.003), np.log(0.06))), 2 * wire.outer_m, CLOSEST * wire.charge_m
        )
        fold_m = min(max(leg_m * dice.uniform(0.02, 0.20), 3 * spacing_m), MOST_SEGMENTS * spacing_m)
        there_m = worth_m(wire, leg_m, fold_m, spacing_m)
        k = 2 * np.pi * LEG / leg_m
        by_law_m = fold_value_m(*(np.array([v]) for v in (fold_m, spacing_m, wire.charge_m)), k)[0]
        misfits.append(100 * (by_law_m - there_m) / leg_m)
    size = np.abs(misfits)
    print(
        f"{count} folds, % of the leg: middle {np.median(misfits):+.3f}, size {np.median(size):.3f} / ",
        end="",
    )
    print(f"{np.quantile(size, 0.9):.3f} / {size.max():.2f}")


def trims(folder: str, seed: str, tries: str) -> None:
    """Print how far folds miss that are made as advised."""
    specimens = [
        specimen
        for path in sorted(Path(folder).glob("*.npz"))
        for specimen in families.load(path)
        if specimen.spec.kind in ("dipole", "inverted-vee", "vertical", "end-fed")  # wires with an open end
    ]
    print("folds | n | one fold | two folds | a fold, then a cut | holds")
    for told in ("wire and lie", "lie", "nothing"):
        outcomes = []
        for number, specimen in enumerate(specimens):
            for k in range(int(tries)):
                outcome = trial.try_folds(
                    specimen,
                    1_000_000 * int(seed) + 100 * number + k,
                    told=told != "nothing",
                    wire_told=told == "wire and lie",
                    fold=ModelledFold,
                )
                if outcome is not None:
                    outcomes.append(outcome)
        print(f"{told} | {trial.fold_summary(outcomes)}", flush=True)


def floor(seed: str, count: str) -> None:
    """Print what one fold misses by, in % of the leg, that is made by the middle of what tails like it do.

    Neither the antenna's answer to length nor the sweep err here: what is left is how the tail lies and its wire.
    """
    dice, n = np.random.default_rng([int(seed), 78]), int(count)
    leg_m = LEG * families.SPEED_OF_LIGHT_M_S / dice.choice(families.BANDS_HZ, n)
    needed_m = leg_m * dice.uniform(0.02, 0.08, n)
    for lies, (worth, low_m, high_m) in trial.FOLDS_MODELLED.items():
        dead_m = (low_m + high_m) / 2
        fold_m = needed_m / worth + dead_m
        real_m = dead_m * np.exp(DEAD_SIGMA * dice.standard_normal(n))
        did_m = worth * (1 + WORTH_SIGMA * dice.standard_normal(n)) * np.maximum(fold_m - real_m, 0.0)
        print(f"lines, {lies}: {_off(did_m - needed_m, leg_m)}")
    wires = draw_wires(n, dice)
    usual_m = np.full(n, np.exp(np.mean(np.log(wires.charge_m))))
    for lies in (0.005, 0.02, 0.05):
        for told, charge_m in (("lie", usual_m), ("lie and wire", wires.charge_m)):
            spacing_m = lies * np.exp(SPACING_SIGMA * dice.standard_normal(n))
            spacing_m = np.maximum(spacing_m, np.maximum(2 * wires.outer_m, CLOSEST * wires.charge_m))
            fold_m = _fold_worth(needed_m, np.maximum(lies, CLOSEST * charge_m), charge_m)
            did_m = fold_value_m(fold_m, spacing_m, wires.charge_m) * (
                1 + SAG_SIGMA * dice.standard_normal(n)
            )
            did_m += np.clip(BEND_SIGMA * dice.standard_normal(n), -0.5, 0.5) * spacing_m
            print(f"wires, {told} told, {lies}: {_off(did_m - needed_m, leg_m)}")


def _fold_worth(value_m: FloatArray, spacing_m: FloatArray, charge_m: FloatArray) -> FloatArray:
    """The fold that the law says is worth so much."""
    low_m, high_m = 1.01 * spacing_m, value_m / 0.3 + 3 * spacing_m
    for _ in range(50):
        middle_m = (low_m + high_m) / 2
        is_less = fold_value_m(middle_m, spacing_m, charge_m) < value_m
        low_m, high_m = np.where(is_less, middle_m, low_m), np.where(is_less, high_m, middle_m)
    return low_m


def _off(missed_m: FloatArray, leg_m: FloatArray) -> str:
    """Median / 90th percentile in percent of the leg."""
    size = 100 * np.abs(missed_m / leg_m)
    return f"{np.median(size):.3f} / {np.quantile(size, 0.9):.2f}"


if __name__ == "__main__":
    {"law": law, "trims": trims, "floor": floor}[sys.argv[1]](*sys.argv[2:])
