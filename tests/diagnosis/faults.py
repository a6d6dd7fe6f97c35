"""How often a fault seeded into a modelled setup is the first or among the first two causes.

    python -m tests.models.make_faults 77 other.npz
    python -m tests.diagnosis.faults --table other.npz --seed 2      # the table of docs/diagnose.md

Antennas of tests/data/models/faults.npz, one thing wrong in each, and faults of the line on the healthy ones:
connected again in between (tests/diagnosis/modelled.py), noise 0.001, a 40 dB directivity error that stays, 151
points over 10 % (whip) or 15 % of the frequency to each side. Kind and line are told; what was changed is not.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from sweepkit.conversions import gamma_from_z, z_from_gamma
from sweepkit.diagnosis.answer import Diagnosis
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import add_chain
from sweepkit.lines import LinePiece, catalogued_piece
from sweepkit.sweep import Sweep
from tests.diagnosis.modelled import Impedance, analyzer_error, nominal, repeated, swept
from tests.models.families import END_FED_REFERENCE_OHM
from tests.models.nec import through_transformer

TABLE = Path(__file__).resolve().parents[1] / "data" / "models" / "faults.npz"
POINTS = 151
LINE_FAULTS = (
    "open-line",
    "shorted-line",
    "line-loss",
    "wrong-impedance-piece",
    "wrong-plane",
    "poor-calibration",
    "loose-joint",
    "interference",
)


PLANE = {"lines": None, "measured_at": "unknown"}
UNTOLD = {"plane": PLANE, "kind": {**PLANE, "kind": None}}


@dataclass(frozen=True)
class Setup:
    """One antenna: its states by name, and the frequencies it is swept at."""

    name: str
    kind: str
    f_hz: np.ndarray
    states: dict[str, Impedance]


@cache
def setups(table: Path = TABLE) -> tuple[Setup, ...]:
    found: dict[str, dict[str, Impedance]] = defaultdict(dict)
    spans: dict[str, np.ndarray] = {}
    with np.load(table) as stored:
        for key in stored:
            kind, number, state = key.split("/")
            f_hz, r_ohm, x_ohm = stored[key].astype(float)
            found[f"{kind}/{number}"][state] = _between(kind, f_hz, r_ohm + 1j * x_ohm)
            spans[f"{kind}/{number}"] = np.linspace(f_hz[0] * 1.001, f_hz[-1] * 0.999, POINTS)
    return tuple(Setup(name, name.split("/")[0], spans[name], states) for name, states in found.items())


def _between(kind: str, f_hz: np.ndarray, z_ohm: np.ndarray) -> Impedance:
    if kind != "end-fed":
        return CubicSpline(f_hz, z_ohm)
    spline = CubicSpline(f_hz, gamma_from_z(z_ohm, END_FED_REFERENCE_OHM))
    return lambda at_hz: through_transformer(z_from_gamma(spline(at_hz), END_FED_REFERENCE_OHM), at_hz)


@dataclass(frozen=True)
class Case:
    """A pair of sweeps, what was done between them, and what is told."""

    truth: str
    setup: Setup
    before: Sweep
    now: Sweep
    line: tuple[LinePiece, ...]

    def diagnosed(self, **known) -> Diagnosis:
        told = {"kind": self.setup.kind, "lines": list(self.line), "measured_at": "radio", "draws": 100}
        return diagnose([self.now], baseline=self.before, **{**told, **known})


def cases(seed: int = 1, table: Path = TABLE) -> Iterator[Case]:
    """Every fault of every setup, once, and nothing wrong."""
    for number, setup in enumerate(setups(table)):
        for fault in [*(state for state in setup.states if state != "healthy"), *LINE_FAULTS, "nothing"]:
            dice = np.random.default_rng([seed, number, *fault.encode()])
            yield _case(setup, fault, dice)


def _case(setup: Setup, fault: str, dice: np.random.Generator) -> Case:
    length_m = float(dice.uniform(6, 20))
    line = (catalogued_piece("RG-58", length_m),) if fault in LINE_FAULTS or dice.random() < 0.5 else ()
    healthy, known = setup.states["healthy"], {"error": analyzer_error(dice), "line": line}
    before = swept(repeated(healthy, dice, "reconnected"), setup.f_hz, dice, how="reconnected", **known)
    antenna = repeated(setup.states.get(fault, healthy), dice, "reconnected")
    now = swept(antenna, setup.f_hz, dice, how="reconnected", **known)
    if fault in LINE_FAULTS:
        now = Sweep.from_gamma(
            setup.f_hz, _line_fault(fault, antenna, setup.f_hz, length_m, known["error"], dice)
        )
    return Case(fault.split(":")[0], setup, before, now, line)


def _line_fault(
    fault: str,
    antenna: Impedance,
    f_hz: np.ndarray,
    length_m: float,
    error: complex,
    dice: np.random.Generator,
) -> np.ndarray:
    """Reflection at the radio with something wrong in the line."""
    gamma, metres = gamma_from_z(antenna(f_hz), 50.0), length_m
    if fault in ("open-line", "shorted-line"):
        gamma = np.full(f_hz.shape, 1.0 if fault == "open-line" else -1.0, dtype=complex)
        metres = length_m * float(dice.choice([1.0, dice.uniform(0.1, 1.0)]))
    if fault == "wrong-plane":
        metres = length_m + float(dice.choice([-1, 1])) * dice.uniform(1.5, 4.0)
    line = [catalogued_piece("RG-58", metres)]
    if fault == "line-loss":  # water along all of it: shunt loss, which grows with frequency
        dry = line[0]
        extra_db = dice.uniform(0.7, 2.5) * 100 / length_m
        wet = dry.k2_db_per_100m + extra_db / (f_hz.mean() / 1e6)
        line = [replace(dry, k2_db_per_100m=wet)]
    if fault == "wrong-impedance-piece":  # 75 ohm in the place of a part of it
        start, share = dice.uniform(0.0, 0.6), dice.uniform(0.2, 0.4)
        shares = (("RG-58", start), ("RG-59", share), ("RG-58", 1 - start - share))
        line = [catalogued_piece(name, part * length_m) for name, part in shares]
    if fault == "loose-joint":
        z = z_from_gamma(gamma, 50.0) + dice.uniform(10, 60) * (1 + 0.3 * dice.standard_normal())
        gamma = gamma_from_z(z, 50.0)
    gamma = add_chain(f_hz, gamma, nominal(LineChain(line).pieces))[0] + error
    if fault == "poor-calibration":  # scale and offset of another adapter or temperature
        turn = np.exp(1j * dice.uniform(-0.15, 0.15))
        gamma = gamma * dice.uniform(0.9, 1.1) * turn + 0.06 * np.exp(2j * np.pi * dice.random())
    if fault == "loose-joint":
        gamma[int(dice.integers(30, 120)) :] += 0.15 * np.exp(2j * np.pi * dice.random())
    if fault == "interference":
        start = int(dice.integers(10, 130))
        gamma[start : start + 8] += dice.uniform(0.1, 0.4) * np.exp(2j * np.pi * dice.random(8))
    scatter = dice.standard_normal((2, f_hz.size)) / np.sqrt(2)
    return gamma + 0.001 * (scatter[0] + 1j * scatter[1])


def seen_by_triples(seed: int, table: Path) -> Iterator[tuple[str, bool, bool]]:
    """Each fault of an antenna put in and taken out again: truth, called changed by the pair, by A, B and A again."""
    for number, setup in enumerate(setups(table)):
        for state in (state for state in setup.states if state != "healthy"):
            dice = np.random.default_rng([seed, number, *state.encode(), 3])
            error = analyzer_error(dice)
            sweeps = [
                swept(repeated(setup.states[which], dice, "noise"), setup.f_hz, dice, error=error)
                for which in ("healthy", state, "healthy")
            ]
            pair, triple = (diagnose(some, draws=0).changed == "yes" for some in (sweeps[:2], sweeps))
            yield state.split(":")[0], pair, triple


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--table", type=Path, default=TABLE)
    parser.add_argument("--verbose", action="store_true")
    parser.add_argument("--untold", choices=["plane", "kind"], help="the line, or the kind as well")
    parser.add_argument("--triples", action="store_true", help="the table of A, B and A again instead")
    arguments = parser.parse_args()
    if arguments.triples:
        found: dict[str, list[tuple[bool, bool]]] = defaultdict(list)
        for truth, pair, triple in seen_by_triples(arguments.seed, arguments.table):
            found[truth].append((pair, triple))
        print("| put in and out | cases | seen by A, B | by A, B and A again |\n|---|---|---|---|")
        for truth, seen in found.items():
            print(f"| {truth} | {len(seen)} | {sum(p for p, _ in seen)} | {sum(t for _, t in seen)} |")
        return
    rows: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    firsts: list[tuple[float, bool]] = []
    for case in cases(arguments.seed, arguments.table):
        answer = case.diagnosed(**UNTOLD.get(arguments.untold, {}))
        named = [hypothesis.code for hypothesis in answer.hypotheses]
        row = rows[case.truth]
        row[0] += 1
        row[1] += answer.changed == "yes"
        row[2] += named[:1] == [case.truth]
        row[3] += case.truth in named[:2]
        if answer.changed == "yes":
            firsts.append((answer.hypotheses[0].weight, named[0] == case.truth))
        if arguments.verbose and case.truth not in named[:1]:
            weights = [f"{one.code} {one.weight:.2f}" for one in answer.hypotheses]
            print(case.setup.name, case.truth, answer.changed, weights, answer.summary[1:])
    print("| seeded | cases | called changed | first | first two |\n|---|---|---|---|---|")
    for truth, (n, yes, first, second) in [*rows.items(), ("all", np.sum(list(rows.values()), axis=0))]:
        print(f"| {truth} | {n} | {yes} | {first} | {second} |")
    print("\n| weight of the first cause | answers | right | mean weight |\n|---|---|---|---|")
    for low, high in ((0.0, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.01)):
        held = [(weight, right) for weight, right in firsts if low <= weight < high]
        right, mean = sum(r for _, r in held), np.mean([w for w, _ in held])
        print(f"| {low:g} to {min(high, 1):g} | {len(held)} | {right} | {mean:.2f} |")


if __name__ == "__main__":
    main()
