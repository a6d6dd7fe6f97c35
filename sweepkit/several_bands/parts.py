"""Antennas with a part for each place: fans, linked and trap dipoles, both legs alike.

A fan's dips follow a small matrix: d ln f_p = M_pq d ln L_q. All pairs longer by one factor lower all dips by it, so
its rows sum to about -1; what one pair does to another is not positive (but for overtones that pass), little between
octaves and up to a tenth between neighbours. A linked or trap dipole is cumulative: every outer place carries what is
done to an inner section.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from sweepkit.antennas.kind import Move
from sweepkit.cautions import ONE_WAY, POWER_OFF
from sweepkit.conversions import FloatArray, mismatch_loss_db_from_gamma_abs
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import FOOT_M, SPEED_OF_LIGHT_M_S, frequency_text, length_text
from sweepkit.reviews.next_sweep import NextSweep, sweep_across
from sweepkit.several_bands.answer import (
    Action,
    Aim,
    BandRow,
    BandsPlan,
    Disturbed,
    PartMove,
    Sensitivity,
    State,
)
from sweepkit.several_bands.curve import BestInside
from sweepkit.several_bands.earlier import EarlierLength, learn_slopes
from sweepkit.several_bands.following import Followed, NamedDip
from sweepkit.several_bands.notices import (
    kind_doubted,
    nothing_covered,
    notice_line,
    notice_losses,
    notice_not_swept,
    notice_reviews,
    stopped,
)
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.reshaping import anyhow
from sweepkit.several_bands.rows import decide_by_gain, effect_of, figure_of, row_of, unseen
from sweepkit.several_bands.seen import REACH, WIDTH, Around, SeenAll, SeenPlace, sweep_for
from sweepkit.several_bands.state import Drawn, Slid, state_of
from sweepkit.several_bands.trap_model import trap_slopes
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.folds import FoldDraws, Lie, draw_folds
from sweepkit.trim.move import CUT_CAP, CUT_CAP_LEARNED, OVERSHOOT, OVERSHOOT_CHANCE

PartsKind = Literal["fan", "linked", "trap"]
TITLES: dict[PartsKind, str] = {"fan": "a fan", "linked": "a linked dipole", "trap": "a trap dipole"}
# One leg in wavelengths at its dip: ends and middle. Dipoles 0.238 to 0.245 bare, insulation shortens by up to 7 %,
# pairs of a fan end 3 to 9 % longer (models, trade reports); the wire beyond an open link loads the section inside it
# through the gap, by up to 20 % at 10 m (1 to 3 pF, own circuits); traps load every outer section.
SHARES: dict[PartsKind, tuple[float, float, float]] = {
    "fan": (0.215, 0.305, 0.247),
    "linked": (0.190, 0.290, 0.242),
    "trap": (0.130, 0.285, 0.225),
}
TOGETHER, TOGETHER_SIGMA = (
    -1.0,
    0.025,
)  # slope of a dip when all legs change by one factor: dipoles, models of our own
# What a longer pair does to a shorter one's dip, and a shorter to a longer one's, by the logarithm of the ratio of both
# dips: own fans of 40, 20 and 15 m and of 20, 15 and 10 m over a mirror, each within a third; 0.025 between
# octaves and up to 0.10 between neighbours in models of others.
COUPLING = (
    (0.0, 0.15, 0.10),
    (0.31, 0.12, 0.055),
    (0.40, 0.072, 0.035),
    (0.69, 0.030, 0.010),
    (1.1, 0.012, 0.002),
    (2.0, 0.008, 0.001),
)
COUPLING_SPREAD = 0.4  # logarithmic
# Where no wire with traps shows the dips: power of its share by which a loaded section answers slower.
TRAP_POWER = (1.0, 2.0)
GAP_POWER = (0.0, 1.5)  # the same behind an open link, where insulation may shorten as well
TRAP_SECTION_SIGMA = 0.1  # a metre inside a trap over one outside
# A pair's own dip is deep; a longer pair's third overtone makes a shallow one near it. Over its first: 3.086 alone,
# 3.126 beside a pair in between, each within 0.5 % over 7 to 11 m of height, 5 to 25 degrees of droop and three soils
# (own wire models; insulation on top).
UNSEEN_COST = 1.0  # of a part to which no dip is given; above any that fits
SHALLOW, OVERTONE, OVERTONE_WIDTH, OVERTONE_COST = 0.04, 3.086, 0.03, 0.02
OVERTONE_PAST, OVERTONE_SIGMA = 3.126, 0.006
# Half of how far two resonances of one feedpoint keep apart at least: where a pair dips beside the third overtone of
# another they push one another. 115 and 60 ohm, slopes of reactance of 4630 and 1800 ohm, and 48 + 71j ohm that they
# share, side by side against 50 ohm (own wire models, 10 to 35 degrees apart, within a tenth).
OVERTONE_ACTS, OVERTONE_ACTS_SPREAD = 0.0242, 0.12
# An overtone that passes a dip is taken as at least so far from it, (x - o)(o' - x') over g^2: nearer than 1 the dip is
# the overtone's as much as the pair's, and no length of the pair tells the two apart.
OVERTONE_PASSING = 2.0
# The other dip of the two says where the overtone lies: looked for so near, and read so well (it is shallow), in ln f.
TWIN_NEAR, TWIN_SIGMA = 0.12, 0.006
SAME_PLACE = 1.02  # places nearer than this may have their legs either way round
SWEEP_REACH = 0.035  # the sweep after a move reaches this far beyond dip and target
LENGTHS = 61  # slides tried for the least loss within reach


@dataclass(frozen=True)
class PartsWish:
    """What is told of the antenna and wanted of it: one leg by place, feed to end, link or trap. [m]"""

    kind: PartsKind
    lengths_m: Mapping[str, float]
    by: Move
    aim: Aim
    lies: Lie | None = None


@dataclass(frozen=True)
class EarlierPart:
    """Dips of an earlier sweep, the part that was different then, and how long it was. [m]"""

    dips: tuple[DipEnsemble, ...]
    part: str
    length_m: float


@dataclass(frozen=True, eq=False)
class _Parts:
    """The places with their dips, longest legs first, on draws; arrays run over (draws, places)."""

    wish: PartsWish
    seen: tuple[SeenPlace, ...]
    dips: tuple[DipEnsemble, ...]
    length_m: FloatArray
    ln_f: FloatArray
    matrix: FloatArray  # fan: slopes M; else what a metre of section q is worth to place p
    own: FloatArray
    folds: FoldDraws
    learned_from: int

    @property
    def places(self) -> tuple[Place, ...]:
        """The places."""
        return tuple(each.place for each in self.seen)

    def acting(self, m: FloatArray) -> FloatArray:
        """What changes as done are worth, shape (draws, places). [m]"""
        full = np.broadcast_to(m, self.ln_f.shape)
        if self.wish.by != "fold":
            return np.asarray(full, dtype=np.float64)
        worth, dead_m = self.folds.worth[:, np.newaxis], self.folds.dead_m[:, np.newaxis]
        return np.where(full < 0, -worth * np.maximum(-full - dead_m, 0.0), full)

    def done(self, acting_m: FloatArray) -> FloatArray:
        """The other way round: what has to be done for it, shape (draws, places). [m]"""
        if self.wish.by != "fold":
            return acting_m
        worth, dead_m = self.folds.worth[:, np.newaxis], self.folds.dead_m[:, np.newaxis]
        return np.where(acting_m < 0, acting_m / worth - dead_m, acting_m)

    def shift(self, m: FloatArray) -> FloatArray:
        """How far each dip goes in ln f, shape (draws, places)."""
        acting_m = self.acting(m)
        if self.wish.kind == "fan":
            step = np.log(np.maximum(1 + acting_m / self.length_m, 0.1))
            return np.asarray(np.einsum("dpq,dq->dp", self.matrix, step))
        carried = np.einsum("dpq,dq->dp", self.matrix, acting_m)
        return np.asarray(self.own * np.log(np.maximum(1 + carried / self.length_m, 0.1)))

    def full_m(self) -> FloatArray:
        """The changes that bring every dip to its place, as done, shape (draws, places). [m]"""
        wanted = np.asarray(np.log([place.middle_hz for place in self.places]) - self.ln_f, dtype=np.float64)
        if self.wish.kind == "fan":
            step = np.linalg.solve(self.matrix, wanted[..., np.newaxis])[..., 0]
            return self.done(self.length_m * np.expm1(step))
        extra = np.asarray(self.length_m * np.expm1(wanted / self.own))
        return self.done(
            np.asarray(np.linalg.solve(self.matrix, extra[..., np.newaxis])[..., 0], dtype=np.float64)
        )


def plan_parts(
    seen: SeenAll,
    wish: PartsWish,
    around: Around,
    *,
    earlier: Sequence[EarlierPart] = (),
) -> BandsPlan:
    """What to do with an antenna of several parts; ``earlier`` are sweeps with one part different."""
    stops = [each for each in seen.findings if each.code != "sweeps-differ" or wish.kind != "linked"]
    if all(place.file is None for place in seen.places):
        stops.append(nothing_covered(seen))
    if doubt := kind_doubted("series", TITLES[wish.kind], seen):
        stops.append(doubt)
    analyzer = seen.files[0].seen.analyzer
    if any(finding.level == "stop" for finding in stops):
        missing = [place.place for place in seen.places if place.file is None]
        return stopped(seen, wish.kind, wish.aim, stops, around.files, sweep_for(missing, analyzer))
    found = _dips(seen, wish)
    shown = tuple(place for place in seen.places if place.place.name in found)
    missing = [place.place for place in seen.places if place not in shown]
    again = sweep_for(missing, analyzer)
    if not shown:
        why = "none of the dips that belong to these lengths is in the sweeps"
        stop = Finding("not-covered", "stop", why, "take the sweeps named")
        return stopped(seen, wish.kind, wish.aim, [stop], around.files, again)
    parts = _drawn(shown, found, wish, earlier, around.seed)
    return _Answer(parts, seen, around, again).plan()


def refuse_untold(places: Sequence[Place], wish: PartsWish) -> None:
    """Refuse one place alone, a pair without a length, or lengths that go up with the frequency."""
    if len(places) < 2:
        raise BadInput(
            f"{TITLES[wish.kind]} serves several places, and one is named; name each with --band, --segment or --target"
        )
    for place in places:
        if place.name not in wish.lengths_m:
            name = place.name
            raise BadInput(
                f"{name} has no length; one leg, feed to end, was expected; add --length '{name}=10.61 m'"
            )
    upwards = sorted(places, key=lambda place: place.middle_hz)
    for low, high in pairwise(upwards):
        lower_m, higher_m = wish.lengths_m[low.name], wish.lengths_m[high.name]
        if lower_m <= higher_m and high.middle_hz > SAME_PLACE * low.middle_hz:
            raise BadInput(
                f"the leg for {low.name} is {length_text(lower_m)} and that for {high.name} {length_text(higher_m)}; a "
                "longer one for the lower place was expected; are two exchanged?"
            )


def _dips(seen: SeenAll, wish: PartsWish) -> dict[str, DipEnsemble]:
    """The dip of each place, by kind and length; where all sweeps show all, a longer part dips below a shorter."""
    low, high, middle = SHARES[wish.kind]
    costs: dict[str, dict[float, tuple[float, DipEnsemble]]] = {}
    for each in seen.places:
        if each.file is None:
            continue
        length_m = wish.lengths_m[each.place.name]
        longer = [  # where the longer pairs dip
            middle * SPEED_OF_LIGHT_M_S / size for size in wish.lengths_m.values() if size > 1.5 * length_m
        ]
        own = each.file.seen.dips if wish.kind == "linked" else [dip for _, dip in seen.dips()]
        for dip in own:
            share = dip.measured_hz * length_m / SPEED_OF_LIGHT_M_S
            if low <= share <= high:
                cost = abs(float(np.log(share / middle))) + SHALLOW * float(np.log(dip.swr[0]))
                if any(abs(np.log(dip.measured_hz / other / OVERTONE)) < OVERTONE_WIDTH for other in longer):
                    cost += OVERTONE_COST
                costs.setdefault(each.place.name, {})[dip.measured_hz] = (cost, dip)
    if wish.kind == "linked":  # each from its own sweep
        chosen = {name: min(own.values(), key=lambda one: one[0])[1] for name, own in costs.items()}
    else:
        by_length = sorted(costs, key=lambda name: -wish.lengths_m[name])
        chosen = {name: costs[name][f_hz][1] for name, f_hz in _in_order(by_length, costs, 0.0)[1]}
    for each in seen.places:
        if each.place.name not in chosen and each.file is not None:
            _refuse_length(each, wish)
    return chosen


def _in_order(
    names: Sequence[str], costs: Mapping[str, Mapping[float, tuple[float, DipEnsemble]]], above_hz: float
) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Of all ways to give each part, longest first, a dip above the one before or none, that of the least cost."""
    if not names:
        return 0.0, ()
    first, rest = names[0], names[1:]
    without, given = _in_order(rest, costs, above_hz)
    best = (UNSEEN_COST + without, given)
    for f_hz, (cost, _) in costs[first].items():
        if f_hz > above_hz:
            more, given = _in_order(rest, costs, f_hz)
            best = min(best, (cost + more, ((first, f_hz), *given)))
    return best


