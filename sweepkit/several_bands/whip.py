"""Settings of a whip for several places: which tap, how much whip, and what the dip does at each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any, cast

import numpy as np

from sweepkit.antennas.loaded_whip import KIND
from sweepkit.antennas.which import choose_dip
from sweepkit.antennas.wire_lines import short_monopole_resistance_ohm
from sweepkit.cautions import POWER_OFF
from sweepkit.conversions import FloatArray, mismatch_loss_db_from_gamma_abs
from sweepkit.errors import BadInput
from sweepkit.figures import Figure
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text, length_text
from sweepkit.reviews.plane import LARGEST_GAMMA, swr_figure
from sweepkit.several_bands.answer import (
    Action,
    Aim,
    BandRow,
    BandsPlan,
    Last,
    PartMove,
    Sensitivity,
    Setting,
    State,
)
from sweepkit.several_bands.notices import notice_line, notice_losses, notice_reviews, stopped
from sweepkit.several_bands.pictured import OverTurns
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.rows import LEAST_GAIN_DB, figure_of, row_of, unseen
from sweepkit.several_bands.seen import Around, SeenAll, SeenFile, SeenPlace, sweep_for
from sweepkit.several_bands.settings_doubted import contradiction, two_settings
from sweepkit.several_bands.state import Drawn, grid_of, state_now, verdict_at_radio
from sweepkit.several_bands.whip_model import (
    MODEL_SIGMA,
    SLOPE_SIGMA,
    Coil,
    Ground,
    SeenSetting,
    WhipDraws,
    fit_whip,
)
from sweepkit.station.point_verdicts import Verdict
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.particles import HANDLING_SIGMA

COIL_Q = (120.0, 350.0)  # of air-wound coils people carry, even in the logarithm; common practice, no source
GROUND_POWER = (
    0.5  # spread of the power of frequency by which the loss of the ground system goes; common practice
)
WHIP_STEPS = 41  # whip lengths tried where one is to serve all places
HALVINGS = 22  # of the whip's range, down to a thousandth of a millimetre
NEARLY_DB = 0.01  # settings within this of the best are equal, and the longest whip is taken
WIDE_SWR = 2.0
WIDE_DB = 1.0
MOST_TAPS, PICTURED = 60, 1.6  # in a picture: so many taps, up to so much above the highest setting
MOST_PARTS = 30  # of one place; a whip so narrow is set by hand
NEAR_PLACE = 0.003  # of the frequency: a setting whose dip was so near a place is one for it
NOTHING_MOVES = (
    "nothing of this whip is told to move, neither its taps (--tap, --turns) nor its range (--whip-range)"
)
SAME_WHIP_M = 0.005  # a whip is slid no more exactly than this


@dataclass(frozen=True)
class WhipWish:
    """What is told of the whip and wanted of it; ``tap`` is ``None`` where nothing is tapped. [m]"""

    length_m: float
    aim: Aim
    tap: float | None = None
    turns: float | None = None
    tap_step: float = 1.0
    whip_range_m: tuple[float, float] | None = None
    coil: Coil = field(default_factory=Coil)
    ground: Ground = field(default_factory=Ground)
    one_length: bool = False

    def __post_init__(self) -> None:
        if self.tap is not None:
            _refuse_tap(self.tap, self.turns, self.tap_step)
        if self.whip_range_m is not None:
            low, high = self.whip_range_m
            if not low - 1e-9 <= self.length_m <= high + 1e-9:
                raise BadInput(
                    f"the whip is {length_text(self.length_m)} long, outside its range of {length_text(low)} to "
                    f"{length_text(high)}; check --length and --whip-range"
                )

    @property
    def taps(self) -> list[float | None]:
        """Every tap there is, fewest turns first."""
        if self.tap is None or self.turns is None:
            return [None]
        count = int(self.turns / self.tap_step + 1e-9)
        return [round(k * self.tap_step, 6) for k in range(1, count + 1)]

    @property
    def reach_m(self) -> tuple[float, float]:
        """Shortest and longest whip."""
        return self.whip_range_m or (self.length_m, self.length_m)


def _refuse_tap(tap: float, turns: float | None, step: float) -> None:
    if turns is None:
        raise BadInput(
            "--tap is told without --turns; how many turns the coil has was expected; add --turns N"
        )
    if not step > 0 or not turns > 0:
        raise BadInput(
            f"--turns is {turns:g} and --tap-step {step:g}; both above 0 were expected; check them"
        )
    if not 0 < tap <= turns:
        raise BadInput(
            f"tap {tap:g} is not on a coil of {turns:g} turns; one above 0, at most {turns:g}, was expected"
        )
    if abs(tap / step - round(tap / step)) > 1e-6:
        raise BadInput(
            f"tap {tap:g} lies between the steps of {step:g}; a multiple was expected; check --tap and --tap-step"
        )


@dataclass(frozen=True, eq=False)
class EarlierSetting:
    """Dips of an earlier sweep with its tap and whip. [m]"""

    dips: tuple[DipEnsemble, ...]
    tap: float | None
    whip_m: float


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
        best = _same_kind(then)
        if best is not None:
            settings.append(_seen_setting(then.tap, then.whip_m, best))
    members = max(int(file.curve.draws), dip.f_hz.size if around.with_interval else 1)
    whip = fit_whip(settings, wish.coil, wish.ground, members=members, seed=around.seed)
    if doubt := contradiction(whip, settings):
        return stopped(seen, KIND.name, wish.aim, [doubt], around.files, ())
    found = _Whip(wish, whip, dip, file, members, around.seed)
    return _Answer(found, seen, around, len(settings) - 1).plan()


def _refuse_settings(wish: WhipWish, earlier: Sequence[EarlierSetting]) -> None:
    """Refuse earlier taps that the coil has not."""
    for then in earlier:
        if then.tap is not None and wish.tap is not None:
            _refuse_tap(then.tap, wish.turns, wish.tap_step)
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


def _same_kind(then: EarlierSetting) -> DipEnsemble | None:
    if not then.dips:
        return None
    number = choose_dip(KIND, then.whip_m, [dip.measured_hz for dip in then.dips]).number
    return then.dips[number or 0]


@dataclass(frozen=True)
class UsedSetting:
    """A setting of the logbook: its dip [Hz], tap, whip [m], setup and when."""

    dip_hz: float
    tap: float | None
    whip_m: float
    setup: str
    when: str
    r_ohm: float | None = None
    swr: float = 1.5
    sigma: float = 1e-3


@dataclass(frozen=True, eq=False)
class _Whip:
    """The fitted whip with what its present dip says of losses."""

    wish: WhipWish
    draws: WhipDraws
    dip: DipEnsemble
    file: SeenFile | None
    members: int
    seed: int
    used: tuple[UsedSetting, ...] = ()
    offset: float = 0.0
    spread: float = 0.0

    def dips_hz(self, tap: float | None, whip_m: float) -> FloatArray:
        """Where a setting dips, with what the formula leaves, shape (draws,)."""
        f_hz = self.draws.dip_hz(tap, whip_m, guess_hz=self.dip.measured_hz)
        dice = np.random.default_rng([self.seed, 73])
        error, setup = dice.normal(0, MODEL_SIGMA, f_hz.size), dice.normal(0, self.spread, f_hz.size)
        away = np.minimum(
            np.abs(np.log(f_hz / self.dip.measured_hz)) / 0.05, 1.0
        )  # a slide of little is sure
        error[0] = setup[0] = 0.0
        return np.asarray(f_hz * np.exp(error * away + setup + self.offset))

    def one_hz(self, tap: float | None, whip_m: float) -> float:
        """The same of the best fit alone."""
        lone = replace(self.draws, offsets=self.draws.offsets[:1])
        return float(lone.dip_hz(tap, whip_m, guess_hz=self.dip.measured_hz)[0] * np.exp(self.offset))

    def taps_hz(self, whip_m: FloatArray | float) -> FloatArray:
        """Where every tap dips by the best fit alone, with a whip length for all or one each, shape (taps,)."""
        taps = self.wish.taps
        lone = replace(self.draws, offsets=np.repeat(self.draws.offsets[:1], len(taps), axis=0))
        tapped = None if taps[0] is None else np.array(taps, dtype=np.float64)
        f_hz = lone.dip_hz(tapped, np.broadcast_to(whip_m, (len(taps),)), guess_hz=self.dip.measured_hz)
        return np.asarray(f_hz * np.exp(self.offset))

    def used_for(self, place: Place) -> UsedSetting | None:
        """The last setting whose dip lay in a place."""
        inside = [
            each
            for each in self.used
            if place.low_hz * (1 - NEAR_PLACE) <= each.dip_hz <= place.high_hz * (1 + NEAR_PLACE)
        ]
        return inside[-1] if inside else None

    def longest_for(self, target_hz: float) -> tuple[float | None, float] | None:
        """Tap and whip that dip at a frequency, fewest turns and so the longest whip; ``None`` where none does."""
        low_m, high_m = (np.full(len(self.wish.taps), end_m) for end_m in self.wish.reach_m)
        if low_m[0] == high_m[0]:
            return None
        reach = np.flatnonzero((self.taps_hz(high_m) <= target_hz) & (target_hz <= self.taps_hz(low_m)))
        if not reach.size:
            return None
        for _ in range(HALVINGS):
            middle_m = (low_m + high_m) / 2
            above = self.taps_hz(middle_m) > target_hz
            low_m, high_m = np.where(above, middle_m, low_m), np.where(above, high_m, middle_m)
        first = int(reach[0])
        return self.wish.taps[first], float(low_m[first] + high_m[first]) / 2

    def r_ohm(self, tap: float | None, whip_m: float, f_hz: FloatArray) -> FloatArray:
        """Resistance at the dip: radiation, coil, and the ground system by what is left now, shape (draws,)."""
        dice = np.random.default_rng([self.seed, 79])
        n = self.members
        now = self.dip.r_ohm[self.dip.members(n)]
        swr = self.dip.swr[self.dip.members(n)]
        guess = 50.0 * np.where(dice.random(n) < 0.75, 1 / swr, swr)  # most whips are below 50 ohm
        now = np.where(np.isfinite(now), now, guess)
        measured = float(self.dip.r_ohm[0])
        now[0] = measured if np.isfinite(measured) else 50.0 / float(self.dip.swr[0])
        q = COIL_Q[0] * (COIL_Q[1] / COIL_Q[0]) ** dice.random(n)
        power = dice.normal(0, GROUND_POWER, n)
        q[0], power[0] = np.sqrt(COIL_Q[0] * COIL_Q[1]), 0.0
        now_hz, wish = self.dip.measured_hz, self.wish
        known = short_monopole_resistance_ohm(now_hz, wish.length_m)
        known = known + self.draws.coil_ohm(wish.tap, np.full(n, now_hz)) / q
        ground = np.maximum(now - known, 0.1 * now) * (f_hz / now_hz) ** power
        return np.asarray(
            short_monopole_resistance_ohm(f_hz, whip_m) + self.draws.coil_ohm(tap, f_hz) / q + ground
        )

    def half_width(self, tap: float | None, whip_m: float, target_hz: float) -> float:
        """Of ln f to each side of the dip up to SWR 2, or to 1 dB above the best where it never gets there."""
        f_hz = np.full(self.members, target_hz)
        r = float(self.r_ohm(tap, whip_m, f_hz)[0])
        slope = float(self.draws.reactance_slope_ohm(tap, whip_m, f_hz)[0])
        level = ((WIDE_SWR - 1) / (WIDE_SWR + 1)) ** 2
        square = (level * (r + 50) ** 2 - (r - 50) ** 2) / (1 - level)
        if square <= 0:
            square = (r + 50) ** 2 * (10 ** (WIDE_DB / 10) - 1)
        return float(np.sqrt(square)) / slope


@dataclass(frozen=True, eq=False)
class _Row:
    """A setting for a part of a place: its model on every draw."""

    place: Place
    target_hz: float
    tap: float | None
    whip_m: float
    dip_hz: FloatArray
    gamma: FloatArray
    best: FloatArray


@dataclass(frozen=True, eq=False)
class _Answer:
    """From the fitted whip to the plan."""

    whip: _Whip
    seen: SeenAll
    around: Around
    learned_from: int

    def plan(self) -> BandsPlan:
        """The plan."""
        wish = self.whip.wish
        one_m = self._one_length() if wish.one_length else None
        groups = [self._settings_of(each.place, one_m) for each in self.seen.places]
        now = [state_now(each, self.around) for each in self.seen.places]
        after_db = [self._mean_loss(group) for group in groups]
        weights = [each.place.weight for each in self.seen.places]
        loss_after = self._aim(after_db, weights)
        unknown = [
            each.place.name for each, drawn in zip(self.seen.places, now, strict=True) if drawn is None
        ]
        if unknown:
            loss_now = Figure.none(f"not swept now: {', '.join(unknown)}")
        else:
            known = [drawn.loss_db for drawn in now if drawn is not None]
            loss_now = self._figure(self._aim([_fitted(each, loss_after.size) for each in known], weights))
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
            loss_least_db=self._figure(self._aim([self._least(group) for group in groups], weights)),
            moves=self._moves(groups, action),
            bands=rows,
            settings=tuple(self._setting(row) for group in groups for row in group),
            sensitivities=tuple(
                Sensitivity("whip", setting.band, setting.hz_per_m)
                for setting in (self._setting(group[len(group) // 2]) for group in groups)
            ),
            learned_from=self.learned_from,
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
            picture=self._picture(groups),
        )

    def _picture(self, groups: Sequence[Sequence[_Row]]) -> OverTurns | None:
        """Every tap with the shortest and the longest whip; at most so many taps as a picture shows."""
        wish = self.whip.wish
        taps = [tap for tap in wish.taps if tap is not None]
        if len(taps) < 2:
            return None
        step = -(-len(taps) // MOST_TAPS)
        shown = taps[::-step][::-1]
        low_m, high_m = wish.reach_m
        among = [taps.index(tap) for tap in shown]
        shortest, longest = (self.whip.taps_hz(m)[among] for m in (low_m, high_m))
        settings = tuple(
            (row.tap, float(row.dip_hz[0]), row.place.name)
            for group in groups
            for row in group
            if row.tap is not None
        )
        highest_hz = max(
            PICTURED * max((dip_hz for _, dip_hz, _ in settings), default=np.inf), float(longest.min())
        )
        odd = np.flatnonzero((shortest > highest_hz) | np.append(np.diff(shortest) >= 0, False))
        first = (
            int(odd[-1]) + 1 if odd.size else 0
        )  # of so few turns that the whip alone is past its quarter wave
        return OverTurns(np.array(shown[first:]), shortest[first:], longest[first:], settings)

    def _figure(self, values: FloatArray) -> Figure:
        return figure_of(values, with_interval=self.around.with_interval)

    def _aim(self, losses: Sequence[FloatArray], weights: Sequence[float]) -> FloatArray:
        if self.whip.wish.aim == "worst":
            return np.asarray(np.max(losses, axis=0))
        return np.asarray(np.average(losses, axis=0, weights=weights))

    def _action(self, now: Figure, after: FloatArray, groups: Sequence[Sequence[_Row]]) -> tuple[Action, str]:
        """Leave where one setting serves all, and that is the present one or gains too little over it."""
        wish = self.whip.wish
        if wish.tap is None and wish.whip_range_m is None:
            return "leave", NOTHING_MOVES
        alone = len(groups) == 1 and len(groups[0]) == 1
        if alone and now.value is not None and now.value - float(after[0]) < LEAST_GAIN_DB:
            gain = max(now.value - float(after[0]), 0.0)
            return "leave", f"another setting gains {gain:.2f} dB; less than {LEAST_GAIN_DB} is left alone"
        return "retune", "each place has its own setting" if not alone else "another setting serves it better"

    def _settings_of(self, place: Place, one_m: float | None) -> list[_Row]:
        """One setting, or one for each part of a place that is wider than the whip."""
        whole = self._best_setting(place, place.middle_hz, one_m)
        width = 2 * self.whip.half_width(whole[0], whole[1], place.middle_hz)
        parts = (
            int(np.ceil(np.log(place.high_hz / place.low_hz) / width - 1e-6))
            if place.high_hz > place.low_hz
            else 1
        )
        parts = min(max(parts, 1), MOST_PARTS)
        if parts == 1:
            return [self._modelled(place, place.middle_hz, *whole)]
        edges = np.geomspace(place.low_hz, place.high_hz, parts + 1)
        rows = []
        for low_hz, high_hz in pairwise(edges.tolist()):
            part = replace(place, low_hz=low_hz, high_hz=high_hz, target_hz=None)
            rows.append(
                self._modelled(part, part.middle_hz, *self._best_setting(part, part.middle_hz, one_m))
            )
        return rows

    def _best_setting(
        self, place: Place, target_hz: float, one_m: float | None
    ) -> tuple[float | None, float]:
        """Whole taps; of those that reach the target the one with the longest whip."""
        whip, wish = self.whip, self.whip.wish
        low_m, high_m = (one_m, one_m) if one_m is not None else wish.reach_m
        used = whip.used_for(place)
        if used is not None and one_m is None:
            return used.tap, used.whip_m
        if low_m < high_m and (found := whip.longest_for(target_hz)) is not None:
            return found
        off = {m: np.abs(np.log(whip.taps_hz(m) / target_hz)) for m in {low_m, high_m}}
        nearest_m = min(off, key=lambda m: float(off[m].min()))
        return wish.taps[int(np.argmin(off[nearest_m]))], nearest_m

    def _one_length(self) -> float:
        """One whip for all places: least loss by the aim, the longest of nearly equal ones."""
        low_m, high_m = self.whip.wish.reach_m
        lengths = np.linspace(low_m, high_m, WHIP_STEPS) if high_m > low_m else np.array([low_m])
        weights = [each.place.weight for each in self.seen.places]
        losses = np.array(
            [
                float(self._aim([self._nominal_loss(each.place, m) for each in self.seen.places], weights)[0])
                for m in lengths
            ]
        )
        return float(lengths[losses <= losses.min() + NEARLY_DB].max())

    def _nominal_loss(self, place: Place, whip_m: float) -> FloatArray:
        tap, m = self._best_setting(place, place.middle_hz, whip_m)
        lone = replace(
            self.whip, draws=replace(self.whip.draws, offsets=self.whip.draws.offsets[:1]), members=1
        )
        row = replace(self, whip=lone)._modelled(place, place.middle_hz, tap, m)
        return np.asarray(mismatch_loss_db_from_gamma_abs(row.best))

    def _modelled(self, place: Place, target_hz: float, tap: float | None, whip_m: float) -> _Row:
        """The reflection over the place with a setting, from resistance and slope of the reactance at its dip."""
        whip = self.whip
        dip_hz = whip.dips_hz(tap, whip_m)
        r = whip.r_ohm(tap, whip_m, dip_hz)[:, np.newaxis]
        slope = whip.draws.reactance_slope_ohm(tap, whip_m, dip_hz)[:, np.newaxis]
        grid = np.log(grid_of(place))
        z = r + 1j * slope * (grid - np.log(dip_hz)[:, np.newaxis])
        gamma = (z - 50) / (z + 50)
        nearest = np.clip(np.log(dip_hz), grid[0], grid[-1])
        if place.low_hz == place.high_hz:
            nearest = np.full(dip_hz.size, np.log(place.low_hz))
        at = r[:, 0] + 1j * slope[:, 0] * (nearest - np.log(dip_hz))
        best = np.minimum(np.abs((at - 50) / (at + 50)), LARGEST_GAMMA)
        return _Row(place, target_hz, tap, whip_m, dip_hz, cast(Any, gamma), best)

    def _mean_loss(self, group: Sequence[_Row]) -> FloatArray:
        return np.asarray(np.mean([mismatch_loss_db_from_gamma_abs(row.best) for row in group], axis=0))

    def _least(self, group: Sequence[_Row]) -> FloatArray:
        """With every dip exactly where it is to go."""
        losses = []
        for row in group:
            r = self.whip.r_ohm(row.tap, row.whip_m, row.dip_hz)
            losses.append(mismatch_loss_db_from_gamma_abs(np.abs((r - 50) / (r + 50))))
        return np.asarray(np.mean(losses, axis=0))

    def _setting(self, row: _Row) -> Setting:
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

    def _last(self, row: _Row) -> Last | None:
        """When this place was last on record."""
        used = self.whip.used_for(row.place)
        return None if used is None else Last(used.setup, used.when, used.dip_hz)

    def _row(self, each: SeenPlace, group: Sequence[_Row], now: Drawn | None, action: Action) -> BandRow:
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

    def _state(self, group: Sequence[_Row]) -> State:
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

    def _verdict(self, part: _Row) -> Verdict:
        chain = None if self.whip.file is None else self.whip.file.seen.review.planes.chain
        gamma = np.asarray(part.gamma[:1], dtype=np.complex128)
        return verdict_at_radio(grid_of(part.place), gamma, chain, self.around)

    def _moves(self, groups: Sequence[Sequence[_Row]], action: Action) -> tuple[PartMove, ...]:
        """The whip's slide for the place that matters most; the settings have them all."""
        wish = self.whip.wish
        weights = [each.place.weight for each in self.seen.places]
        row = groups[int(np.argmax(weights))][0]
        if wish.whip_range_m is None:
            return ()
        full_m = row.whip_m - wish.length_m
        m = 0.0 if action == "leave" else full_m
        return (PartMove("whip", 1, "slide", m, Figure(full_m), None, ()),)

    def _out_of_reach(self, groups: Sequence[Sequence[_Row]]) -> list[Finding]:
        """Places that no setting brings the dip into."""
        names = []
        for group in groups:
            for row in group:
                edge = self.whip.half_width(row.tap, row.whip_m, row.target_hz)
                if abs(float(np.log(row.dip_hz[0] / row.target_hz))) > 2 * edge:
                    names.append(row.place.name)
                    break
        if not names:
            return []
        text = f"no setting within reach brings the dip into {', '.join(names)}; the nearest is given"
        return [Finding("rebuild", "warning", text, "a longer whip, more turns or another coil is needed")]

    def _known_from(self) -> str:
        basis = "coil formula and open line"
        return f"this whip's own {self.learned_from + 1} sweeps, and {basis}" if self.learned_from else basis


