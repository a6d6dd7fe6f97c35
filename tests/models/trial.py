"""Try the trim answer on modelled antennas and print how far it misses.

    python -m tests.models.families /tmp/held 12 40       # once, about 20 minutes, needs the extra models
    python -m tests.models.trial /tmp/held

Every antenna starts 1 to 9 % too long (one in six too short), behind 0 to 30 m of coax, is swept with the errors
of a hand-held analyzer, and is changed as advised. The line told is not quite the line there is. Nothing
here is seen by the package.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sweepkit.antennas.catalogue import kind_named
from sweepkit.antennas.kind import Known
from sweepkit.errors import SweepkitError
from sweepkit.feedline.chain import LineChain, draw_chain
from sweepkit.feedline.plane import add_chain
from sweepkit.kit import Analyzer
from sweepkit.lines import LinePiece, parse_piece
from sweepkit.reviews.planes import lay_out_planes
from sweepkit.sweep import Sweep
from sweepkit.trim.answer import TrimPlan
from sweepkit.trim.dips_of_view import dips_of_view
from sweepkit.trim.folds import Lie
from sweepkit.trim.plan import plan_from_dips
from sweepkit.trim.wire import EarlierState
from sweepkit.trim.wish import EarlierSweep, NoPlan, Wish
from tests.models import families
from tests.models.families import Specimen

LINES = ("RG-58", "RG-8X", "RG-213", "RG-174")
DIRECTIVITY = 0.01  # 40 dB, the default the package assumes; its phase is anew for each sweep
LEAST_OHM = 0.5  # below it the wire model of a short whip over radials has no meaning
FOLD_LIES: tuple[Lie, ...] = ("contact", "taped", 0.005, 0.02, 0.05)
# Worth of a fold over a cut, and the range of its dead length [m], bare and insulated: wire models.
FOLDS_MODELLED: dict[Lie, tuple[float, float, float]] = {
    "contact": (0.96, 0.0, 0.003),
    "taped": (0.91, 0.003, 0.012),
    0.005: (0.85, 0.01, 0.04),
    0.02: (0.70, 0.04, 0.08),
    0.05: (0.63, 0.09, 0.16),
}
FOLDED = ("dipole", "inverted-vee", "vertical-radials", "end-fed", "loop")
HAND_SIGMA_M = 0.001  # how exactly a length is changed in the trial

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Site:
    """One antenna with its line and how it is swept."""

    specimen: Specimen
    told: tuple[LinePiece, ...]
    there: tuple[LinePiece, ...]
    noise: float
    points: int
    span: tuple[float, float]

    def sweep(self, acting_m: float, dice: np.random.Generator) -> Sweep:
        """What the analyzer writes with the wire acting like ``acting_m`` of straight wire."""
        target_hz = self.specimen.spec.target_hz
        centre_hz = target_hz * self.specimen.spec.guess_m / acting_m
        low_hz = max(self.span[0] * target_hz, 0.825 * centre_hz)
        high_hz = min(self.span[1] * target_hz, 1.175 * centre_hz)
        f_hz = np.linspace(low_hz, high_hz, self.points)
        z = self.specimen.z_ohm(f_hz, acting_m)
        gamma = (z - 50) / (z + 50)
        if self.there:
            drawn = draw_chain(LineChain(self.there), dice, 0)
            gamma = add_chain(f_hz, gamma, drawn)[0]
        noise = dice.standard_normal((2, f_hz.size)) * self.noise / np.sqrt(2)
        gamma = gamma + DIRECTIVITY * np.exp(2j * np.pi * dice.random()) + noise[0] + 1j * noise[1]
        return Sweep.from_gamma(f_hz, gamma)

    def dips(self, sweep: Sweep, seed: int) -> tuple[Any, ...]:
        """Dips at the feedpoint as the package finds them."""
        (planes,) = lay_out_planes(
            [sweep],
            chain=LineChain(self.told),
            measured_at="radio" if self.told else "feedpoint",
            analyzer=Analyzer(),
            reference_ohm=50.0,
            draws=300,
            seed=seed,
        )
        view = planes.feedpoint
        assert view is not None
        return dips_of_view(view, seed=seed)


def make_site(specimen: Specimen, dice: np.random.Generator) -> Site:
    """A line as told and as it is, and a sweep setting."""
    told: tuple[LinePiece, ...] = ()
    there: tuple[LinePiece, ...] = ()
    if dice.random() < 0.75:
        length_m = round(dice.uniform(3, 30), 1)
        piece = parse_piece(f"{dice.choice(LINES)} {length_m} m")
        told = (piece,)
        there = (_as_it_is(piece, dice),)
    spread = 0.07 if specimen.spec.kind == "loaded-whip" else 0.14
    return Site(
        specimen,
        told,
        there,
        noise=float(dice.choice([0.0005, 0.001, 0.002])),
        points=int(dice.choice([101, 201, 401])),
        span=(1 - spread, 1 + 0.6 * spread),
    )


def _as_it_is(piece: LinePiece, dice: np.random.Generator) -> LinePiece:
    """The line that was really laid: 1 % and 5 cm of length, 1 % of velocity factor, 10 % of loss (1 sigma)."""
    loss = max(dice.normal(1, 0.10), 0.5)
    return LinePiece(
        piece.name,
        piece.z0_ohm,
        min(piece.velocity_factor * dice.normal(1, 0.01), 1.0),
        piece.k1_db_per_100m * loss,
        piece.k2_db_per_100m * loss,
        piece.length_m * dice.normal(1, 0.01) + dice.normal(0, 0.05),
    )


def true_dip_hz(specimen: Specimen, length_m: float) -> float | None:
    """Dip at the feedpoint of the model itself, nearest where it belongs."""
    spec = specimen.spec
    centre_hz = spec.target_hz * spec.guess_m / length_m
    f_hz = np.exp(np.linspace(np.log(0.825 * centre_hz), np.log(1.175 * centre_hz), 241))
    for _ in range(4):
        z = specimen.z_ohm(f_hz, length_m)
        size = np.abs((z - 50) / (z + 50))
        dips = np.flatnonzero((size[1:-1] < size[:-2]) & (size[1:-1] < size[2:])) + 1
        if not dips.size:
            return None
        at = int(dips[np.argmin(size[dips])])
        f_hz = np.exp(np.linspace(np.log(f_hz[at - 1]), np.log(f_hz[at + 1]), 41))
    return float(f_hz[20])


def right_length_m(specimen: Specimen) -> float | None:
    """Length at which the true dip is at the target."""
    low_m, high_m = (specimen.spec.guess_m * share for share in (0.905, 1.155))
    for _ in range(28):
        middle_m = float(np.sqrt(low_m * high_m))
        dip_hz = true_dip_hz(specimen, middle_m)
        if dip_hz is None:
            return None
        low_m, high_m = (middle_m, high_m) if dip_hz > specimen.spec.target_hz else (low_m, middle_m)
    inside = specimen.spec.guess_m * 0.915 < middle_m < specimen.spec.guess_m * 1.12
    return middle_m if inside else None


@dataclass
class Outcome:
    """Errors of the frequency over the target [-], NaN where there was no answer."""

    family: str
    start: float
    first: float
    second: float
    plain: float
    oracle: float
    capped: float
    inside: bool | None
    inside_second: bool | None


def try_cut(specimen: Specimen, seed: int, *, told: bool) -> Outcome | None:
    """One antenna: a full change, the same after the capped move and a second sweep, and the rules beside."""
    dice = np.random.default_rng(seed)
    right_m = right_length_m(specimen)
    if right_m is None or specimen.wires_ohm.real.min() < LEAST_OHM:
        return None
    spec = specimen.spec
    site = make_site(specimen, dice)
    too_short = dice.random() < 1 / 6
    start_m = right_m * (1 - dice.uniform(0.01, 0.04) if too_short else 1 + dice.uniform(0.01, 0.09))
    start_m = float(np.clip(start_m, spec.guess_m * 0.905, spec.guess_m * 1.155))
    known = Known(**spec.known) if told else Known()
    wish = Wish(kind_named(spec.kind), start_m, spec.target_hz, "cut", known=known)
    sweep = site.sweep(start_m, dice)
    plan = _plan(site, sweep, wish, (), seed)
    if plan is None:
        return None
    error = _error(specimen)
    change_m = plan.change_m.value or 0.0
    move_m = 0.7 * change_m if plan.first_move.by == "none" else plan.first_move.m
    moved_m = start_m + move_m + dice.normal(0, HAND_SIGMA_M)
    second_sweep = site.sweep(moved_m, dice)
    state = EarlierState("first", start_m, False, "cut")
    told_m = start_m + move_m
    later = Wish(wish.kind, told_m, spec.target_hz, "cut", known=known)
    again = _plan(site, second_sweep, later, ((sweep, state),), seed + 1)
    second = np.nan if again is None else error(moved_m + (again.change_m.value or 0.0))
    raw = _plain_dip_hz(sweep, start_m, spec)
    slope = np.log(true_dip_hz(specimen, start_m) / spec.target_hz) / np.log(start_m / right_m)
    best_hz = plan.now_hz.value or np.nan
    return Outcome(
        spec.family,
        error(start_m),
        error(start_m + change_m),
        second,
        error(start_m * raw / spec.target_hz),
        error(start_m * (spec.target_hz / best_hz) ** (1 / slope)),
        error(start_m + move_m),
        _holds(plan.change_m, right_m - start_m),
        None if again is None else _holds(again.change_m, right_m - moved_m),
    )


@dataclass
class FoldOutcome:
    """Errors of the frequency over the target [-] after one fold, two folds, and one fold and a cut."""

    one: float
    two: float
    then_cut: float
    inside: bool


def try_folds(
    specimen: Specimen, seed: int, *, told: bool, wire_told: bool = False, fold: Any = None
) -> FoldOutcome | None:
    """A wire 2 to 8 % too long that is folded as advised; how its tail lies is told or not.

    ``fold``: makes what one tail does (``folds_study.ModelledFold``), else a line within ``FOLDS_MODELLED``.
    """
    dice = np.random.default_rng(seed)
    right_m = right_length_m(specimen)
    if right_m is None:
        return None
    spec = specimen.spec
    site = make_site(specimen, dice)
    start_m = min(right_m * (1 + dice.uniform(0.02, 0.08)), spec.guess_m * 1.155)
    word: Lie = FOLD_LIES[int(dice.integers(len(FOLD_LIES)))]
    quarter_m = 0.24 * families.SPEED_OF_LIGHT_M_S / spec.target_hz
    is_line = fold is None or isinstance(word, str)  # wires that touch are beyond the wire model
    tail: Any = _FoldLine(word, dice) if is_line else fold(word, quarter_m, dice)
    known = dict(spec.known)
    if wire_told and not is_line:
        known |= {"wire": tail.told}
    wish = Wish(
        kind_named(spec.kind),
        start_m,
        spec.target_hz,
        "fold",
        lies=word if told else None,
        known=Known(**known),
    )
    first = site.sweep(start_m, dice)
    plan = _plan(site, first, wish, (), seed)
    if plan is None:
        return None
    error = _error(specimen)

    def acting_m(tail_m: float, cut_m: float = 0.0) -> float:
        return start_m - cut_m * dice.uniform(0.95, 1.0) - tail.value_m(max(tail_m, 0.0))

    tail_m = max(-(plan.change_m.value or 0.0), 0.0)
    needed_m = start_m - right_m
    truth_m = -tail.tail_worth_m(needed_m)
    folded = site.sweep(acting_m(tail_m), dice)
    earlier = ((first, EarlierState("first", start_m, False, "fold")),)
    later = replace(wish, length_m=start_m - tail_m)
    again = _plan(site, folded, later, earlier, seed + 1)
    cutting = _plan(site, folded, replace(later, by="cut"), earlier, seed + 2)
    if again is None or cutting is None:
        return None
    return FoldOutcome(
        error(acting_m(tail_m)),
        error(acting_m(tail_m - (again.change_m.value or 0.0))),
        error(acting_m(tail_m, -(cutting.change_m.value or 0.0))),
        _holds(plan.change_m, truth_m),
    )


class _FoldLine:
    """What one tail does: within what wire models of folds show, not what the package makes of it."""

    def __init__(self, word: Lie, dice: np.random.Generator) -> None:
        worth, low_m, high_m = FOLDS_MODELLED[word]
        self._worth, self._dead_m = min(worth * dice.normal(1, 0.03), 1.0), dice.uniform(low_m, high_m)

    def value_m(self, tail_m: float) -> float:
        """What a fold is worth."""
        return self._worth * max(tail_m - self._dead_m, 0.0)

    def tail_worth_m(self, value_m: float) -> float:
        """The fold that is worth so much."""
        return value_m / self._worth + self._dead_m


def fold_summary(outcomes: list[FoldOutcome]) -> str:
    """One row: median and 90th percentile in percent, overshoots of more than 0.5 %, coverage."""

    def pair(name: str) -> str:
        values = 100 * np.array([getattr(o, name) for o in outcomes])
        values = values[np.isfinite(values)]
        over = int(np.sum(values > 0.5))
        return f"{np.median(np.abs(values)):.3f} / {np.quantile(np.abs(values), 0.9):.2f}, {over} over"

    holds = np.mean([o.inside for o in outcomes])
    return f"{len(outcomes)} | {pair('one')} | {pair('two')} | {pair('then_cut')} | {holds:.1%}"


def _plan(
    site: Site, sweep: Sweep, wish: Wish, earlier: tuple[tuple[Sweep, EarlierState], ...], seed: int
) -> TrimPlan | None:
    try:
        plan = plan_from_dips(
            site.dips(sweep, seed),
            wish,
            earlier=tuple(EarlierSweep(site.dips(then, seed), state) for then, state in earlier),
            span_hz=(float(sweep.f_hz[0]), float(sweep.f_hz[-1])),
            seed=seed,
        )
    except (SweepkitError, ValueError) as problem:
        print("  no answer:", site.specimen.spec.family, problem, file=sys.stderr)
        return None
    return None if isinstance(plan, NoPlan) else plan


def _plain_dip_hz(sweep: Sweep, length_m: float, spec: families.Spec) -> float:
    """What the plain rule reads off: the lowest sample near where the dip belongs."""
    return float(sweep.f_hz[int(np.argmin(sweep.gamma_abs))])


def _error(specimen: Specimen) -> Callable[[float], float]:
    def error(length_m: float) -> float:
        if not 0.9 < length_m / specimen.spec.guess_m < 1.16:
            return float("nan")
        dip_hz = true_dip_hz(specimen, length_m)
        return float("nan") if dip_hz is None else dip_hz / specimen.spec.target_hz - 1

    return error


def _holds(figure: Any, truth: float) -> bool:
    return bool(figure.low <= truth <= figure.high)


def summary(outcomes: list[Outcome]) -> str:
    """One row: counts, median and 90th percentile of each error in percent, overshoots, coverage."""

    def pair(name: str) -> str:
        values = 100 * np.abs([getattr(o, name) for o in outcomes])
        values = values[np.isfinite(values)]
        return f"{np.median(values):.3f} / {np.quantile(values, 0.9):.2f}" if values.size else "-"

    long_ones = [o for o in outcomes if o.start < 0]
    over = sum(o.capped > 0.005 for o in long_ones)
    cover = np.mean([o.inside for o in outcomes])
    cover_second = np.mean([o.inside_second for o in outcomes if o.inside_second is not None])
    worse = sum(abs(o.first) > abs(o.start) for o in outcomes)
    return (
        f"{len(outcomes):4d} | {pair('plain')} | {pair('oracle')} | {pair('first')} | {pair('second')} | "
        f"{over} of {len(long_ones)} | {cover:.1%} | {cover_second:.1%} | {worse}"
    )


def main(folder: str, repeats: str = "1") -> None:
    """Print the table."""
    print("family, told | n | plain | oracle | one change | two changes | over | holds | holds 2nd | worse")
    for told in (True, False):
        everything: list[Outcome] = []
        for number, family in enumerate(families.MAKERS):
            specimens = families.load(Path(folder) / f"{family}.npz")
            tried = [
                try_cut(specimen, 100_000 * number + 100 * k + repeat, told=told)
                for k, specimen in enumerate(specimens)
                for repeat in range(int(repeats))
            ]
            outcomes = [outcome for outcome in tried if outcome is not None]
            everything += outcomes
            print(f"{family}, {'told' if told else 'untold'} | {summary(outcomes)}", flush=True)
        print(f"all, {'told' if told else 'untold'} | {summary(everything)}", flush=True)
    print("folds | n | one fold | two folds | a fold, then a cut | holds")
    for told in (True, False):
        folds: list[FoldOutcome] = []
        for number, family in enumerate(FOLDED):
            specimens = families.load(Path(folder) / f"{family}.npz")
            tried_folds = [
                try_folds(specimen, 1_000_000 + 100_000 * number + 100 * k + repeat, told=told)
                for k, specimen in enumerate(specimens)
                for repeat in range(int(repeats))
            ]
            folds += [outcome for outcome in tried_folds if outcome is not None]
        print(f"all, {'told' if told else 'untold'} | {fold_summary(folds)}", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