def _refuse_length(each: SeenPlace, wish: PartsWish) -> None:
    """A dip of that length must show in this sweep, and does not."""
    assert each.file is not None
    low, high, _ = SHARES[wish.kind]
    name, length_m = each.place.name, wish.lengths_m[each.place.name]
    f_hz = each.file.view.f_hz
    low_hz, high_hz = (share * SPEED_OF_LIGHT_M_S / length_m for share in (low, high))
    shown = [dip.measured_hz for dip in each.file.seen.dips]
    elsewhere = high_hz < 0.88 * each.place.low_hz or low_hz > 1.12 * each.place.high_hz
    if not elsewhere and not (f_hz[0] <= low_hz and high_hz <= f_hz[-1]):
        return
    near_hz = min(shown, key=lambda f: abs(np.log(f / each.place.middle_hz)), default=each.place.middle_hz)
    asked = "is that the total? give one leg" if _fits(wish.kind, length_m / 2, near_hz) else ""
    if not asked and _fits(wish.kind, length_m * FOOT_M, near_hz):
        asked = f"is that feet? write '{name}={length_m:g} ft'"
    low_m, high_m = (share * SPEED_OF_LIGHT_M_S / near_hz for share in (low, high))
    raise BadInput(
        f"a leg of {length_text(length_m)} for {name} belongs to no dip of {TITLES[wish.kind]}; for the dip at "
        f"{frequency_text(near_hz)} one of {length_text(low_m)} to {length_text(high_m)} was expected; "
        f"{asked or 'check the lengths (one leg, feed to end; feet or metres), the places and the kind'}"
    )