_ORDER = "Radials first, then the tap, then the whip."


def _fitted(values: FloatArray, n: int) -> FloatArray:
    """As many draws as the others have, the measured one first."""
    return np.append(values[:1], np.resize(values[1:] if values.size > 1 else values, n - 1))


def card_of_whip(
    used: Sequence[UsedSetting],
    wish: WhipWish,
    places: Sequence[Place],
    around: Around,
    *,
    spread: float,
    today: EarlierSetting | None = None,
    draws: int,
) -> BandsPlan:
    """The band-change card of a whip from its logged settings, at least two of them.

    ``spread`` is what a new setup moves the dip by, one standard deviation of the logarithm; all rows move by what
    ``today`` differs. No ``draws`` beside the best fit, no intervals.
    """
    seen = [
        SeenSetting(each.tap, each.whip_m, each.dip_hz, float(np.hypot(each.sigma, spread))) for each in used
    ]
    members, seed = draws + 1, around.seed
    fitted = fit_whip(seen, wish.coil, wish.ground, members=members, seed=seed)
    last = replace(wish, tap=used[-1].tap, length_m=used[-1].whip_m)  # whose resistance is known
    whip = _Whip(
        last, fitted, _as_dip(used[-1], members, seed), None, members, seed, tuple(used), 0.0, spread
    )
    said = ""
    dip = None if today is None else _same_kind(today)
    if today is not None and dip is not None:
        expected_hz = whip.one_hz(today.tap, today.whip_m)
        offset = float(np.log(dip.measured_hz / expected_hz))
        whip = replace(whip, offset=offset, spread=float(np.hypot(dip.spread(), MODEL_SIGMA)))
        way = "higher" if offset > 0 else "lower"
        moved = f"{abs(dip.measured_hz - expected_hz) / 1e3:.0f} kHz at {frequency_text(dip.measured_hz)}"
        said = f"today all dips lie {abs(offset):.1%} {way} than on record ({moved})"
    nowhere = SeenAll((), tuple(SeenPlace(place, None) for place in places), ())
    plan = _Answer(whip, nowhere, replace(around, with_interval=draws > 0), len(used)).plan()
    note = Finding("today-differs", "note", said, "") if said else None
    known = f"{len(used)} logged sweeps of this whip, coil formula and open line"
    reason = said or "from the logbook alone"
    return replace(
        plan, reason=reason, moves=(), known_from=known, findings=(*((note,) if note else ()), *plan.findings)
    )


def _as_dip(used: UsedSetting, members: int, seed: int) -> DipEnsemble:
    """A logged dip as draws."""
    dice = np.random.default_rng([seed, 83])
    f_hz = used.dip_hz * np.exp(dice.normal(0, used.sigma, members))
    f_hz[0] = used.dip_hz
    ohm = (
        np.full(members, np.nan) if used.r_ohm is None else used.r_ohm * np.exp(dice.normal(0, 0.12, members))
    )
    if used.r_ohm is not None:
        ohm[0] = used.r_ohm
    return DipEnsemble(f_hz, np.full(members, used.swr), ohm, np.full(members, np.nan))
