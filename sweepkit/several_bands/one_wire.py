"""One wire that serves several places: end-feds, and dipoles or verticals on their overtones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np

from sweepkit.antennas.kind import Kind, Known, Move
from sweepkit.cautions import ONE_WAY, POWER_OFF
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text, length_text
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.several_bands import reshaping
from sweepkit.several_bands.aim import Losses, changes_m, losses_over
from sweepkit.several_bands.answer import (
    Action,
    Aim,
    BandRow,
    BandsPlan,
    Disturbed,
    Effect,
    FeedEnd,
    OtherAim,
    OtherBand,
    PartMove,
    Sensitivity,
)
from sweepkit.several_bands.curve import BestInside
from sweepkit.several_bands.earlier import EarlierLength, agreeing, learn_slopes
from sweepkit.several_bands.first_cut import first_share
from sweepkit.several_bands.following import Followed, NamedDip, follow_dips
from sweepkit.several_bands.middle import middle_first
from sweepkit.several_bands.notices import (
    kind_doubted,
    nothing_covered,
    notice_line,
    notice_losses,
    notice_not_swept,
    notice_reviews,
    stopped,
)
from sweepkit.several_bands.pictured import OverLength
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.rows import decide_by_gain, figure_of, row_between, row_unseen, unseen
from sweepkit.several_bands.seen import NEAR, REACH, Around, SeenAll, SeenFile, SeenPlace, sweep_for
from sweepkit.several_bands.state import Drawn, Slid, state_of
from sweepkit.several_bands.wrong_length import refuse_wrong_length
from sweepkit.trim.folds import FoldDraws, Lie, draw_folds

NOT_BELOW_SWR = 3.0  # what a place must get below somewhere within reach to be one of the wire's
SAID = {"gains": "gains", "same": "stays", "loses": "loses", "cannot_say": "cannot say"}


@dataclass(frozen=True)
class WireWish:
    """What is told of the wire and wanted of it."""

    kind: Kind
    length_m: float
    by: Move
    aim: Aim
    known: Known
    choke_m: float | None = None
    tail_m: float = 0.0
    lies: Lie | None = None


@dataclass(frozen=True, eq=False)
class _Wire:
    """Everything on draws: the places that are shown, their dips, and what a change of length does."""

    wish: WireWish
    places: tuple[SeenPlace, ...]
    followed: Followed
    folds: FoldDraws
    losses: Losses
    learned_from: int
    around: Around
    contradictions: tuple[Finding, ...]

    def ln_change(self, change_m: FloatArray | float) -> FloatArray:
        """Logarithm of the acting length after a change over that before, shape (draws, m)."""
        return _ln_change(self.wish, self.folds, np.atleast_1d(np.asarray(change_m, dtype=np.float64)))

    def left_out(self, near: NamedDip | None, file: SeenFile, members: int, seed: int) -> ComplexArray:
        """What a slide of the curve at a place leaves out on every draw, by the dip that is near."""
        if near is None:
            return reshaping.anyhow(members, seed)
        if self.wish.kind.name == "end-fed":
            taken = np.zeros(members) if near.taken is None else near.taken
            left_out = reshaping.end_fed_dip(
                near.order, near.dip.measured_hz, taken, seed, choke_m=self.wish.choke_m
            )
        else:
            left_out = reshaping.plain_dip(near.order, members, seed)
        known = file.seen.review.planes.feedpoint is not None and file.view.phase == "signed"
        return left_out if known else reshaping.turned_anyhow(left_out, seed)


def plan_one_wire(
    seen: SeenAll,
    wish: WireWish,
    around: Around,
    *,
    earlier: Sequence[EarlierLength] = (),
) -> BandsPlan:
    """What to do with one wire for several places; ``earlier`` are dips at other lengths of it."""
    shown = tuple(place for place in seen.places if place.file is not None and _now_known(place))
    pairs = seen.dips()
    refuse_wrong_length(wish.kind, wish.length_m, [dip.measured_hz for _, dip in pairs], seen.spans_hz)
    stops = list(seen.findings)
    if not shown:
        stops.append(nothing_covered(seen))
    if doubt := kind_doubted(wish.kind.usual.resonance, wish.kind.title, seen):
        stops.append(doubt)
    analyzer = seen.files[0].seen.analyzer
    missing = [place.place for place in seen.places if place not in shown]
    if any(finding.level == "stop" for finding in stops):
        return stopped(seen, wish.kind.name, wish.aim, stops, around.files, sweep_for(missing, analyzer))
    wire = _wire(seen, shown, wish, earlier, around)
    return _Answer(wire, seen, sweep_for(missing, analyzer)).plan()


def _now_known(place: SeenPlace) -> bool:
    file = place.file
    return file is not None and file.curve.knows(place.place.low_hz, place.place.high_hz)


def _wire(
    seen: SeenAll,
    shown: tuple[SeenPlace, ...],
    wish: WireWish,
    earlier: Sequence[EarlierLength],
    around: Around,
) -> _Wire:
    members = max(place.file.curve.draws for place in shown if place.file is not None)
    dice = np.random.default_rng([around.seed, 23])
    pairs = seen.dips()
    followed = follow_dips(
        wish.kind,
        wish.length_m,
        [dip for _, dip in pairs],
        wish.known,
        choke_m=wish.choke_m,
        members=members,
        dice=dice,
    )
    earlier, left_out = agreeing(followed.dips, earlier, wish.length_m)
    followed, learned_from = learn_slopes(followed, earlier, wish.length_m, dice)
    folds = draw_folds(wish.lies, members, dice, wire=wish.known.wire)
    folds = FoldDraws(middle_first(folds.worth), middle_first(folds.dead_m))
    change_m = changes_m(wish.length_m)
    ln_change = _ln_change(wish, folds, change_m)
    inside = [
        BestInside(place.file.curve, place.place.low_hz, place.place.high_hz)
        for place in shown
        if place.file is not None
    ]
    shifts = followed.shifts_at([place.place.middle_hz for place in shown], ln_change)
    weights = np.array([place.place.weight for place in shown])
    losses = Losses(change_m, losses_over(inside, shifts), weights)
    return _Wire(wish, shown, followed, folds, losses, learned_from, around, tuple(left_out))


def _ln_change(wish: WireWish, folds: FoldDraws, change_m: FloatArray) -> FloatArray:
    """Folds count by what they are worth; new wire in full."""
    acting = wish.length_m + change_m[np.newaxis, :] + np.zeros((folds.worth.size, 1))
    if wish.by == "fold":
        tail_m = wish.tail_m - change_m[np.newaxis, :]
        worth, dead_m = folds.worth[:, np.newaxis], folds.dead_m[:, np.newaxis]
        value_m = worth * np.maximum(np.maximum(tail_m, 0.0) - dead_m, 0.0)
        before_m = worth * np.maximum(wish.tail_m - dead_m, 0.0)
        acting = wish.length_m - (value_m - before_m) + np.maximum(-tail_m, 0.0)
    return np.asarray(np.log(np.maximum(acting, 0.05 * wish.length_m) / wish.length_m))


@dataclass(frozen=True, eq=False)
class _Answer:
    """From draws to the plan."""

    wire: _Wire
    seen: SeenAll
    missing: tuple[NextSweep, ...]

    def plan(self) -> BandsPlan:
        """The plan."""
        wire, wish = self.wire, self.wire.wish
        best, value = wire.losses.best(wish.aim), wire.losses.of(wish.aim)
        index, full_m = best.number, float(wire.losses.change_m[best.number])
        now_db, after_db = value[:, wire.losses.unchanged], value[:, index]
        set_aside = None if best.set_aside is None else wire.places[best.set_aside].place.name
        action, reason = decide_by_gain(best.gain_db, wish.aim, full_m, set_aside=set_aside)
        comes_near = self._comes_near(full_m)
        findings = list(self._rebuild(index)) if comes_near else [self._far_off()]
        if not comes_near:
            action, reason = "leave", f"{findings[0].text}; another length within reach helps little"
        rows = self._rows(full_m if action != "leave" else 0.0)
        then_db = after_db if action != "leave" else now_db
        move = self._move(full_m, best.each_m, action)
        findings += notice_losses(rows)
        return BandsPlan(
            files=self.wire.around.files,
            kind=wish.kind.name,
            aim=wish.aim,
            action=action,
            reason=reason,
            loss_now_db=self._figure(now_db),
            loss_after_db=self._figure(then_db),
            loss_least_db=self._figure(np.min(value, axis=1)),
            moves=(move,),
            bands=rows,
            other_aim=self._other() if wish.kind.name == "end-fed" else None,
            sensitivities=tuple(self._sensitivities()),
            feed_end=tuple(self._feed_end(rows)) if wish.kind.name == "end-fed" else (),
            learned_from=wire.learned_from,
            next_sweeps=self.missing,
            findings=(
                *findings,
                *wire.contradictions,
                *notice_line(self.seen),
                *notice_not_swept(rows),
                *notice_reviews(self.seen),
            ),
            cautions=_cautions(action, move, wish),
            not_by_wire=tuple(self._not_by_wire()),
            known_from=_known_from(wish, wire.learned_from),
            picture=self._picture(full_m, move.m),
        )

    def _picture(self, full_m: float, first_m: float) -> OverLength:
        wire = self.wire
        size = np.sqrt(1 - 10 ** (-wire.losses.loss_db[:, 0] / 10))
        swr = {place.place.name: (1 + one) / (1 - one) for place, one in zip(wire.places, size, strict=True)}
        now_m = wire.wish.length_m
        return OverLength(now_m + wire.losses.change_m, swr, now_m, now_m + full_m, now_m + first_m)

    def _figure(self, values: FloatArray) -> Figure:
        return figure_of(values, with_interval=self.wire.around.with_interval)

    def _rows(self, full_m: float) -> tuple[BandRow, ...]:
        wire = self.wire
        rows = []
        ln_change = wire.ln_change(full_m)[:, 0]
        for each in self.seen.places:
            number = next((k for k, place in enumerate(wire.places) if place is each), None)
            if number is None:
                rows.append(row_unseen(each.place, unseen(each.place)))
                continue
            near = wire.followed.near(each.place.middle_hz)
            rows.append(
                row_between(
                    each.place,
                    self._state(number, np.zeros_like(ln_change)),
                    self._state(number, ln_change),
                    () if near is None else near.moved_by,
                    partial(_why, near),
                    with_interval=wire.around.with_interval,
                )
            )
        return tuple(rows)

    def _state(self, number: int, ln_change: FloatArray) -> Drawn | None:
        wire = self.wire
        place = wire.places[number]
        if place.file is None:
            return None
        near = wire.followed.near(place.place.middle_hz, ln_change)
        left_out = wire.left_out(near, place.file, ln_change.size, 1000 * wire.around.seed + number + 1)
        slid = Slid(
            place.place, place.file, wire.followed.shift_at(place.place.middle_hz, ln_change), left_out
        )
        if not slid.is_known:
            return None
        dip_hz, dip_swr = self._dip_after(place.place, ln_change)
        return state_of(slid, dip_hz, dip_swr, wire.around)

    def _dip_after(
        self, place: Place, ln_change: FloatArray
    ) -> tuple[FloatArray, FloatArray] | tuple[None, None]:
        """The dip that is nearest the middle of a place then, with its SWR."""
        dip = self.wire.followed.near(place.middle_hz, ln_change)
        if dip is None:
            return None, None
        f_hz = _dip_draws(dip, ln_change)
        swr = dip.dip.swr[dip.dip.members(f_hz.size)]
        swr[0] = dip.dip.swr[0]
        return f_hz, swr

    def _move(self, full_m: float, each_m: FloatArray, action: Action) -> PartMove:
        wire = self.wire
        by = _by(wire.wish, full_m)
        m = 0.0 if action == "leave" else self._first_m(full_m, by)
        spread = np.append(full_m, each_m[1:])
        figure = Figure.from_draws(spread if self.wire.around.with_interval else spread[:1], reason="")
        low, high = (end if end is not None else full_m for end in (figure.low, figure.high))
        ln_change = wire.ln_change(full_m)[:, 0]
        disturbs = [
            Disturbed(row.place.name, self._figure(dip_hz))
            for row in wire.places
            for dip_hz in [self._dip_after(row.place, ln_change)[0]]
            if dip_hz is not None
        ]
        widest = self._again() if action != "leave" else None
        return PartMove(
            "wire",
            wire.wish.kind.parts,
            by,
            m,
            Figure(full_m, min(low, full_m), max(high, full_m))
            if self.wire.around.with_interval
            else Figure(full_m),
            widest,
            tuple(disturbs),
        )

    def _first_m(self, full_m: float, by: str) -> float:
        """A cut keeps the cap, and of no dip that it moves may more than one in twenty end above where it is to go."""
        if by != "cut":
            return full_m
        wire = self.wire

        def dips_hz(share: float) -> FloatArray:
            ln_change = wire.ln_change(share * full_m)[:, 0]
            return (
                np.array([_dip_draws(dip, ln_change) for dip in wire.followed.dips])
                .reshape(-1, ln_change.size)
                .T
            )

        return first_share(dips_hz, learned=bool(wire.learned_from)) * full_m

    def _again(self) -> NextSweep:
        """The same sweep again: wide enough for every place."""
        places = [place.place for place in self.wire.places]
        whole = Place("", min(p.low_hz for p in places), max(p.high_hz for p in places))
        return sweep_for([whole], self.seen.files[0].seen.analyzer)[0]

    def _other(self) -> OtherAim:
        wire = self.wire
        aim: Aim = "worst" if wire.wish.aim == "mean" else "mean"
        best = wire.losses.best(aim)
        full_m = float(wire.losses.change_m[best.number])
        value = wire.losses.of(aim)[:, best.number]
        ln_change = wire.ln_change(full_m)[:, 0]
        bands = []
        for number, place in enumerate(wire.places):
            then = self._state(number, ln_change)
            none = Figure.none(f"{unseen(place.place)} after the move")
            bands.append(
                OtherBand(
                    place.place.name,
                    none if then is None else then.state.bare(self.wire.around.with_interval).best_swr,
                )
            )
        spread = np.append(full_m, best.each_m[1:] if self.wire.around.with_interval else [])
        return OtherAim(Figure.from_draws(spread, reason=""), self._figure(value), tuple(bands))

    def _sensitivities(self) -> list[Sensitivity]:
        wire = self.wire
        found = []
        for place in wire.places:
            near = wire.followed.near(place.place.middle_hz)
            none = Figure.none(f"no dip within {NEAR:.0%} of {place.place.name}")
            figure = none
            if near is not None:
                f_hz = _dip_draws(near, np.zeros(near.slope.size))
                figure = self._figure(f_hz * near.slope / wire.wish.length_m)
            found.append(Sensitivity("wire", place.place.name, figure))
        return found

    def _rebuild(self, index: int) -> list[Finding]:
        """The best lies at the end of what a move reaches."""
        change_m = self.wire.losses.change_m
        shown = np.flatnonzero(np.isfinite(self.wire.losses.of(self.wire.wish.aim)[0]))
        if not shown.size or index not in (0, change_m.size - 1):
            return []
        length_m = self.wire.wish.length_m + float(change_m[index])
        try_m = self._length_to_try(length_m)
        return [
            Finding(
                "rebuild",
                "warning",
                f"the best length lies beyond {length_text(length_m)}, further than trimming reaches "
                f"({REACH[0]:.0%} to {REACH[1]:.0%} of the present length)",
                f"begin anew with about {length_text(try_m)}, and sweep that",
            )
        ]

    def _comes_near(self, full_m: float) -> bool:
        """Whether a dip is near any place, now or after the move."""
        then = self.wire.ln_change(full_m)[:, 0]
        return any(
            self.wire.followed.near(each.place.middle_hz) is not None
            or self._dip_after(each.place, then)[0] is not None
            for each in self.wire.places
        )

    def _far_off(self) -> Finding:
        """No half wave comes near any place: that is another wire's task."""
        wire = self.wire
        names = ", ".join(each.place.name for each in wire.places)
        place = max((each.place for each in wire.places), key=lambda place: place.weight)
        lowest_hz = min(
            (dip.dip.measured_hz for dip in wire.followed.dips if dip.moved_by == ("wire",)), default=None
        )
        step = "name places that its half waves come near"
        if lowest_hz is not None:
            step += (
                f", or begin anew with about {length_text(wire.wish.length_m * lowest_hz / place.middle_hz)}"
            )
        return Finding("rebuild", "warning", f"no half wave of this wire comes near {names}", step)

    def _length_to_try(self, end_m: float) -> float:
        """By the dip of the place that matters most, in proportion."""
        wire = self.wire
        place = max((seen.place for seen in wire.places), key=lambda place: place.weight)
        near = min(
            wire.followed.dips,
            key=lambda dip: abs(np.log(dip.dip.measured_hz / place.middle_hz)),
            default=None,
        )
        if near is None:
            return end_m
        by_dip = wire.wish.length_m * near.dip.measured_hz / place.middle_hz
        beyond = by_dip < end_m if end_m < wire.wish.length_m else by_dip > end_m
        return by_dip if beyond else end_m

    def _feed_end(self, rows: Sequence[BandRow]) -> list[FeedEnd]:
        """For places above the lowest whose dip the wire leaves outside them."""
        found = []
        lowest = min(
            (dip.dip.measured_hz for dip in self.wire.followed.dips if dip.moved_by == ("wire",)), default=0.0
        )
        for row in rows:
            dip = row.after.dip_hz
            if dip.value is None or "wire" not in row.moved_by or row.now.dip_hz.value in (None, lowest):
                continue
            low, high = (dip.value if end is None else end for end in (dip.low, dip.high))
            where = f"after the move its dip is at {frequency_text(dip.value)}"
            if low > row.high_hz:
                text = f"{where}, above the place; a small coil near the feed end lowers it, the lowest dip hardly"
                found.append(FeedEnd(row.name, "coil", "lower", text))
            elif high < row.low_hz:
                text = f"{where}, below the place; a capacitor in series near the feed end raises it"
                found.append(FeedEnd(row.name, "capacitor", "raise", text))
        return found

    def _not_by_wire(self) -> list[str]:
        """Places that no length within reach brings below 3:1."""
        wire, said = self.wire, []
        low_m, high_m = (wire.wish.length_m * share for share in REACH)
        limit_db = -10 * np.log10(1 - ((NOT_BELOW_SWR - 1) / (NOT_BELOW_SWR + 1)) ** 2)
        for place, loss_db in zip(wire.places, wire.losses.loss_db[:, 0], strict=True):
            if np.isfinite(loss_db).all() and loss_db.min() > limit_db:
                said.append(
                    f"{place.place.name}: not by the wire. No length from {low_m:.1f} to {high_m:.1f} m brings it "
                    f"below {NOT_BELOW_SWR:g}:1."
                )
        return said