def _fits(kind: PartsKind, length_m: float, f_hz: float) -> bool:
    low, high, _ = SHARES[kind]
    return low <= length_m * f_hz / SPEED_OF_LIGHT_M_S <= high


def _drawn(
    shown: tuple[SeenPlace, ...],
    found: Mapping[str, DipEnsemble],
    wish: PartsWish,
    earlier: Sequence[EarlierPart],
    seed: int,
) -> _Parts:
    dice = np.random.default_rng([seed, 61])
    ordered = tuple(sorted(shown, key=lambda each: -wish.lengths_m[each.place.name]))
    dips = tuple(found[each.place.name] for each in ordered)
    length_m = np.array([wish.lengths_m[each.place.name] for each in ordered])
    n = max(each.file.curve.draws for each in ordered if each.file is not None)
    ln_f = np.stack([_ln_f(dip, n) for dip in dips], axis=1)
    middle_hz = np.array([dip.measured_hz for dip in dips])
    share = middle_hz * length_m / SPEED_OF_LIGHT_M_S
    own = _middle_first(dice.normal(TOGETHER, TOGETHER_SIGMA, ln_f.shape))
    if wish.kind == "fan":
        wanted_hz = np.array([each.place.middle_hz for each in ordered])
        matrix = _fan(middle_hz, wanted_hz, own, _twins(ordered, dips), dice)
    else:
        inner = length_m[np.newaxis, :] <= length_m[:, np.newaxis]
        worth = 1 + (dice.normal(0, TRAP_SECTION_SIGMA, (n, *inner.shape)) if wish.kind == "trap" else 0.0)
        matrix = np.broadcast_to(np.where(inner, worth, 0.0), (n, *inner.shape)).copy()
        matrix[:, np.arange(length_m.size), np.arange(length_m.size)] = 1.0
        matrix = _middle_first(matrix)
        if (
            wish.kind == "trap"
            and (worth_of := _trap_worth(ordered, length_m, middle_hz, n, dice)) is not None
        ):
            matrix, own = worth_of, np.full_like(own, TOGETHER)
        elif wish.kind == "trap":
            loaded = np.minimum(share / SHARES["linked"][2], 1.0) ** dice.uniform(*TRAP_POWER, ln_f.shape)
            own = _middle_first(own * loaded)
        else:
            inside = length_m < length_m.max()
            loaded = np.minimum(share / SHARES["linked"][2], 1.0) ** dice.uniform(*GAP_POWER, ln_f.shape)
            own = _middle_first(own * np.where(inside, loaded, 1.0))
    matrix, own, learned = _learned(matrix, own, dips, ordered, length_m, wish, earlier, dice)
    folds = draw_folds(wish.lies, n, dice)
    folds = FoldDraws(_middle_first(folds.worth), _middle_first(folds.dead_m))
    return _Parts(wish, ordered, dips, length_m, ln_f, matrix, own, folds, learned)


