"""Settings of a whip for several places: which tap, how much whip, and what the dip does at each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np

from sweepkit.antennas.loaded_whip import KIND
from sweepkit.antennas.which import choose_dip
from sweepkit.cautions import POWER_OFF
from sweepkit.conversions import FloatArray, mismatch_loss_db_from_gamma_abs
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.reviews.next_sweep import NextSweep, sweep_across
from sweepkit.reviews.plane import LARGEST_GAMMA, swr_figure
from sweepkit.several_bands.aim import LEAST_GAIN_DB
from sweepkit.several_bands.answer import (
    Action,
    BandRow,
    BandsPlan,
    Last,
    PartMove,
    Sensitivity,
    Setting,
    State,
)
from sweepkit.several_bands.fitted_whip import SAME_WHIP_M, FittedWhip, Modelled
from sweepkit.several_bands.notices import notice_line, notice_losses, notice_reviews, stopped
from sweepkit.several_bands.rows import figure_of, row_of, unseen
from sweepkit.several_bands.seen import Around, SeenAll, SeenPlace, sweep_for
from sweepkit.several_bands.settings_doubted import contradiction, two_settings
from sweepkit.several_bands.state import Drawn, grid_of, state_now, verdict_at_radio
from sweepkit.several_bands.whip_choice import Choice
from sweepkit.several_bands.whip_model import (
    SLOPE_SIGMA,
    SeenSetting,
    fit_whip,
)
from sweepkit.several_bands.whip_picture import over_turns
from sweepkit.several_bands.whip_told import EarlierSetting, WhipWish, refuse_tap
from sweepkit.station.point_verdicts import Verdict
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.particles import HANDLING_SIGMA

NOTHING_MOVES = (
    "nothing of this whip is told to move, neither its taps (--tap, --turns) nor its range (--whip-range)"
)


def plan_whip(
    seen: SeenAll,
    wish: WhipWish,
    around: Around,
    *,
    earlier: Sequence[EarlierSetting] = (),
) -> BandsPlan:
    """Tap and whip for each place; ``earlier`` are dips at other settings: with two taps the coil is known well."""
    _refuse_settings(wish, earlier)
    pairs = [(file, dip) for file, dip in seen.dips() if not dip.extrapolated] or seen.dips()
    stops = [*seen.findings, *two_settings(seen)]
    if not pairs:
        stops.append(
            Finding(
                "not-covered", "stop", "no dip stands out in the sweeps", "sweep the place it is set for now"
            )
        )
    analyzer = seen.files[0].seen.analyzer
    again = sweep_for([place.place for place in seen.places], analyzer)
    if any(finding.level == "stop" for finding in stops):
        return stopped(seen, KIND.name, wish.aim, stops, around.files, again)
    number = choose_dip(KIND, wish.length_m, [dip.measured_hz for _, dip in pairs]).number
    file, dip = pairs[number or 0]
    settings = [_seen_setting(wish.tap, wish.length_m, dip)]
    for then in earlier:
        best = then.dip
        if best is not None:
            settings.append(_seen_setting(then.tap, then.whip_m, best))
    members = max(int(file.curve.draws), dip.f_hz.size if around.with_interval else 1)
    whip = fit_whip(settings, wish.coil, wish.ground, members=members, seed=around.seed)
    if doubt := contradiction(whip, settings):
        return stopped(seen, KIND.name, wish.aim, [doubt], around.files, ())
    found = FittedWhip(wish, whip, dip, file, members, around.seed)
    return WhipAnswer(found, seen, around, len(settings) - 1).plan()


def _refuse_settings(wish: WhipWish, earlier: Sequence[EarlierSetting]) -> None:
    """Refuse earlier taps that the coil has not."""
    for then in earlier:
        if then.tap is not None and wish.tap is not None:
            refuse_tap(then.tap, wish.turns, wish.tap_step)
        if then.tap is not None and wish.tap is None:
            raise BadInput(
                f"--earlier was on tap {then.tap:g}, and no tap is told now; add --tap N and --turns N"
            )


def _seen_setting(tap: float | None, whip_m: float, dip: DipEnsemble) -> SeenSetting:
    sigma = float(np.hypot(dip.spread(), HANDLING_SIGMA))
    seen = SeenSetting(tap, whip_m, dip.measured_hz, sigma)
    slope_ohm = 2 * dip.loaded_q * (dip.r_ohm + 50)
    drawn = slope_ohm[1:][np.isfinite(slope_ohm[1:])]
    if not np.isfinite(slope_ohm[0]) or dip.extrapolated:
        return seen
    spread = float(np.std(np.log(drawn))) if drawn.size > 1 else 0.0
    return replace(seen, slope_ohm=float(slope_ohm[0]), slope_sigma=float(np.hypot(spread, SLOPE_SIGMA)))


@dataclass(frozen=True, eq=False)
class WhipAnswer:
    """From the fitted whip to the plan."""

    whip: FittedWhip
    seen: SeenAll
    around: Around
    learned_from: int

    def plan(self) -> BandsPlan:
        """The plan."""
        wish = self.whip.wish
        choice = Choice(self.whip, [each.place for each in self.seen.places])
        one_m = choice.one_length() if wish.one_length else None
        groups = [choice.settings_of(place, one_m) for place in choice.places]
        now = [state_now(each, self.around) for each in self.seen.places]
        after_db = [self._mean_loss(group) for group in groups]
        loss_after = choice.aim(after_db)
        unknown = [
            each.place.name for each, drawn in zip(self.seen.places, now, strict=True) if drawn is None
        ]
        if unknown:
            loss_now = Figure.none(f"not swept now: {', '.join(unknown)}")
        else:
            known = [drawn.loss_db for drawn in now if drawn is not None]
            loss_now = self._figure(choice.aim([_fitted(each, loss_after.size) for each in known]))
        action, reason = self._action(loss_now, loss_after, groups)
        rows = tuple(
            self._row(each, group, drawn, action)
            for each, group, drawn in zip(self.seen.places, groups, now, strict=True)
        )
        return BandsPlan(
            files=self.around.files,
            kind=KIND.name,
            aim=wish.aim,
            action=action,
            reason=reason,
            loss_now_db=loss_now,
            loss_after_db=self._figure(loss_after),
            loss_least_db=self._figure(choice.aim([self._least(group) for group in groups])),
            moves=self._moves(groups, action),
            bands=rows,
            settings=tuple(self._setting(row) for group in groups for row in group),
            sensitivities=tuple(
                Sensitivity("whip", setting.band, setting.hz_per_m)
                for setting in (self._setting(group[len(group) // 2]) for group in groups)
            ),
            learned_from=self.learned_from,
            next_sweeps=self._not_swept(groups, now),
            findings=(
                *self._out_of_reach(groups),
                *notice_losses(rows),
                *notice_line(self.seen),
                *notice_reviews(self.seen),
            ),
            cautions=()
            if action == "leave"
            else (POWER_OFF, "Hands off whip and line while sweeping.", _ORDER),
            known_from=self._known_from(),
            picture=over_turns(self.whip, [row for group in groups for row in group]),
        )

    def _figure(self, values: FloatArray) -> Figure:
        return figure_of(values, with_interval=self.around.with_interval)

    def _action(
        self, now: Figure, after: FloatArray, groups: Sequence[Sequence[Modelled]]
    ) -> tuple[Action, str]:
        """Leave where one setting serves all, and that is the present one or gains too little over it."""
        wish = self.whip.wish
        if wish.tap is None and wish.whip_range_m is None:
            return "leave", NOTHING_MOVES
        alone = len(groups) == 1 and len(groups[0]) == 1
        if alone and now.value is not None and now.value - float(after[0]) < LEAST_GAIN_DB:
            gain = max(now.value - float(after[0]), 0.0)
            return "leave", f"another setting gains {gain:.2f} dB; less than {LEAST_GAIN_DB} is left alone"
        return "retune", "each place has its own setting" if not alone else "another setting serves it better"

    def _mean_loss(self, group: Sequence[Modelled]) -> FloatArray:
        return np.asarray(np.mean([mismatch_loss_db_from_gamma_abs(row.best) for row in group], axis=0))

    def _least(self, group: Sequence[Modelled]) -> FloatArray:
        """With every dip exactly where it is to go."""
        losses = []
        for row in group:
            r = self.whip.r_ohm(row.tap, row.whip_m, row.dip_hz)
            losses.append(mismatch_loss_db_from_gamma_abs(np.abs((r - 50) / (r + 50))))
        return np.asarray(np.mean(losses, axis=0))

    def _setting(self, row: Modelled) -> Setting:
        whip, step = self.whip, 0.01
        # the error of the formula is the same on both sides of a small step
        plain = whip.draws.dip_hz(row.tap, row.whip_m, guess_hz=row.target_hz)
        per_m = (whip.draws.dip_hz(row.tap, row.whip_m + step, guess_hz=row.target_hz) - plain) / step
        per_turn = Figure.none("nothing is tapped")
        if row.tap is not None:
            more = whip.draws.dip_hz(row.tap + 0.5, row.whip_m, guess_hz=row.target_hz)
            less = whip.draws.dip_hz(row.tap - 0.5, row.whip_m, guess_hz=row.target_hz)
            per_turn = self._figure(more - less)
        none = "the model has no dip there"
        best = row.best if self.around.with_interval else row.best[:1]
        return Setting(
            band=row.place.name,
            target_hz=row.target_hz,
            low_hz=row.place.low_hz,
            high_hz=row.place.high_hz,
            tap=row.tap,
            whip_m=round(row.whip_m, 4),
            dip_hz=self._figure(row.dip_hz),
            best_swr=swr_figure(best, reason=none),
            loss_db=self._figure(mismatch_loss_db_from_gamma_abs(row.best)),
            last=self._last(row),
            hz_per_m=self._figure(per_m),
            hz_per_turn=per_turn,
        )

    def _last(self, row: Modelled) -> Last | None:
        """When this place was last on record."""
        used = self.whip.used_for(row.place)
        return None if used is None else Last(used.setup, used.when, used.dip_hz)

    def _row(self, each: SeenPlace, group: Sequence[Modelled], now: Drawn | None, action: Action) -> BandRow:
        wish = self.whip.wish
        before = (
            State.unknown(unseen(each.place)) if now is None else now.state.bare(self.around.with_interval)
        )
        after = self._state(group)
        moved_by = tuple(
            name
            for name, moved in (
                ("tap", any(row.tap != wish.tap for row in group)),
                ("whip", any(abs(row.whip_m - wish.length_m) > SAME_WHIP_M for row in group)),
            )
            if moved
        )
        if action == "leave" and now is not None:
            return row_of(each.place, before, before, "same", moved_by, "it stays as it is")
        many = (
            f"in {len(group)} parts, each as wide as the whip" if len(group) > 1 else "one setting serves it"
        )
        if now is None:
            return row_of(each.place, before, after, "cannot_say", moved_by, f"{many}; it was not swept now")
        gain = float(now.loss_db[0]) - float(self._mean_loss(group)[0])
        effect = "gains" if gain > LEAST_GAIN_DB else "loses" if gain < -LEAST_GAIN_DB else "same"
        return row_of(each.place, before, after, cast(Any, effect), moved_by, many)

    def _state(self, group: Sequence[Modelled]) -> State:
        """Of the part in the middle; the share and the verdict over all parts, each with its setting."""
        row = group[len(group) // 2]
        size = [np.minimum(np.abs(part.gamma), LARGEST_GAMMA) for part in group]
        limit = (self.around.limit_swr - 1) / (self.around.limit_swr + 1)
        share = np.mean([(each <= limit).mean(axis=1) for each in size], axis=0)
        none = "the model has no dip there"
        r = self.whip.r_ohm(row.tap, row.whip_m, row.dip_hz)
        at_dip = np.minimum(np.abs((r - 50) / (r + 50)), LARGEST_GAMMA)
        best_hz = np.clip(row.dip_hz, row.place.low_hz, row.place.high_hz)
        verdicts = [self._verdict(part) for part in group]
        rank = ("direct", "tuner", "unknown", "no")
        return State(
            dip_hz=Figure.from_draws(row.dip_hz, reason=none),
            dip_swr=swr_figure(at_dip, reason=none),
            best_hz=Figure.from_draws(best_hz, reason=none),
            best_swr=swr_figure(row.best, reason=none),
            loss_db=Figure.from_draws(mismatch_loss_db_from_gamma_abs(row.best), reason=none),
            share_within_limit=Figure.from_draws(share, reason=none),
            verdict=min(verdicts, key=rank.index),
        ).bare(self.around.with_interval)

    def _verdict(self, part: Modelled) -> Verdict:
        chain = None if self.whip.file is None else self.whip.file.seen.review.planes.chain
        gamma = np.asarray(part.gamma[:1], dtype=np.complex128)
        return verdict_at_radio(grid_of(part.place), gamma, chain, self.around)

    def _moves(self, groups: Sequence[Sequence[Modelled]], action: Action) -> tuple[PartMove, ...]:
        """The whip's slide for the place that matters most; the settings have them all."""
        wish = self.whip.wish
        weights = [each.place.weight for each in self.seen.places]
        row = groups[int(np.argmax(weights))][0]
        if wish.whip_range_m is None:
            return ()
        full_m = row.whip_m - wish.length_m
        m = 0.0 if action == "leave" else full_m
        return (PartMove("whip", 1, "slide", m, Figure(full_m), None, ()),)

    def _not_swept(
        self, groups: Sequence[Sequence[Modelled]], now: Sequence[Drawn | None]
    ) -> tuple[NextSweep, ...]:
        """Of places that were not swept: from end to end and over the dip of each setting, once it is set."""
        sweeps = []
        for group, drawn in zip(groups, now, strict=True):
            if drawn is not None or not self.seen.files:
                continue
            ends_hz = [
                end for row in group for end in (row.place.low_hz, row.place.high_hz, *_ends(row.dip_hz))
            ]
            width = 2 * min(self.whip.half_width(row.tap, row.whip_m, row.target_hz) for row in group)
            sweeps.append(
                sweep_across(
                    min(ends_hz) * (1 - width),
                    max(ends_hz) * (1 + width),
                    width_hz=width * group[0].target_hz,
                    analyzer=self.seen.files[0].seen.analyzer,
                )
            )
        return tuple(sweeps)

    def _out_of_reach(self, groups: Sequence[Sequence[Modelled]]) -> list[Finding]:
        """Places that no setting brings the dip into, above it and below it."""
        off: dict[bool, list[str]] = {True: [], False: []}
        for group in groups:
            for row in group:
                edge = self.whip.half_width(row.tap, row.whip_m, row.target_hz)
                away = float(np.log(row.dip_hz[0] / row.target_hz))
                if abs(away) > 2 * edge:
                    off[away > 0].append(row.place.name)
                    break
        return [
            Finding(
                "rebuild",
                "warning",
                f"no setting within reach brings the dip {where} {', '.join(names)}; {REST}",
                step,
            )
            for names, where, step in ((off[True], "down to", LONGER), (off[False], "up to", SHORTER))
            if names
        ]

    def _known_from(self) -> str:
        basis = "coil formula and open line"
        return f"this whip's own {self.learned_from + 1} sweeps, and {basis}" if self.learned_from else basis


REST = "the nearest is given"
LONGER = "a longer whip, more turns or a larger coil is needed"
SHORTER = "a shorter whip, fewer turns or a smaller coil is needed"
_ORDER = "Radials first, then the tap, then the whip."


def _ends(values: FloatArray) -> tuple[float, float]:
    """Of what is likely, of draws that are known."""
    low, high = np.nanquantile(values, (0.025, 0.975))
    return float(low), float(high)


def _fitted(values: FloatArray, n: int) -> FloatArray:
    """As many draws as the others have, the measured one first."""
    return np.append(values[:1], np.resize(values[1:] if values.size > 1 else values, n - 1))
