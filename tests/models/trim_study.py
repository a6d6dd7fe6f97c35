r"""How far trim advice misses and how often its intervals hold, over a folder of antennas whose truth is known.

    python -m tests.models.families FOLDER 501 12 dipole-real vertical-real vertical-low \
        whip-mast whip-low end-fed-box loop-box
    python -m tests.models.trim_study FOLDER [TRIES] [FAMILY ...]

FOLDER holds ``.npz`` files of ``families``; or it is the Python module of an independent set of models, which
is loaded from there. Each antenna is put behind TRIES lines and analyzers: what the operator tells is what people
know of a line and an analyzer, never what they are. One change is the whole change; two are the first move, a new
sweep and the whole change then. An answer that declines counts as doing nothing. The package reads none of it.
"""

from __future__ import annotations

import copy
import importlib.util
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sweepkit.antennas.catalogue import kind_named
from sweepkit.antennas.kind import Known
from sweepkit.errors import SweepkitError
from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.plane import add_chain
from sweepkit.kit import Kit, read_kit
from sweepkit.lines import LinePiece, parse_piece
from sweepkit.readers import read_sweep
from sweepkit.sweep import Sweep
from sweepkit.trim.from_sweep import plan_trim
from sweepkit.trim.wire import EarlierState
from tests.models import families
from tests.models.trial import LEAST_OHM, LINES, right_length_m, true_dip_hz

DRAWS = 300  # a third of what the package takes: five tries a second, and intervals alike
START_BELOW = (0.008, 0.06)  # of the target, five of six; the rest starts as far above, up to 3 %


@dataclass(frozen=True)
class Case:
    """One antenna behind one line and one analyzer; ``sweep(length_m, number)`` is what is written then."""

    name: str
    family: str
    kind: str
    known: dict[str, Any]
    start_m: float
    right_m: float
    target_hz: float
    dip_hz: Callable[[float], float | None]
    sweep: Callable[[float, int], Sweep]
    lines: tuple[LinePiece | str, ...]
    kit: Kit

    def error(self, length_m: float) -> float:
        """Of the dip over the target at a length; NaN where the antenna is not known."""
        try:
            dip_hz = self.dip_hz(length_m)
        except ValueError:
            return float("nan")
        return float("nan") if dip_hz is None else dip_hz / self.target_hz - 1


@dataclass(frozen=True)
class Outcome:
    """Errors over the target [-]; whether the interval held, ``None`` where there was none; what was said."""

    name: str
    family: str
    start: float
    one: float
    moved: float
    two: float
    secant: float
    held: bool | None
    held_then: bool | None
    refused: str
    where: tuple[float, float, float]


def try_case(case: Case, seed: int) -> Outcome:
    """The change, the first move and the change after it."""
    nothing = case.error(case.start_m)
    told_m = round(case.start_m, 2)
    first = case.sweep(case.start_m, 0)
    plan = _plan(case, first, told_m, (), seed)
    if isinstance(plan, str) or plan.change_m.value is None:
        why = plan if isinstance(plan, str) else plan.reason
        bad = float("nan")
        return Outcome(
            case.name, case.family, nothing, nothing, nothing, nothing, bad, None, None, why, (bad, bad, bad)
        )
    exact_m = case.right_m - case.start_m
    at = (plan.change_m.value - exact_m) / max(plan.change_m.high - plan.change_m.low, 1e-9)
    one = case.error(case.start_m + plan.change_m.value)
    move_m = plan.first_move.m if plan.first_move.by != "none" else 0.7 * plan.change_m.value
    moved_m = case.start_m + move_m
    second = case.sweep(moved_m, 1)
    state = EarlierState("first", told_m, False, "slide" if case.kind == "loaded-whip" else "cut")
    again = _plan(case, second, told_m + move_m, ((state, first),), seed + 1)
    if isinstance(again, str) or again.change_m.value is None:
        moved = case.error(moved_m)
        return Outcome(
            case.name,
            case.family,
            nothing,
            one,
            moved,
            moved,
            float("nan"),
            _held(plan, exact_m),
            None,
            "second: " + (again if isinstance(again, str) else again.reason),
            (case.start_m, plan.change_m.value, at),
        )
    slope = np.log(again.now_hz.value / plan.now_hz.value) / np.log((told_m + move_m) / told_m)
    secant_m = (told_m + move_m) * (case.target_hz / again.now_hz.value) ** (1 / slope)
    return Outcome(
        case.name,
        case.family,
        nothing,
        one,
        case.error(moved_m),
        case.error(moved_m + again.change_m.value),
        case.error(moved_m + secant_m - (told_m + move_m)),
        _held(plan, exact_m),
        _held(again, case.right_m - moved_m),
        "",
        (case.start_m, plan.change_m.value, at),
    )