def _trap_worth(
    ordered: Sequence[SeenPlace], length_m: FloatArray, dip_hz: FloatArray, n: int, dice: np.random.Generator
) -> FloatArray | None:
    """What a metre of each section is worth to each place by wires and traps that show these dips, longest first."""
    place_hz = np.array([each.place.middle_hz for each in ordered])
    inwards = slice(None, None, -1)
    slopes = trap_slopes(length_m[inwards], dip_hz[inwards], place_hz[inwards], n, dice)
    return None if slopes is None else -slopes[:, inwards, inwards] * length_m[:, np.newaxis]


def _ln_f(dip: DipEnsemble, n: int) -> FloatArray:
    ln_f = dip.ln_f_of(dip.members(n))
    ln_f[0] = np.log(dip.measured_hz)
    return ln_f


def _middle_first(values: FloatArray) -> FloatArray:
    """The middle of all draws stands for the measured one."""
    values = np.array(values)
    values[0] = np.median(values, axis=0)
    return values


def _fan(
    middle_hz: FloatArray,
    wanted_hz: FloatArray,
    together: FloatArray,
    twins: Sequence[Sequence[float]],
    dice: np.random.Generator,
) -> FloatArray:
    """Slopes of a fan from its dips to where they are to go, shape (draws, places, places)."""
    above = np.log(middle_hz[:, np.newaxis] / middle_hz)  # of the dip over that of the pair that acts on it
    apart, longer, shorter = np.array(COUPLING).T
    size = np.where(above > 0, np.interp(above, apart, longer), np.interp(-above, apart, shorter))
    count = middle_hz.size
    others = -size * np.exp(dice.normal(0, COUPLING_SPREAD, (together.shape[0], count, count)))
    others -= _mixed(middle_hz, wanted_hz, together.shape[0], twins, dice)
    others[:, np.arange(count), np.arange(count)] = 0.0
    others = _middle_first(others)
    others[:, np.arange(count), np.arange(count)] = together - others.sum(axis=2)
    return others


