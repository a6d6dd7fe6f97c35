"""One wire on draws: the places that are shown, its dips, and what a change of its length does to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.antennas.kind import Kind, Known, Move
from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.findings import Finding
from sweepkit.several_bands import reshaping
from sweepkit.several_bands.aim import Losses, changes_m, losses_over
from sweepkit.several_bands.answer import Aim
from sweepkit.several_bands.curve import BestInside
from sweepkit.several_bands.earlier import EarlierLength, agreeing, learn_slopes
from sweepkit.several_bands.following import Followed, NamedDip, follow_dips
from sweepkit.several_bands.middle import middle_first
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.seen import Around, SeenAll, SeenFile, SeenPlace
from sweepkit.trim.folds import FoldDraws, Lie, draw_folds


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
class Wire:
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

    def dip_at(
        self, place: Place, ln_change: FloatArray
    ) -> tuple[FloatArray, FloatArray] | tuple[None, None]:
        """The dip that is nearest the middle of a place then, with its SWR."""
        dip = self.followed.near(place.middle_hz, ln_change)
        if dip is None:
            return None, None
        f_hz = dip_draws_hz(dip, ln_change)
        swr = dip.dip.swr[dip.dip.members(f_hz.size)]
        swr[0] = dip.dip.swr[0]
        return f_hz, swr


def draw_wire(
    seen: SeenAll,
    shown: tuple[SeenPlace, ...],
    wish: WireWish,
    earlier: Sequence[EarlierLength],
    around: Around,
) -> Wire:
    """The wire whose places are shown, with what earlier sweeps at other lengths teach of its dips."""
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
    return Wire(wish, shown, followed, folds, losses, learned_from, around, tuple(left_out))


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


def dip_draws_hz(dip: NamedDip, ln_change: FloatArray) -> FloatArray:
    """Where a dip goes on every draw, the measured one first."""
    n = ln_change.size
    ln_f = dip.dip.ln_f_of(dip.dip.members(n))
    ln_f[0] = np.log(dip.dip.measured_hz)
    return np.asarray(np.exp(ln_f + dip.shift(ln_change)))