def _held(plan: Any, exact_m: float) -> bool:
    return bool(plan.change_m.low <= exact_m <= plan.change_m.high)


def _plan(case: Case, sweep: Sweep, length_m: float, earlier: Any, seed: int) -> Any:
    kind = kind_named(case.kind)
    try:
        return plan_trim(
            sweep,
            kind=kind,
            length_m=length_m,
            target_hz=case.target_hz,
            by="slide" if case.kind == "loaded-whip" else "cut",
            known=Known(**case.known),
            earlier=earlier,
            kit=case.kit,
            lines=case.lines,
            measured_at="radio" if case.lines else "feedpoint",
            draws=DRAWS,
            seed=seed,
        ).plan
    except SweepkitError as error:
        return str(error.text)


# ---------- own models


def own_cases(folder: Path, tries: int) -> Iterator[Case]:
    """Antennas of ``families`` behind lines and analyzers of ours."""
    for path in sorted(folder.glob("*.npz")):
        for number, specimen in enumerate(families.load(path)):
            right_m = right_length_m(specimen)
            if right_m is None or specimen.wires_ohm.real.min() < LEAST_OHM:
                continue
            for seed in range(tries):
                yield _own_case(specimen, f"{path.stem}-{number}", right_m, seed)


def _own_case(specimen: families.Specimen, name: str, right_m: float, seed: int) -> Case:
    spec = specimen.spec
    dice = np.random.default_rng([*name.encode(), seed])
    low_hz, high_hz = (1 + dice.uniform(-0.13, -0.06), 1 + dice.uniform(0.05, 0.11))
    told, there = _lines(dice)
    errors = _analyzer(dice)
    points = int(dice.choice([101, 201, 401]))
    within = (0.905 * spec.guess_m, 1.155 * spec.guess_m)  # lengths that were computed

    def dip_hz(length_m: float) -> float | None:
        if not 0.9 < length_m / spec.guess_m < 1.16:
            raise ValueError("outside")
        return true_dip_hz(specimen, length_m)

    def sweep(length_m: float, count: int) -> Sweep:
        length_m = float(np.clip(length_m, *within))
        centre_hz = spec.target_hz * spec.guess_m / length_m
        f_hz = np.linspace(
            max(low_hz * spec.target_hz, 0.825 * centre_hz),
            min(high_hz * spec.target_hz, 1.175 * centre_hz),
            points,
        )
        gamma = (z := specimen.z_ohm(f_hz, length_m) - 50) / (z + 100)
        for piece in reversed(there):
            gamma = add_chain(f_hz, gamma, draw_chain(LineChain((piece,)), dice, 0))[0]
        return Sweep.from_gamma(f_hz, errors(f_hz, gamma, np.random.default_rng([seed, count, 7])))

    start_m = float(np.clip(_start_m(dip_hz, spec.target_hz, right_m, dice), *within))
    return Case(
        name,
        spec.family,
        spec.kind,
        {key: value for key, value in spec.known.items() if key in Known.__dataclass_fields__},
        start_m,
        right_m,
        spec.target_hz,
        dip_hz,
        sweep,
        told,
        Kit(),
    )