def _twins(ordered: Sequence[SeenPlace], dips: Sequence[DipEnsemble]) -> list[list[float]]:
    """Further dips near that of each place, which are no other pair's. [Hz]"""
    taken = {dip.measured_hz for dip in dips}
    found = []
    for each, own in zip(ordered, dips, strict=True):
        shown = () if each.file is None else each.file.seen.dips
        found.append(
            [
                dip.measured_hz
                for dip in shown
                if dip.measured_hz not in taken
                and not dip.extrapolated
                and abs(np.log(dip.measured_hz / own.measured_hz)) < TWIN_NEAR
            ]
        )
    return found


def _mixed(
    middle_hz: FloatArray,
    wanted_hz: FloatArray,
    n: int,
    twins: Sequence[Sequence[float]],
    dice: np.random.Generator,
) -> FloatArray:
    """What a longer pair takes of a dip where its third overtone lies near, shape (draws, places, places).

    Two resonances o and p that act on one another dip where (x - o)(x - p) = g^2, all in ln f: of the way from x to x'
    the dip follows the other to g^2 / (g^2 + (x - o)(x' - o')). Where the overtone passes the dip on the way, that is
    below zero: it pushed the dip up before and pushes it down after, or the other way round. The other dip of the two,
    where it shows, tells where the overtone lies.
    """
    count = middle_hz.size
    between = (middle_hz[:, np.newaxis, np.newaxis] > middle_hz) & (middle_hz > middle_hz[:, np.newaxis])
    ratio = np.where(between.any(axis=-1), OVERTONE_PAST, OVERTONE)
    overtone = np.log(ratio) + dice.normal(0, OVERTONE_SIGMA, (n, count, count))
    act = OVERTONE_ACTS * np.exp(dice.normal(0, OVERTONE_ACTS_SPREAD, (n, count, count)))
    above = np.log(middle_hz[:, np.newaxis] / middle_hz)
    for p, q in np.argwhere(np.abs(above - np.log(ratio)) < TWIN_NEAR):
        twin = overtone[:, p, q] + act[:, p, q] ** 2 / (overtone[:, p, q] - above[p, q])
        for other_hz in twins[p]:
            miss = (np.log(other_hz / middle_hz[q]) - twin) / TWIN_SIGMA
            if (weights := np.exp(-0.5 * miss**2)).sum() > 1:
                rows = dice.choice(n, n, p=weights / weights.sum())
                overtone[:, p, q], act[:, p, q] = overtone[rows, p, q], act[rows, p, q]
                break
    then = np.log(wanted_hz[:, np.newaxis] / wanted_hz)
    apart = (above - overtone) * (then - overtone)
    passing = np.minimum(apart, -OVERTONE_PASSING * act**2)
    return np.asarray(act**2 / (act**2 + np.where(apart < 0, passing, apart)))