def _dip_draws(dip: NamedDip, ln_change: FloatArray) -> FloatArray:
    """Where a dip goes on every draw, the measured one first."""
    n = ln_change.size
    ln_f = dip.dip.ln_f_of(dip.dip.members(n))
    ln_f[0] = np.log(dip.dip.measured_hz)
    return np.asarray(np.exp(ln_f + dip.shift(ln_change)))


def _by(wish: WireWish, full_m: float) -> Literal["cut", "fold", "slide", "add"]:
    if full_m <= 0:
        return wish.by
    lets_out = wish.by == "slide" or (wish.by == "fold" and full_m <= wish.tail_m)
    return wish.by if lets_out else "add"


def _why(near: NamedDip | None, effect: Effect) -> str:
    if near is None:
        return "no half wave of the wire comes near it"
    if near.moved_by == ("wire", "coax"):
        return "wire and the outside of the coax share its dip: it follows the wire only in part"
    if near.moved_by == ("coax",):
        return "its dip is no overtone of the wire: the outside of the coax makes it, and the wire hardly moves it"
    waves = "half wave" if near.order == 1 else "half waves"
    return f"{near.order} {waves} on the wire; it {SAID[effect]}"


def _cautions(action: Action, move: PartMove, wish: WireWish) -> tuple[str, ...]:
    if action == "leave":
        return ()
    cautions = [POWER_OFF]
    if move.by == "cut":
        cautions.append(ONE_WAY)
        cautions.append(
            "Fold the same length first and sweep; cut this much, sweep again, then cut the rest."
        )
        if wish.tail_m:
            cautions.append("Leave the tail on: taking it off raises every band further.")
    if wish.kind.parts == 2:
        cautions.append("Change both legs by the same length.")
    cautions.append("Hands off the wire and the line while sweeping, at its final height.")
    return tuple(cautions)


def _known_from(wish: WireWish, learned_from: int) -> str:
    if not learned_from:
        return wish.kind.basis
    return f"this wire's own {learned_from + 1} sweeps, and {wish.kind.basis}"