def _start_m(dip_hz: Any, target_hz: float, right_m: float, dice: np.random.Generator) -> float:
    """A length whose dip is off by a wanted share."""
    off = -dice.uniform(*START_BELOW) if dice.random() < 5 / 6 else dice.uniform(0.005, 0.03)
    length_m = right_m
    for _ in range(6):
        try:
            now = dip_hz(length_m)
        except ValueError:
            break
        if now is None:
            break
        ahead = length_m * np.clip(np.exp(0.8 * (np.log(now / target_hz) - np.log1p(off))), 0.93, 1.07)
        try:
            if dip_hz(ahead) is None:
                break
        except ValueError:
            break
        length_m = float(ahead)
    return length_m


def _lines(dice: np.random.Generator) -> tuple[tuple[LinePiece, ...], tuple[LinePiece, ...]]:
    """As told, and as it is: 1 % and 5 cm, 1 % of velocity factor, 1.4 % of impedance, 10 % of loss, joints."""
    if dice.random() < 0.25:
        return (), ()
    told = parse_piece(f"{dice.choice(LINES)} {dice.uniform(3, 30):.1f} m")
    loss = float(np.exp(dice.normal(0, 0.12)))
    there = replace(
        told,
        z0_ohm=told.z0_ohm * dice.normal(1, 0.014),
        velocity_factor=min(told.velocity_factor * dice.normal(1, 0.01), 1.0),
        k1_db_per_100m=told.k1_db_per_100m * loss,
        k2_db_per_100m=told.k2_db_per_100m * loss,
        length_m=told.length_m * dice.normal(1, 0.01) + dice.normal(0, 0.05),
    )
    joint = LinePiece("joint", 50.0, 0.7, 0.0, 0.0, dice.uniform(0.03, 0.06))
    return (told,), (joint, there, joint)


def _analyzer(dice: np.random.Generator) -> Callable[[Any, Any, np.random.Generator], Any]:
    """Directivity 35 to 46 dB that turns and breathes, source match and tracking 30 to 40 dB, noise."""

    def turning(low_db: float, high_db: float) -> Callable[[Any], Any]:
        size, phase = 10 ** (-dice.uniform(low_db, high_db) / 20), dice.random()
        cycle_hz = dice.uniform(15e6, 60e6)
        return lambda f_hz: size * np.exp(2j * np.pi * (phase + f_hz / cycle_hz))

    directivity, match, tracking = turning(35, 46), turning(30, 40), turning(30, 40)
    again = turning(35, 46)
    calibrated_anew = dice.random() < 0.25
    noise, in_ohms = dice.uniform(0.0005, 0.002), dice.random() < 0.3

    def read(f_hz: Any, gamma: Any, chance: np.random.Generator) -> Any:
        number = int(chance.bit_generator.seed_seq.entropy[1])
        d = again(f_hz) if calibrated_anew and number else directivity(f_hz)
        seen = d + gamma * (1 + tracking(f_hz)) / (1 - match(f_hz) * gamma)
        even = noise * (chance.normal(size=f_hz.size) + 1j * chance.normal(size=f_hz.size)) / np.sqrt(2)
        return seen + even * (np.abs(1 - seen) ** 2 if in_ohms else 1.0)

    return read


# ---------- an independent set of models


def independent_cases(module: Path, tries: int) -> Iterator[Case]:
    """Antennas of an independent set of models: once as they are, then measured anew."""
    made = importlib.util.spec_from_file_location("independent_models", module)
    assert made
    assert made.loader
    models = importlib.util.module_from_spec(made)
    sys.modules[made.name] = models
    made.loader.exec_module(models)
    for name in models.antennas():
        for seed in range(tries):
            case = _independent_case(models, name, seed)
            if case is not None:
                yield case