def _learned(
    matrix: FloatArray,
    own: FloatArray,
    dips: Sequence[DipEnsemble],
    ordered: Sequence[SeenPlace],
    length_m: FloatArray,
    wish: PartsWish,
    earlier: Sequence[EarlierPart],
    dice: np.random.Generator,
) -> tuple[FloatArray, FloatArray, int]:
    """Slopes weighed by earlier sweeps with one part different."""
    names = [each.place.name for each in ordered]
    used = 0
    for then in earlier:
        if then.part not in names:
            continue
        q, learned_any = names.index(then.part), 0
        for p, dip in enumerate(dips):
            if wish.kind != "fan" and p != q:
                continue
            slope = matrix[:, p, q] if wish.kind == "fan" else own[:, p] * matrix[:, p, q]
            followed = Followed((NamedDip(dip, 1, slope),), slope)
            taught, count = learn_slopes(
                followed, [EarlierLength(then.dips, then.length_m)], float(length_m[q]), dice
            )
            learned_any += count
            if wish.kind == "fan":
                matrix[:, p, q] = np.minimum(taught.dips[0].slope, np.maximum(slope, 0.0))
            else:
                own[:, p] = taught.dips[0].slope / matrix[:, p, q]
        used += bool(learned_any)
    return matrix, own, used


