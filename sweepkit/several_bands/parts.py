"""What to do with an antenna with a part for each place: fans, linked and trap dipoles, both legs alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sweepkit.cautions import ONE_WAY, POWER_OFF
from sweepkit.conversions import FloatArray, mismatch_loss_db_from_gamma_abs
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text, length_text
from sweepkit.reviews.next_sweep import NextSweep, sweep_across
from sweepkit.several_bands.answer import (
    Action,
    BandRow,
    BandsPlan,
    Disturbed,
    Effect,
    PartMove,
    Sensitivity,
)
from sweepkit.several_bands.curve import BestInside
from sweepkit.several_bands.first_cut import first_share
from sweepkit.several_bands.notices import (
    kind_doubted,
    nothing_covered,
    notice_line,
    notice_losses,
    notice_not_swept,
    notice_reviews,
    stopped,
)
from sweepkit.several_bands.parts_dips import dips_of_parts
from sweepkit.several_bands.parts_drawn import Parts, draw_parts
from sweepkit.several_bands.parts_told import TITLES, EarlierPart, PartsWish
from sweepkit.several_bands.reshaping import anyhow
from sweepkit.several_bands.rows import decide_by_gain, figure_of, row_between, row_unseen, unseen
from sweepkit.several_bands.seen import REACH, WIDTH, Around, SeenAll, sweep_for
from sweepkit.several_bands.state import Drawn, Slid, state_of

SWEEP_REACH = 0.035  # the sweep after a move reaches this far beyond dip and target
ANEW = (0.6, 1.6)  # of the present length: further off something told is wrong; common practice, no source
LENGTHS = 61  # slides tried for the least loss within reach


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
    found = dips_of_parts(seen, wish)
    shown = tuple(place for place in seen.places if place.place.name in found)
    missing = [place.place for place in seen.places if place not in shown]
    again = sweep_for(missing, analyzer)
    if not shown:
        why = "none of the dips that belong to these lengths is in the sweeps"
        stop = Finding("not-covered", "stop", why, "take the sweeps named")
        return stopped(seen, wish.kind, wish.aim, [stop], around.files, again)
    parts = draw_parts(shown, found, wish, earlier, around.seed)
    return _Answer(parts, seen, around, again).plan()


@dataclass(frozen=True, eq=False)
class _Answer:
    """From draws to the plan."""

    parts: Parts
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
                *parts.contradictions,
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
                near = ANEW[0] < (length_m + m) / length_m < ANEW[1]
                anew = f"begin that part anew with about {length_text(float(length_m + m))}"
                step = anew if near else "check its length, the place and what earlier sweeps are of"
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
                none = f"no dip of the part for {each.place.name} shows"
                rows.append(row_unseen(each.place, unseen(each.place) if each.file is None else none))
                continue
            k = names.index(each.place.name)
            rows.append(
                row_between(
                    each.place,
                    now[k],
                    after[k],
                    self._moved_by(k),
                    partial(self._why, k),
                    with_interval=self.around.with_interval,
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

    def _why(self, k: int, _: Effect) -> str:
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

        def shortened(share: float) -> FloatArray:
            return np.where(reached < 0, share * reached, reached)

        share = first_share(
            lambda share: np.asarray(np.exp(parts.ln_f + parts.shift(shortened(share)))),
            learned=bool(parts.learned_from),
        )
        return shortened(share)

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
