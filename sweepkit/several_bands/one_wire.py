"""One wire that serves several places: end-feds, and dipoles or verticals on their overtones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np

from sweepkit.cautions import ONE_WAY, POWER_OFF
from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure
from sweepkit.reviews.next_sweep import NextSweep
from sweepkit.several_bands.answer import (
    Action,
    Aim,
    BandRow,
    BandsPlan,
    Disturbed,
    Effect,
    OtherAim,
    OtherBand,
    PartMove,
    Sensitivity,
)
from sweepkit.several_bands.earlier import EarlierLength
from sweepkit.several_bands.first_cut import first_share
from sweepkit.several_bands.following import NamedDip
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
from sweepkit.several_bands.seen import NEAR, Around, SeenAll, SeenPlace, sweep_for
from sweepkit.several_bands.state import Drawn, Slid, state_of
from sweepkit.several_bands.wire_drawn import Wire, WireWish, dip_draws_hz, draw_wire
from sweepkit.several_bands.wire_limits import comes_near, far_off, feed_end, not_by_wire, rebuild
from sweepkit.several_bands.wrong_length import refuse_wrong_length

SAID = {"gains": "gains", "same": "stays", "loses": "loses", "cannot_say": "cannot say"}


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
    wire = draw_wire(seen, shown, wish, earlier, around)
    return _Answer(wire, seen, sweep_for(missing, analyzer)).plan()


def _now_known(place: SeenPlace) -> bool:
    file = place.file
    return file is not None and file.curve.knows(place.place.low_hz, place.place.high_hz)


@dataclass(frozen=True, eq=False)
class _Answer:
    """From draws to the plan."""

    wire: Wire
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
        is_near = comes_near(wire, full_m)
        findings = rebuild(wire, index) if is_near else [far_off(wire)]
        if not is_near:
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
            feed_end=tuple(feed_end(wire, rows)) if wish.kind.name == "end-fed" else (),
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
            not_by_wire=not_by_wire(wire, set_aside if action != "leave" else None),
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
        dip_hz, dip_swr = self.wire.dip_at(place.place, ln_change)
        return state_of(slid, dip_hz, dip_swr, wire.around)

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
            for dip_hz in [self.wire.dip_at(row.place, ln_change)[0]]
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
                np.array([dip_draws_hz(dip, ln_change) for dip in wire.followed.dips])
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
                f_hz = dip_draws_hz(near, np.zeros(near.slope.size))
                figure = self._figure(f_hz * near.slope / wire.wish.length_m)
            found.append(Sensitivity("wire", place.place.name, figure))
        return found


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