def _independent_case(models: Any, name: str, seed: int) -> Case | None:
    antenna = models.antenna(name)
    told = antenna.told
    known = {"radials": told.get("radials"), "radial_length_m": told.get("radial_length")}
    known |= {"counterpoise_m": told.get("counterpoise")}
    known |= {"coil_h": told["coil_uh"] * 1e-6 if told.get("coil_uh") else None}
    known = {key: value for key, value in known.items() if value}
    right_m = antenna.length + antenna.t["change_exact"]
    start_m = antenna.length
    if seed:
        dice = np.random.default_rng([*name.encode(), seed])
        start_m = _start_m(
            lambda m: antenna.dip(m)[0] if antenna.lengths[0] < m < antenna.lengths[1] else None,
            antenna.t["target_hz"],
            right_m,
            dice,
        )

    def sweep(length_m: float, number: int) -> Sweep:
        there = copy.copy(antenna)
        there.length = float(np.clip(length_m, antenna.lengths[0], antenna.lengths[1]))
        with tempfile.TemporaryDirectory() as place:
            if not seed:
                path = Path(place) / "sweep.s1p"
                there.sweep(there.length, number, path)
            else:
                path, _ = models.redraw(there, seed).write(place)
            return read_sweep(path)

    with tempfile.TemporaryDirectory() as place:
        text = antenna.kit() if not seed else models.redraw(antenna, seed).kit()
        path = Path(place) / "kit.toml"
        path.write_text(text)
        kit = read_kit(path)
    has_line = "[lines.main]" in text
    return Case(
        name,
        antenna.family,
        told["kind"],
        known,
        start_m,
        right_m,
        antenna.t["target_hz"],
        lambda m: antenna.dip(m)[0] if antenna.lengths[0] <= m <= antenna.lengths[1] else None,
        sweep,
        ("main",) if has_line else (),
        kit,
    )


# ---------- the table


def summary(outcomes: list[Outcome]) -> str:
    """Median / 90th percentile / worst in percent, share of intervals that hold, refusals."""

    def triple(name: str) -> str:
        values = 100 * np.abs([getattr(o, name) for o in outcomes])
        values = values[np.isfinite(values)]
        if not values.size:
            return "-"
        return f"{np.median(values):.3f} / {np.quantile(values, 0.9):.3f} / {values.max():.2f}"

    def share(name: str) -> str:
        values = [getattr(o, name) for o in outcomes if getattr(o, name) is not None]
        return f"{sum(values)} of {len(values)} ({100 * np.mean(values):.0f} %)" if values else "-"

    over = sum(o.moved > 0.005 for o in outcomes if o.start < 0)
    worse = sum(abs(o.one) > abs(o.start) and abs(o.one) > 0.001 for o in outcomes)
    refused = sum(bool(o.refused) for o in outcomes)
    return " | ".join(
        [
            str(len(outcomes)),
            triple("one"),
            triple("two"),
            triple("secant"),
            share("held"),
            share("held_then"),
            str(over),
            str(worse),
            str(refused),
        ]
    )


def _line(o: Outcome) -> str:
    """One outcome."""
    one, two = (f"{100 * a:+.2f} -> {100 * b:+.3f}" for a, b in ((o.start, o.one), (o.moved, o.two)))
    return f"{o.name}: {one}, {two}, held {o.held}, {o.held_then} {o.refused}"


HEAD = "family | n | one change | two | secant | holds | holds after two | over | worse | refused"


def main(folder: str, tries: str = "1", *only: str) -> None:
    """Print the table, and each outcome on stderr."""
    place = Path(folder)
    cases = independent_cases if place.suffix == ".py" else own_cases
    by_family: dict[str, list[Outcome]] = defaultdict(list)
    for case in cases(place, int(tries)):
        if only and case.family not in only:
            continue
        outcome = try_case(case, len(by_family[case.family]))
        by_family[case.family].append(outcome)
        print(f"  {_line(outcome)}", file=sys.stderr, flush=True)
    print(HEAD)
    for family, outcomes in by_family.items():
        print(f"{family} | {summary(outcomes)}", flush=True)
    print(f"all | {summary([o for each in by_family.values() for o in each])}")


if __name__ == "__main__":
    main(*sys.argv[1:])
