"""A laboratory of faults: stations in which one thing goes wrong or nothing does, and what the diagnosis says of them.

    python -m tests.diagnosis.laboratory --seed 5 --each 6                 # the tables of docs/diagnose.md
    python -m tests.diagnosis.laboratory --seed 5 --each 6 --untold        # the same with the rung untold
    python -m tests.diagnosis.laboratory --seed 5 --each 4 --wide          # sweeps over all bands

Nothing here uses a formula of the diagnosis: antennas are wire models with a fault in the model
(tests/data/models/faults.npz; over all bands wide_faults.npz), lines are those of tests/models/set_ups.py
(conductors by Bessel functions, untold connectors), and the analyzer's errors run along the sweep. Between two sweeps
of a station nothing happens, or all is joined anew, or it is put up again, each with what the ladder's own spreads do
not hold: a smooth change of shape, new connectors, another calibration; over all bands heights, counterpoise and coax.
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sweepkit.diagnosis.answer import Diagnosis
from sweepkit.diagnosis.diagnose import diagnose
from sweepkit.sweep import Sweep
from tests.diagnosis.faults import Setup, setups
from tests.diagnosis.wide import WideSetup, wide_setups
from tests.models.set_ups import Coax, _error, make_coax

Array = np.ndarray
RUNGS = {
    "swept-again": 0.05,
    "joined-anew": 0.3,
    "put-up-again": 0.5,
}  # and the chance of another calibration
# One sigma of one erection: frequency of wire, whip, end-fed; resistance; shape left over.
SLIDES = {
    "swept-again": (0.00005, 0.00005, 0.00005),
    "joined-anew": (0.0007, 0.0007, 0.0007),
    "put-up-again": (0.004, 0.015, 0.008),
}
SCALES = {"swept-again": 0.002, "joined-anew": 0.01, "put-up-again": 0.06}
SHAPES = {"swept-again": 0.0003, "joined-anew": 0.0008, "put-up-again": 0.003}
IN_THE_LINE = (
    "open-line",
    "shorted-line",
    "series joint",
    "leak",
    "wet connector",
    "wrong-impedance-piece",
    "line-loss",
    "feedpoint joint",
)
ADDED = {"radial-added": "radial-off", "counterpoise-added": "no-counterpoise"}  # what was wrong before
AT_THE_ANALYZER = ("wrong-plane", "poor-calibration", "interference", "letting go")
CODES = {
    "series joint": "loose-joint",
    "leak": "loose-joint",
    "feedpoint joint": "loose-joint",
    "wet connector": "loose-joint",
    "letting go": "loose-joint",
    "nothing": "nothing-wrong",
}


@dataclass(frozen=True)
class Case:
    """Two sweeps, what lies between them, and what is told."""

    truth: str
    setup: Setup
    rung: str
    line: tuple[str, ...]
    place_m: float | None
    before: Sweep
    now: Sweep

    @property
    def code(self) -> str:
        return CODES.get(self.truth, self.truth.split(":")[0])

    def diagnosed(self, *, told: bool) -> Diagnosis:
        return diagnose(
            [self.now],
            baseline=self.before,
            kind=self.setup.kind,
            lines=list(self.line),
            measured_at="radio",
            rung=self.rung if told else None,
            draws=0,
        )


class Station:
    """One antenna, its line, its analyzer; swept as often as asked."""

    def __init__(self, setup: Setup, dice: np.random.Generator, *, with_line: bool) -> None:
        self.setup, self.dice, self.f_hz = setup, dice, setup.f_hz
        self.told_m = round(float(dice.uniform(4, 20)), 1)
        self.type = str(dice.choice(["RG-58", "RG-8X", "RG-213"]))
        self.coax = make_coax(self.type, self.told_m, dice) if with_line else None
        self.line = (f"{self.type} {self.told_m} m",) if with_line else ()
        self.noise = float(dice.uniform(0.0005, 0.002))
        self.connectors = [self._connector() for _ in range(2)]
        self.calibrate()
        self.slide, self.scale, self.shape = 0.0, 1.0, np.zeros(self.f_hz.size, dtype=complex)
        self.again = False

    def calibrate(self) -> None:
        sizes = (self.dice.uniform(35, 46), self.dice.uniform(30, 40), self.dice.uniform(30, 40))
        self.errors = [_error(self.f_hz, 10 ** (-size / 20), self.dice) for size in sizes]

    def _connector(self) -> tuple[float, float, float]:
        dice = self.dice
        return (
            float(np.exp(dice.uniform(np.log(0.02), np.log(0.5)))),
            dice.uniform(40, 60),
            dice.uniform(0.03, 0.06),
        )

    def step(self, rung: str) -> None:
        """What lies between two sweeps."""
        body = {"loaded-whip": 1, "end-fed": 2}.get(self.setup.kind, 0)
        root = np.sqrt(2)
        is_wide = isinstance(self.setup, WideSetup)
        self.again = rung == "put-up-again"
        # over all bands the model itself is put up again; half of the usual slide is left to the wire
        erected = is_wide and self.again
        share = 0.5 if erected else 1.0
        self.slide = share * root * SLIDES[rung][body] * self.dice.standard_normal()
        own_scale = SCALES["joined-anew" if erected else rung]
        self.scale = 1 + root * own_scale * self.dice.standard_normal()
        x = np.linspace(-1, 1, self.f_hz.size)
        waves = self.dice.standard_normal((2, 4)) / 2
        smooth = sum(w * np.cos(np.pi * k * x / 2) for k, w in enumerate(waves[0] + 1j * waves[1]))
        self.shape = root * SHAPES[rung] * smooth
        if rung != "swept-again":
            self.connectors = [self._connector() for _ in range(2)]
        if self.dice.random() < RUNGS[rung]:
            self.calibrate()

    def sweep(
        self,
        state: str = "healthy",
        inside: Callable[[Array, Coax], Array] | None = None,
        coax_left_in_m: float = 0.0,
    ) -> Array:
        state = self.setup.erected(state, self.dice, again=self.again)
        z = self.setup.z_ohm(state, self.f_hz, self.slide)
        z = self.scale * z.real + 1j * z.imag
        gamma = (z - 50) / (z + 50) + self.shape
        z = 50 * (1 + gamma) / (1 - gamma)
        if self.coax is not None:
            z = self._through_connector(z, 0)
            z = self.coax.seen_through(self.f_hz, z) if inside is None else inside(z, self.coax)
            z = self._through_connector(z, 1)
        if coax_left_in_m > 0:
            z = make_coax("RG-58", coax_left_in_m, self.dice).seen_through(self.f_hz, z)
        return (z - 50) / (z + 50)

    def _through_connector(self, z: Array, which: int) -> Array:
        ohm, z0_ohm, metres = self.connectors[which]
        t = 1j * np.tan(2 * np.pi * self.f_hz * metres / 2e8)
        return z0_ohm * (z + ohm + z0_ohm * t) / (z0_ohm + (z + ohm) * t)

    def read(self, gamma: Array, errors: list[Array] | None = None) -> Array:
        directivity, match, tracking = self.errors if errors is None else errors
        chance = self.noise / np.sqrt(2) * (self.dice.standard_normal((2, self.f_hz.size)))
        return directivity + gamma * (1 + tracking) / (1 - match * gamma) + chance[0] + 1j * chance[1]


def act(truth: str, setup: Setup, rung: str, seed: tuple[int, ...]) -> Case:
    """One case."""
    dice = np.random.default_rng([*seed, *truth.encode()])
    if truth in ADDED:
        wrong, sound = ADDED[truth], "healthy"
        if wrong not in setup.states:
            wrong, sound = f"{wrong}@again", "again:1"
        setup = replace(setup, states={"healthy": setup.states[wrong], truth: setup.states[sound]})
    if truth == "other-antenna":
        others = _others(setup)
        setup = replace(setup, states=setup.states | {truth: others[int(dice.integers(len(others)))]})
    needs_line = truth in IN_THE_LINE
    station = Station(setup, dice, with_line=needs_line or dice.random() < 0.6)
    before = station.read(station.sweep())
    rung = setup.rung_of(truth, rung)
    station.step(rung)
    now, place_m = _fault(truth, station)
    f_hz = station.f_hz
    return Case(
        truth, setup, rung, station.line, place_m, Sweep.from_gamma(f_hz, before), Sweep.from_gamma(f_hz, now)
    )


def _others(setup: Setup) -> list[Callable[[Array], Array]]:
    """Other antennas of the same band, known over as wide a span."""
    if isinstance(setup, WideSetup):
        return [one.states["healthy"] for one in wide_setups() if one.name != setup.name]
    low_hz, high_hz = setup.f_hz[0] * 0.999, setup.f_hz[-1] * 1.001
    return [
        one.states["healthy"]
        for one in setups()
        if one.name != setup.name and one.f_hz[0] * 0.999 <= low_hz and one.f_hz[-1] * 1.001 >= high_hz
    ]


def _fault(truth: str, station: Station) -> tuple[Array, float | None]:
    dice, f_hz = station.dice, station.f_hz
    if truth == "nothing":
        return station.read(station.sweep()), None
    if truth in IN_THE_LINE:
        assert station.coax is not None
        at_m = float(dice.uniform(0.05, 0.95)) * station.coax.length_m
        if truth in ("open-line", "shorted-line") and dice.random() < 0.4:
            at_m = station.coax.length_m
        if truth == "feedpoint joint":
            at_m = station.coax.length_m
        if truth == "wet connector":
            at_m = station.coax.length_m * float(dice.random() < 0.7)  # rain meets the far end more often
        inside, place_m = _in_the_line(truth, at_m, station)
        return station.read(station.sweep(inside=inside)), place_m
    if truth == "wrong-plane":
        return station.read(station.sweep(coax_left_in_m=float(dice.uniform(0.3, 4)))), None
    if truth == "poor-calibration":
        errors = [_error(f_hz, float(dice.uniform(low, 0.12)), dice) for low in (0.05, 0.03, 0.06)]
        return station.read(station.sweep(), errors), None
    if truth == "interference":
        gamma = station.read(station.sweep())
        start = int(dice.integers(10, f_hz.size - 20))
        gamma[start : start + 8] += dice.uniform(0.1, 0.4) * np.exp(2j * np.pi * dice.random(8))
        return gamma, None
    if truth == "letting go":
        gamma = station.read(station.sweep())
        gamma[int(dice.integers(20, f_hz.size - 20)) :] += dice.uniform(0.05, 0.2) * np.exp(
            2j * np.pi * dice.random()
        )
        return gamma, None
    if truth == "swr-too-good":
        return station.read(station.sweep() * 10 ** (-2 * dice.uniform(3, 10) / 20)), None
    if truth == "wet-wire":  # water slows the wave on insulated wire: 0.4 to 2 %, and loses a little
        station.slide -= float(dice.uniform(0.004, 0.02))
        station.scale *= 1 + float(dice.uniform(0, 0.05))
        return station.read(station.sweep()), None
    return station.read(station.sweep(truth)), None


def _in_the_line(truth: str, at_m: float, station: Station) -> tuple[Callable[[Array, Coax], Array], float]:
    """What is in the line, ``at_m`` from the radio."""
    dice, f_hz = station.dice, station.f_hz

    def broken(z: Array, coax: Coax) -> Array:
        end = np.full(f_hz.shape, 1e6 if truth == "open-line" else 0.05, dtype=complex)
        return coax.seen_through(f_hz, end, at_m)

    if truth in ("open-line", "shorted-line"):
        return broken, at_m
    if truth in ("series joint", "feedpoint joint", "leak", "wet connector"):
        ohms = {
            "series joint": (4, 40),
            "feedpoint joint": (4, 40),
            "leak": (100, 500),
            "wet connector": (60, 600),
        }[truth]
        even_in_log = truth != "leak"
        size = float(np.exp(dice.uniform(*np.log(ohms))) if even_in_log else dice.uniform(*ohms))
        farad = 1e-12 * (float(dice.uniform(5, 40)) if truth == "wet connector" else 8.0)
        pair = station._connector()

        def joint(z: Array, coax: Coax) -> Array:
            z = coax.seen_through(f_hz, z, coax.length_m - at_m)
            z = z + size if "joint" in truth else 1 / (1 / z + 1 / size + 2j * np.pi * f_hz * farad)
            t = 1j * np.tan(2 * np.pi * f_hz * pair[2] / 2e8)
            z = pair[1] * (z + pair[1] * t) / (pair[1] + z * t)
            return coax.seen_through(f_hz, z, at_m)

        return joint, at_m
    if truth == "wrong-impedance-piece":
        metres = float(dice.uniform(0.8, 3.0))
        at_m = min(at_m, station.told_m - metres - 0.3)
        other = make_coax("RG-59", metres, dice)
        added = dice.random() < 0.5

        def piece(z: Array, coax: Coax) -> Array:
            behind = coax.length_m - at_m - (0.0 if added else metres)
            z = other.seen_through(f_hz, coax.seen_through(f_hz, z, max(behind, 0.0)))
            return coax.seen_through(f_hz, z, at_m)

        return piece, at_m
    metres = float(dice.uniform(0.3, 1.0)) * station.told_m
    lost_db, start = float(dice.uniform(0.5, 2.5)), float(dice.uniform(0, station.told_m - metres))

    def wet(z: Array, coax: Coax) -> Array:
        slower = 1 / (1 + dice.uniform(0.0, 0.08))
        tangent = lost_db / metres / 4.343 / (2 * np.pi * f_hz.mean()) * coax.velocity_factor * 2.998e8
        soaked = replace(
            coax,
            velocity_factor=coax.velocity_factor * slower,
            z0_ohm=coax.z0_ohm * slower,
            loss_tangent=tangent,
        )
        z = coax.seen_through(f_hz, z, max(coax.length_m - start - metres, 0.0))
        return coax.seen_through(f_hz, soaked.seen_through(f_hz, z, metres), start)

    return wet, start + metres / 2


def _can_befall(truth: str, setup: Setup, stations: Sequence[Setup]) -> bool:
    if truth == "other-antenna":
        return bool(_others(setup))
    if truth == "nothing":
        return True
    own = {state.partition("@")[0] for one in stations for state in one.states}
    here = {state.partition("@")[0] for state in setup.states}
    return ADDED.get(truth, truth) in here or ADDED.get(truth, truth) not in own


def cases(
    seed: int, each: int, kinds: Callable[[str], bool] = lambda truth: True, *, wide: bool = False
) -> Iterator[Case]:
    """Every fault ``each`` times, and as many in which nothing is wrong; rungs in turn, put up again for a sixth."""
    stations: Sequence[Setup] = wide_setups(seed) if wide else setups()
    rungs = ["swept-again", "joined-anew", "joined-anew"] * 2 + ["put-up-again"] * 3
    states = sorted({state.partition("@")[0] for setup in stations for state in setup.states})
    states = [state for state in states if state != "healthy" and not state.startswith("again")]
    others = ("swr-too-good", "wet-wire", *ADDED, "other-antenna")
    truths = [*states, *IN_THE_LINE[:-1], *AT_THE_ANALYZER, *others, IN_THE_LINE[-1]]  # the newest last
    count = 0
    for truth in truths:
        fitting = [s for s in stations if _can_befall(truth, s, stations)]
        for k in range(each):
            count += 1
            rung = ["swept-again", "joined-anew", "joined-anew", "put-up-again"][k % 4]
            if kinds(truth):
                yield act(truth, fitting[(k * 7 + seed) % len(fitting)], rung, (seed, k))
    for k in range(count):
        if kinds("nothing"):
            yield act("nothing", stations[(k * 3 + seed) % len(stations)], rungs[k % len(rungs)], (seed, k))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--each", type=int, default=6)
    parser.add_argument("--untold", action="store_true")
    parser.add_argument("--wide", action="store_true", help="sweeps over all bands")
    parser.add_argument("--verbose", action="store_true")
    parser.add_argument("--part", type=int, nargs=2, default=(0, 1), help="one of so many parts")
    arguments = parser.parse_args()
    confusion: dict[str, Counter[str]] = defaultdict(Counter)
    rows: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    alarms: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    brier, sure, places = [], [], []
    for number, case in enumerate(cases(arguments.seed, arguments.each, wide=arguments.wide)):
        if number % arguments.part[1] != arguments.part[0]:
            continue
        answer = case.diagnosed(told=not arguments.untold)
        weights = {one.code: one.weight for one in answer.hypotheses} | {
            "nothing-wrong": answer.nothing_wrong
        }
        ordered = sorted(weights, key=lambda code: -weights[code])
        named = [code for code in ordered if code != "nothing-wrong"]
        brier.append(
            sum((w - (code == case.code)) ** 2 for code, w in weights.items()) + (case.code not in weights)
        )
        sure.append((weights[ordered[0]], ordered[0] == case.code))
        confusion[case.code][ordered[0]] += 1
        row = rows[case.truth]
        row[0] += 1
        row[1] += answer.changed == "yes"
        row[2] += ordered[0] == case.code
        row[3] += case.code in (named[:2] if case.code != "nothing-wrong" else ordered[:2])
        if case.truth == "nothing":
            alarm = alarms[case.rung]
            alarm[0] += 1
            alarm[1] += answer.changed == "yes"
            alarm[2] += ordered[0] != "nothing-wrong"
        if case.place_m is not None and ordered[0] == case.code:
            place = next(one.distance_m for one in answer.hypotheses if one.code == case.code)
            if place is not None and place.value is not None:
                within = abs(place.value - case.place_m) <= max(0.5, 0.03 * case.place_m)
                places.append((case.truth, within, place.low <= case.place_m <= place.high))
        if arguments.verbose and ordered[0] != case.code:
            print(
                case.setup.name,
                case.truth,
                case.rung,
                [(code, round(weights[code], 2)) for code in ordered[:4]],
                flush=True,
            )
    print("| seeded | cases | called changed | first | first two |\n|---|---|---|---|---|")
    for truth, (n, yes, first, second) in rows.items():
        print(f"| {truth} | {n} | {yes} | {first} | {second} |")
    faults = np.sum([row for truth, row in rows.items() if truth != "nothing"] or [[0] * 4], axis=0)
    print(f"| all faults | {' | '.join(map(str, faults))} |")
    print("\n| nothing wrong, by rung | cases | called changed | a cause first |\n|---|---|---|---|")
    for rung, counts in alarms.items():
        print(f"| {rung} | {' | '.join(map(str, counts))} |")
    print("\n| seeded | said first |\n|---|---|")
    for code, said in confusion.items():
        print(f"| {code} | {', '.join(f'{word} {n}' for word, n in said.most_common())} |")
    print(f"\nBrier score {np.mean(brier):.3f}")
    print("| weight of the first | answers | right | mean weight |\n|---|---|---|---|")
    for low, high in ((0.0, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 0.99), (0.99, 1.01)):
        held = [(weight, right) for weight, right in sure if low <= weight < high]
        if held:
            right, mean = sum(r for _, r in held), np.mean([w for w, _ in held])
            print(f"| {low:g} to {min(high, 1):g} | {len(held)} | {right} | {mean:.2f} |")
    print("\n| place of | found | within 3 % or 0.5 m | inside the interval |\n|---|---|---|---|")
    for truth in dict.fromkeys(one[0] for one in places):
        own = [one for one in places if one[0] == truth]
        print(f"| {truth} | {len(own)} | {sum(one[1] for one in own)} | {sum(one[2] for one in own)} |")


if __name__ == "__main__":
    main()
