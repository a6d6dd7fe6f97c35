"""How far the answers for linked and trap dipoles and for random wires miss, on legs as lossy open lines.

    python -m tests.models.parts_study trap 6       # or linked; how many
    python -m tests.models.parts_study random 6
    python -m tests.models.parts_study linked 4 100 # others, from the 100th on

A leg is a line of slowly falling impedance with an end effect; links leave the rest of the wire beside a gap of 1 to 3
pF, traps are coil and capacitor of Q 80 to 200 with their leads. None of these formulas is sweepkit's own.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sweepkit.kit import Kit
from sweepkit.several_bands.from_sweeps import plan_parts_from_sweeps, plan_random_from_sweeps
from sweepkit.several_bands.parts_told import PartsWish
from sweepkit.several_bands.places import Place, places_of
from sweepkit.several_bands.random_wire import RandomWish
from sweepkit.sweep import Sweep
from tests.models.bands_study import analyzer

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
SPEED_M_S = 299_792_458.0
SETS = (("40 m", "20 m"), ("80 m", "40 m"), ("20 m", "10 m"), ("40 m", "30 m", "20 m"))
MIDDLE = {"80 m": 3.6e6, "40 m": 7.1e6, "30 m": 10.125e6, "20 m": 14.175e6, "10 m": 28.5e6}


@dataclass(frozen=True)
class Legs:
    """Two equal legs: what nobody tells of them."""

    wire_ohm: float
    slowing: float
    end_m: float
    nepers: float  # radiation, spread along a quarter wave
    gap_f: float
    trap_q: float
    trap_c: float  # of a trap for 7 MHz; goes with the reciprocal of the frequency
    traps_off: float  # all traps tuned off by a share

    @classmethod
    def drawn(cls, dice: np.random.Generator) -> Legs:
        return cls(
            dice.uniform(430, 560),
            dice.uniform(1.0, 1.05),
            dice.uniform(0.05, 0.2),
            dice.uniform(0.05, 0.10),
            dice.uniform(1e-12, 3e-12),
            dice.uniform(80, 200),
            dice.uniform(30e-12, 70e-12),
            1 + 0.02 * dice.normal(),
        )

    def _line(self, f_hz: FloatArray, far: ComplexArray | None, length_m: float) -> ComplexArray:
        k = 2 * np.pi * f_hz / SPEED_M_S * self.slowing
        turn = (1j + self.nepers / (np.pi / 2)) * k * length_m
        if far is None:
            return np.asarray(self.wire_ohm / np.tanh(turn))
        t = np.tanh(turn)
        return np.asarray(self.wire_ohm * (far + self.wire_ohm * t) / (self.wire_ohm + far * t))

    def trap_ohm(self, f_hz: FloatArray, at_hz: float) -> ComplexArray:
        c, w = self.trap_c * 7.1e6 / at_hz, 2 * np.pi * f_hz
        coil_h = 1 / ((2 * np.pi * at_hz * self.traps_off) ** 2 * c)
        return np.asarray(1 / (1 / (w * coil_h * (1j + 1 / self.trap_q)) + 1j * w * c))

    def z_ohm(self, f_hz: FloatArray, ends_m: dict[str, float], kind: str, place: str) -> ComplexArray:
        """Both legs at the feed; of linked ones with the links closed up to a place."""
        names = sorted(ends_m, key=lambda name: ends_m[name])  # innermost first
        sections = np.diff([0.0, *(ends_m[name] for name in names)])
        w = 2 * np.pi * f_hz
        z: ComplexArray | None = None
        for number in range(len(names) - 1, -1, -1):
            last = number == len(names) - 1
            z = self._line(f_hz, z, sections[number] + (self.end_m if last else 0.0))
            if number == 0:
                break
            inner = names[number - 1]
            if kind == "trap":
                z = z + self.trap_ohm(f_hz, MIDDLE[inner])
            elif ends_m[inner] >= ends_m[place] - 1e-9:
                z = z + 1 / (1j * w * self.gap_f)
        assert z is not None
        return 2 * z


def true_dip_hz(legs: Legs, ends_m: dict[str, float], kind: str, name: str) -> float:
    f_hz = MIDDLE[name] * np.linspace(0.86, 1.14, 14001)
    z = legs.z_ohm(f_hz, ends_m, kind, name)
    return float(f_hz[np.argmin(np.abs((z - 50) / (z + 50)))])


def cut_long(legs: Legs, names: tuple[str, ...], kind: str, dice: np.random.Generator) -> dict[str, float]:
    """Ends that dip at their targets, found from the inside out, then all off by 2 % short to 5 % long."""
    ends_m: dict[str, float] = {}
    inner_first = sorted(names, key=lambda name: -MIDDLE[name])
    for name in inner_first * (
        2 if kind == "linked" else 1
    ):  # of linked ones the rest of the wire counts behind its gap
        low, high = (share * SPEED_M_S / MIDDLE[name] for share in (0.10, 0.30))
        place = inner_first.index(name)
        low = max([low, *(ends_m[inner] + 0.05 for inner in inner_first[:place])])
        high = min([high, *(ends_m[outer] - 0.05 for outer in inner_first[place + 1 :] if outer in ends_m)])
        for _ in range(30):
            middle = (low + high) / 2
            lower = true_dip_hz(legs, {**ends_m, name: middle}, kind, name) < MIDDLE[name]
            low, high = (low, middle) if lower else (middle, high)
        ends_m[name] = middle
    return {name: end * dice.uniform(0.98, 1.05) for name, end in ends_m.items()}


def sweeps_of(
    legs: Legs, ends_m: dict[str, float], kind: str, dice: np.random.Generator
) -> tuple[list[Sweep], tuple[Place, ...]]:
    sweeps = []
    for name in sorted(ends_m, key=lambda name: MIDDLE[name]):
        f_hz = MIDDLE[name] * np.linspace(0.88, 1.08, 101)
        z = legs.z_ohm(f_hz, ends_m, kind, name)
        sweeps.append(Sweep.from_gamma(f_hz, analyzer(f_hz, (z - 50) / (z + 50), dice)))
    return sweeps, places_of(targets=[f"{name}={MIDDLE[name]:.0f} Hz" for name in ends_m])


def study_parts(kind: str, count: int, first: int) -> None:
    off: dict[str, list[float]] = {"left": [], "one": [], "two": []}
    held: list[bool] = []
    widths: list[float] = []
    refused = 0
    for number in range(first, first + count):
        dice = np.random.default_rng([number, 5])
        legs = Legs.drawn(dice)
        ends_m = cut_long(legs, SETS[number % len(SETS)], kind, dice)
        worst = lambda: max(abs(100 * (true_dip_hz(legs, ends_m, kind, n) / MIDDLE[n] - 1)) for n in ends_m)  # noqa: E731, B023
        off["left"].append(worst())
        for step in ("one", "two"):
            sweeps, places = sweeps_of(legs, ends_m, kind, dice)
            wish = PartsWish(kind, dict(ends_m), "slide", "mean")  # type: ignore[arg-type]
            plan = plan_parts_from_sweeps(sweeps, places, wish, kit=Kit(), measured_at="feedpoint", seed=1)
            if plan.action == "cannot_say":
                refused += 1
                print(number, plan.reason)
                break
            for move in plan.moves:
                for name in ends_m:  # a section carries all that lies further out
                    if plan.action != "leave" and ends_m[name] >= ends_m[move.part] - 1e-9:
                        moved = move.full_m.value or 0.0
                        ends_m = {**ends_m, name: ends_m[name] + moved}
            off[step].append(worst())
            if plan.action != "leave":
                for row in plan.bands:
                    true_hz, f = true_dip_hz(legs, ends_m, kind, row.name), row.after.dip_hz
                    if f.low is None or f.high is None or f.value is None:
                        continue
                    held.append(f.low <= true_hz <= f.high)
                    widths.append((f.high - f.low) / f.value)
    for name, values in off.items():
        if values:
            q = np.quantile(values, [0.5, 0.9, 1.0])
            print(f"{kind} {name:5} worst dip off {q[0]:.3f} / {q[1]:.3f} / {q[2]:.3f} %")
    print(f"dips held {sum(held)} of {len(held)}, width {np.median(widths):.4f}; refused {refused}")


def random_z_ohm(
    f_hz: FloatArray, wire_m: float, counter_m: float, dice: np.random.Generator
) -> ComplexArray:
    """A wire against a counterpoise, both lossy open lines."""
    k = 2 * np.pi * f_hz / SPEED_M_S * dice.uniform(1.0, 1.04)
    loss = dice.uniform(0.06, 0.12)
    wire = dice.uniform(480, 600) / np.tanh((1j + loss) * k * (wire_m + 0.1))
    return np.asarray(wire + dice.uniform(350, 500) / np.tanh((1j + loss) * k * (counter_m + 0.05)))


def study_random(count: int, first: int) -> None:
    """Whether lengths called clear are clear: resistance at the box over all of a place below that of a half wave."""
    clear, avoided = [], []
    names = ("40 m", "20 m")
    for number in range(first, first + count):
        dice = np.random.default_rng([number, 6])
        wire_m, counter_m = float(dice.uniform(9, 26)), float(dice.uniform(2, 6))
        f_hz = np.linspace(3e6, 30e6, 401)
        z = random_z_ohm(f_hz, wire_m, counter_m, np.random.default_rng([number, 7])) / 9
        sweep = Sweep.from_gamma(f_hz, analyzer(f_hz, (z - 50) / (z + 50), dice))
        wish = RandomWish(wire_m, "mean", counter_m)
        places = places_of(bands=names)
        plan = plan_random_from_sweeps([sweep], places, wish, kit=Kit(), measured_at="feedpoint", seed=1)
        for length_m in np.linspace(0.55 * wire_m, 1.95 * wire_m, 40):
            told_clear = any(c.low_m < length_m < c.high_m for c in plan.clear if c.part == "wire")
            most = max(
                float(
                    np.abs(
                        random_z_ohm(
                            np.linspace(p.low_hz, p.high_hz, 21),
                            length_m,
                            counter_m,
                            np.random.default_rng([number, 7]),
                        )
                    ).max()
                )
                for p in places
            )
            (clear if told_clear else avoided).append(most)
    print(f"most ohms on a place at {len(clear)} clear lengths", np.quantile(clear, [0.5, 0.9, 1.0]).round())
    print(f"and at {len(avoided)} others", np.quantile(avoided, [0.0, 0.1, 0.5]).round())


def main(what: str, count: str, first: str = "0") -> None:
    """Run and print."""
    if what == "random":
        study_random(int(count), int(first))
    else:
        study_parts(what, int(count), int(first))


if __name__ == "__main__":
    main(*sys.argv[1:])