@dataclass(frozen=True, eq=False)
class _Answer:
    """From draws to the plan."""

    parts: _Parts
    seen: SeenAll
    around: Around
    missing: tuple[NextSweep, ...]

    def plan(self) -> BandsPlan:
        """The plan."""
        parts, wish = self.parts, self.parts.wish
        full = parts.full_m()
        reached, findings = self._within_reach(full)
        now, after = self._drawn(np.zeros(full.shape[1])), self._drawn(reached)
        now_db, after_db, least_db = (self._aim(each) for each in (now, after, self._least(now)))
        total = float(reached.sum())
        action, reason = decide_by_gain(now_db - after_db, wish.aim, total)
        if self._all_inside():
            action, reason = "leave", "every dip is where it is to go, as far as the sweep tells"
        left = action == "leave"
        rows = self._rows(now, now if left else after)
        moves = self._moves(full, reached, left)
        return BandsPlan(
            files=self.around.files,
            kind=wish.kind,
            aim=wish.aim,
            action=action,
            reason=reason,
            loss_now_db=figure_of(now_db, with_interval=self.around.with_interval),
            loss_after_db=figure_of(now_db if left else after_db, with_interval=self.around.with_interval),
            loss_least_db=figure_of(np.minimum(least_db, after_db), with_interval=self.around.with_interval),
            moves=moves,
            bands=rows,
            sensitivities=self._sensitivities(),
            learned_from=parts.learned_from,
            next_sweeps=self.missing,
            findings=(
                *findings,
                *notice_losses(rows),
                *notice_line(self.seen),
                *notice_not_swept(rows),
                *notice_reviews(self.seen),
            ),
            cautions=_cautions(action, moves, wish),
            known_from=_known_from(wish, parts.learned_from),
        )

    def _within_reach(self, full: FloatArray) -> tuple[FloatArray, list[Finding]]:
        """The measured change of each part, held to what a move reaches."""
        parts = self.parts
        low, high = (parts.length_m * (share - 1) for share in REACH)
        reached = np.clip(full[0], low, high)
        findings = []
        for place, m, held, length_m in zip(parts.places, full[0], reached, parts.length_m, strict=True):
            if m != held:
                text = (
                    f"{place.name}: it would take {length_text(float(m))} on {length_text(float(length_m))}, further "
                    f"than trimming reaches ({REACH[0]:.0%} to {REACH[1]:.0%})"
                )
                step = f"begin that part anew with about {length_text(float(length_m + m))}"
                findings.append(Finding("rebuild", "warning", text, step))
        return reached, findings

    def _all_inside(self) -> bool:
        """Whether every target lies inside the interval of its dip; without draws none does."""
        ln_f = self.parts.ln_f[1:]
        if not ln_f.size:
            return False
        low, high = np.quantile(ln_f, (0.025, 0.975), axis=0)
        wanted = np.log([place.middle_hz for place in self.parts.places])
        return bool(np.all((low <= wanted) & (wanted <= high)))

    def _drawn(self, m: FloatArray) -> list[Drawn | None]:
        """Every place after changes as done."""
        shift = self.parts.shift(m)
        return [self._state(k, shift[:, k]) for k in range(shift.shape[1])]

    def _state(self, k: int, shift: FloatArray) -> Drawn | None:
        parts = self.parts
        each = parts.seen[k]
        assert each.file is not None
        slid = Slid(each.place, each.file, shift, anyhow(shift.size, 1000 * self.around.seed + k + 1))
        if not slid.is_known:
            return None
        dip = parts.dips[k]
        swr = dip.swr[dip.members(shift.size)]
        swr[0] = dip.swr[0]
        dip_hz = np.exp(parts.ln_f[:, k] + shift)
        return state_of(
            slid,
            dip_hz,
            swr,
            self.around,
        )

    def _aim(self, drawn: Sequence[Drawn | None]) -> FloatArray:
        """Loss by the aim over the places that are shown, shape (draws,). [dB]"""
        losses = [each.loss_db for each in drawn if each is not None]
        weights = [
            place.weight for place, each in zip(self.parts.places, drawn, strict=True) if each is not None
        ]
        if not losses:
            return np.full(self.parts.ln_f.shape[0], np.inf)
        if self.parts.wish.aim == "worst":
            return np.asarray(np.max(losses, axis=0))
        return np.asarray(np.average(losses, axis=0, weights=weights))

    def _least(self, now: Sequence[Drawn | None]) -> list[Drawn | None]:
        """Each place at the best slide of its curve within reach."""
        slides = np.linspace(-np.log(REACH[1]), -np.log(REACH[0]), LENGTHS)
        least = []
        for each, drawn in zip(self.parts.seen, now, strict=True):
            if drawn is None or each.file is None:
                least.append(drawn)
                continue
            inside = BestInside(each.file.curve, each.place.low_hz, each.place.high_hz)
            size = inside.gamma_abs(np.broadcast_to(slides, (drawn.loss_db.size, LENGTHS)))
            loss_db = mismatch_loss_db_from_gamma_abs(np.where(np.isfinite(size), size, 1 - 1e-9)).min(axis=1)
            least.append(replace(drawn, loss_db=np.minimum(loss_db, drawn.loss_db)))
        return least

    def _rows(self, now: Sequence[Drawn | None], after: Sequence[Drawn | None]) -> tuple[BandRow, ...]:
        rows = []
        names = [place.name for place in self.parts.places]
        for each in self.seen.places:
            if each.place.name not in names:
                why = (
                    unseen(each.place)
                    if each.file is None
                    else f"no dip of the part for {each.place.name} shows"
                )
                rows.append(row_of(each.place, *(State.unknown(why),) * 2, "cannot_say", (), why))
                continue
            k = names.index(each.place.name)
            before, then = now[k], after[k]
            moved_by = self._moved_by(k)
            if before is None or then is None:
                none = State.unknown(f"{unseen(each.place)} after the move")
                first = (
                    State.unknown(unseen(each.place))
                    if before is None
                    else before.state.bare(self.around.with_interval)
                )
                rows.append(
                    row_of(each.place, first, none, "cannot_say", moved_by, none.loss_db.reason or "")
                )
                continue
            rows.append(
                row_of(
                    each.place,
                    before.state.bare(self.around.with_interval),
                    then.state.bare(self.around.with_interval),
                    effect_of(before, then),
                    moved_by,
                    self._why(k),
                )
            )
        return tuple(rows)

    def _moved_by(self, k: int) -> tuple[str, ...]:
        """Its own part first, then the inner ones that it carries."""
        parts = self.parts
        own = parts.places[k].name
        if parts.wish.kind == "fan":
            return (own,)
        inner = [
            p.name for p, size in zip(parts.places, parts.length_m, strict=True) if size < parts.length_m[k]
        ]
        return (own, *inner)

    def _why(self, k: int) -> str:
        dip, place = self.parts.dips[k], self.parts.places[k]
        text = f"its leg of {length_text(float(self.parts.length_m[k]))} dips at {frequency_text(dip.measured_hz)}"
        return f"{text}; it is to dip at {frequency_text(place.middle_hz)}"

    def _moves(self, full: FloatArray, reached: FloatArray, left: bool) -> tuple[PartMove, ...]:
        """In the order of work: the longest pair of a fan first, the innermost section of the others."""
        parts = self.parts
        first = np.zeros(reached.size) if left else self._first(reached)
        count = reached.size
        order = range(count) if parts.wish.kind == "fan" else range(count - 1, -1, -1)
        moves = []
        for k in order:
            alone = np.zeros(count)
            alone[k] = reached[k]
            then = np.exp(parts.ln_f + parts.shift(alone))
            disturbs = tuple(
                Disturbed(place.name, figure_of(then[:, p], with_interval=self.around.with_interval))
                for p, place in enumerate(parts.places)
                if p != k
            )
            spread = np.append(reached[k], full[1:, k] if self.around.with_interval else [])
            by = parts.wish.by if reached[k] <= 0 else ("slide" if parts.wish.by == "slide" else "add")
            figure = Figure.from_draws(spread, reason="")
            again = None if left else self._sweep(k)
            moves.append(PartMove(parts.places[k].name, 2, by, float(first[k]), figure, again, disturbs))
        return tuple(moves)

    def _first(self, reached: FloatArray) -> FloatArray:
        """Cuts keep the cap, and of no dip may more than one in twenty end above where it is to go."""
        parts = self.parts
        if parts.wish.by != "cut":
            return reached
        share = CUT_CAP_LEARNED if parts.learned_from else CUT_CAP
        wanted = np.exp(parts.ln_f[0] + parts.shift(reached)[0])
        while share > 0.05:
            m = np.where(reached < 0, share * reached, reached)
            then = np.exp(parts.ln_f + parts.shift(m))[1:]
            over = (then > OVERSHOOT * wanted).mean(axis=0) if then.size else np.zeros(1)
            if over.max() <= OVERSHOOT_CHANCE:
                return m
            share *= 0.9
        return np.where(reached < 0, share * reached, reached)

    def _sweep(self, k: int) -> NextSweep:
        place, dip_hz = self.parts.places[k], self.parts.dips[k].measured_hz
        ends = sorted((place.low_hz, place.high_hz, place.middle_hz, dip_hz))
        return sweep_across(
            ends[0] * (1 - SWEEP_REACH),
            ends[-1] * (1 + SWEEP_REACH),
            width_hz=WIDTH * place.middle_hz,
            analyzer=self.seen.files[0].seen.analyzer,
        )

    def _sensitivities(self) -> tuple[Sensitivity, ...]:
        """Of each dip for each part that moves it."""
        parts, found = self.parts, []
        f_hz = np.exp(parts.ln_f)
        for q, part in enumerate(parts.places):
            for p, place in enumerate(parts.places):
                per_m = parts.matrix[:, p, q] / parts.length_m[q]
                if parts.wish.kind != "fan":
                    per_m = parts.own[:, p] * parts.matrix[:, p, q] / parts.length_m[p]
                if per_m.any():
                    figure = figure_of(f_hz[:, p] * per_m, with_interval=self.around.with_interval)
                    found.append(Sensitivity(part.name, place.name, figure))
        return tuple(found)


def _cautions(action: Action, moves: Sequence[PartMove], wish: PartsWish) -> tuple[str, ...]:
    if action == "leave":
        return ()
    order = {
        "fan": "Longest pair first, then the next, then sweep all of it; repeat the round until every dip is where it "
        "is to go.",
        "linked": "Innermost section first and outwards: every outer place carries the inner sections.",
        "trap": "Innermost section first and outwards: every outer place carries the inner sections. Then sweep all of "
        "it again.",
    }[wish.kind]
    cautions = [POWER_OFF, order, "Change both legs by the same length."]
    if any(move.by == "cut" for move in moves):
        cautions += [
            ONE_WAY,
            "Fold the same length first and sweep; cut this much, sweep again, then cut the rest.",
        ]
    return (*cautions, "Hands off the wire and the line while sweeping, at its final height.")


def _known_from(wish: PartsWish, learned_from: int) -> str:
    basis = {
        "fan": "a matrix of pairs that act on one another",
        "linked": "dipoles of the length up to each link",
        "trap": "dipoles loaded by the traps inside",
    }[wish.kind]
    return f"this antenna's own {learned_from + 1} sweeps, and {basis}" if learned_from else basis
