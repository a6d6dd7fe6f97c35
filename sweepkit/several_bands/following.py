"""How the dips of one wire follow its length: each dip named by kind and length, each with a slope of its own.

An end-fed of length L dips where its wire is n half waves: with the box across its end,

    kL (1 + i) = n pi - e - Zw (wC - 1/(wM)),    d ln f / d ln L = -kL / (kL + Zw (wC + 1/(wM))),

e the end effect, which acts once, i the insulation, C and M of the box (``antennas.end_fed``). All dips weigh the same
draws of wire and box. A dip away from its half wave is one of the coax's outside too, and follows the wire the less the
further away it lies (``beside``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sweepkit.antennas import end_fed
from sweepkit.antennas.kind import Kind, Known, Seen
from sweepkit.conversions import FloatArray, IndexArray
from sweepkit.quantities import SPEED_OF_LIGHT_M_S
from sweepkit.several_bands.middle import middle_first
from sweepkit.several_bands.seen import NEAR
from sweepkit.several_bands.shared_dip import SharedDip
from sweepkit.trim.dip import DipEnsemble

CANDIDATES = 4000  # draws of wire and box before the dips weigh them
FIRST_MATCH = 0.07  # of ln f between a dip and the half wave that it tells of
# So near their half wave the lowest dip and those of a wire with a counterpoise and a choke at the box lie for other
# reasons than a resonance beside them: models of our own, slopes within 0.01 and 0.03 of the wire's.
CALM = 0.032
STRAY_CHANCE = 0.1  # of a dip that is none of the wire's; common practice, no source
END_EFFECT = 2 * np.pi * (0.5 - end_fed.WIRE_LENGTH)
END_SPREAD = 0.25  # of the end effect: counterpoise and height; models of our own
# What the other half of the antenna takes of a slope: its middle with a choke at the box and a counterpoise wire, with
# coax up to a choke, with coax all the way, where none of its resonances is near. Models of our own.
OTHER_HALF = {"counterpoise": (0.012, 0.8), "choked": (0.02, 0.8), "coax": (0.03, 1.2)}
# That share goes with the half waves on the wire, since the other half then has more resonances near: so much for each.
# Of coax one in four takes the other way: near a resonance of its own the dip runs ahead of the wire. Own models.
OTHER_PER_HALF_WAVE, AHEAD = 0.4, {"counterpoise": 0.0, "choked": 0.25, "coax": 0.25}
MOST_AHEAD = 0.15  # of a slope; models of our own
NEAR_CHOKE_M = 0.5
OVERTONE_SIGMA = 0.02  # of the slope of an overtone of dipoles, verticals, loops: models of our own
NO_DIP_SLOPE, NO_DIP_SIGMA = -0.95, 0.06  # of a curve between two dips of the wire
BEYOND = 0.2  # of ln f: so far outside all dips a curve goes as a bare wire; half way between two half waves of three
LEAST_APART = 1e-3  # of ln f: dips do not come nearer one another than that
MOSTLY, HARDLY = 0.8, 0.4  # of the wire's slope: a dip that follows by more is the wire's, by less the coax's


@dataclass(frozen=True, eq=False)
class NamedDip:
    """A dip, how many half waves on the wire it is or lies next to, and its slope for a small change on every draw.

    ``taken``: what the other half takes of the slope, where that is known; ``beside``: how it shares its half wave.
    """

    dip: DipEnsemble
    order: int
    slope: FloatArray
    taken: FloatArray | None = None
    beside: SharedDip | None = None

    @property
    def share(self) -> float:
        """To what part it follows the wire, in the middle of the draws."""
        return 1.0 if self.beside is None else float(self.beside.share[0])

    @property
    def moved_by(self) -> tuple[str, ...]:
        """What moves it."""
        if self.share > MOSTLY:
            return ("wire",)
        return ("wire", "coax") if self.share > HARDLY else ("coax",)

    def shift(self, ln_change: FloatArray) -> FloatArray:
        """How far it goes in ln f with a change of the logarithm of the length, draws first."""
        slope = self.slope.reshape(self.slope.shape + (1,) * (ln_change.ndim - 1))
        if self.beside is None:
            return np.asarray(slope * ln_change)
        share = self.beside.share.reshape(slope.shape)
        return self.beside.goes(slope / share * ln_change)


@dataclass(frozen=True, eq=False)
class Followed:
    """All dips of one wire, and the slope of a curve that no dip is near to."""

    dips: tuple[NamedDip, ...]
    elsewhere: FloatArray

    def near(self, f_hz: float, ln_change: FloatArray | None = None) -> NamedDip | None:
        """The dip nearest a frequency by the measured draw, now or after a change, if one is near."""
        gaps = []
        for dip in self.dips:
            shift = 0.0 if ln_change is None else float(dip.shift(ln_change)[0])
            gaps.append(abs(float(np.log(dip.dip.measured_hz / f_hz)) + shift))
        return self.dips[int(np.argmin(gaps))] if gaps and min(gaps) <= NEAR else None

    def shift_at(self, f_hz: float, ln_change: FloatArray) -> FloatArray:
        """How far the curve has gone that lies at a frequency after a change, shape of ``ln_change``."""
        return self.shifts_at([f_hz], ln_change)[0]

    def shifts_at(self, places_hz: Sequence[float], ln_change: FloatArray) -> list[FloatArray]:
        """How far the curve has gone that lies at each place after a change, shape of ``ln_change``.

        At a dip as far as that, between two dips by the squares of how near they are then, as resonances fade, and far
        beyond all as a wire does.
        """
        dips = sorted(self.dips, key=lambda dip: dip.dip.measured_hz)
        lone = self.elsewhere.reshape(self.elsewhere.shape + (1,) * (ln_change.ndim - 1)) * ln_change
        if not dips:
            return [lone for _ in places_hz]
        now = [float(np.log(dip.dip.measured_hz)) for dip in dips]
        now = [now[0] - BEYOND, *now, now[-1] + BEYOND]
        shifts = [lone, *(dip.shift(ln_change) for dip in dips), lone]
        then = [one + shift for one, shift in zip(now, shifts, strict=True)]
        return [_between(then, shifts, float(np.log(f_hz))) for f_hz in places_hz]


def _between(then: Sequence[FloatArray], shifts: Sequence[FloatArray], ln_f: float) -> FloatArray:
    """Shift at a frequency of what lies at ``then`` and was shifted so far, rising."""
    answer = np.array(shifts[0])
    for k, (left, right) in enumerate(pairwise(then)):
        here = left <= ln_f
        if k and not here.any():
            break
        if k < len(then) - 2 and bool((right <= ln_f).all()):
            continue
        part = np.clip((ln_f - left) / np.maximum(right - left, LEAST_APART), 0.0, 1.0)
        part = part**2 / (part**2 + (1 - part) ** 2)
        between = shifts[k] + part * (shifts[k + 1] - shifts[k])
        answer = between if here.all() else np.where(here, between, answer)
    return answer


def follow_dips(
    kind: Kind,
    length_m: float,
    dips: Sequence[DipEnsemble],
    known: Known,
    *,
    choke_m: float | None,
    members: int,
    dice: np.random.Generator,
) -> Followed:
    """Name the dips of a wire at the feedpoint, with a slope for each on every draw, the middle one first.

    ``choke_m`` is how far down the coax a choke sits (``None``: none, or
    nobody told), ``members`` the draws with the measured one.
    """
    named = _end_fed if kind.name == "end-fed" else _plain
    found = named(kind, length_m, dips, known, choke_m, members, dice)
    elsewhere = middle_first(dice.normal(NO_DIP_SLOPE, NO_DIP_SIGMA, members))
    return Followed(tuple(found), elsewhere)


def _end_fed(
    kind: Kind,
    length_m: float,
    dips: Sequence[DipEnsemble],
    known: Known,
    choke_m: float | None,
    members: int,
    dice: np.random.Generator,
) -> list[NamedDip]:
    box = _Box.drawn(known, dice)
    f_hz = np.array([dip.measured_hz for dip in dips])
    orders = _orders(box.middle(), f_hz, length_m)
    log_weight = np.zeros(CANDIDATES)
    for f, order in zip(f_hz, orders, strict=True):
        if order is not None:
            gap = box.gap(f, length_m, order) / end_fed.LENGTH_SIGMA
            fits = (1 + gap**2 / end_fed.LENGTH_FREEDOM) ** (-(end_fed.LENGTH_FREEDOM + 1) / 2)
            log_weight += np.log((1 - STRAY_CHANCE) * fits + 0.01 * STRAY_CHANCE)
    weight = np.exp(log_weight - log_weight.max())
    rows = np.asarray(dice.choice(CANDIDATES, members, p=weight / weight.sum()), dtype=np.intp)
    box = box.taken(rows)
    other = _other_half(known, choke_m)
    return [_followed(dip, box, length_m, other, dice) for dip in dips]


def _followed(
    dip: DipEnsemble, box: _Box, length_m: float, other: str, dice: np.random.Generator
) -> NamedDip:
    """One dip with its slope: the wire's, less what the other half takes, and less the further from its half wave."""
    f_hz, members = dip.measured_hz, box.end.size
    order, away = box.around(f_hz, length_m)
    calm = (order == 1 or other == "counterpoise") and abs(float(np.median(away[0]))) < CALM
    beside = None if calm else SharedDip.drawn(away, dice)
    wire = dice.normal(end_fed.WIRE_SLOPE, end_fed.WIRE_SLOPE_SIGMA, members) * box.shared(f_hz, order)
    usual, spread = OTHER_HALF[other]
    usual *= OTHER_PER_HALF_WAVE * order
    taken = np.minimum(usual * np.exp(dice.normal(0, spread, members)), -wire)
    taken = np.where(dice.random(members) < AHEAD[other], -np.minimum(taken, MOST_AHEAD), taken)
    slope = wire + taken + dice.normal(0, end_fed.REST_SIGMA, members)
    slope = middle_first(slope if beside is None else slope * beside.share)
    return NamedDip(dip, order, slope, slope - middle_first(wire), beside)


def _other_half(known: Known, choke_m: float | None) -> str:
    if choke_m is not None and choke_m <= NEAR_CHOKE_M and known.counterpoise_m:
        return "counterpoise"
    return "coax" if choke_m is None and not known.counterpoise_m else "choked"


@dataclass(frozen=True, eq=False)
class _Box:
    """Wire and box on every draw."""

    wire_ohm: FloatArray
    winding_f: FloatArray
    magnetising_h: FloatArray
    insulation: FloatArray
    end: FloatArray

    @classmethod
    def drawn(cls, known: Known, dice: np.random.Generator) -> _Box:
        n, ratio = CANDIDATES, known.transformer or end_fed.USUAL_RATIO
        boxed = float(ratio != 1)
        insulation = dice.uniform(*end_fed.INSULATION, n)
        return cls(
            end_fed.WIRE_OHM * np.exp(dice.normal(0, end_fed.WIRE_OHM_SPREAD, n)),
            boxed * end_fed.WINDING_F * np.exp(dice.normal(0, end_fed.WINDING_SPREAD, n)),
            ratio
            * end_fed.MAGNETISING_H
            * np.exp(dice.normal(0, end_fed.MAGNETISING_SPREAD, n))
            / max(boxed, 1e-9),
            np.where(dice.random(n) < end_fed.INSULATED, insulation, 0.0),
            END_EFFECT * (1 + dice.normal(0, END_SPREAD, n)),
        )

    def taken(self, rows: IndexArray) -> _Box:
        return _Box(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))

    def middle(self) -> _Box:
        return _Box(*(np.median(getattr(self, name), keepdims=True) for name in self.__dataclass_fields__))

    def _across(self, f_hz: float) -> tuple[FloatArray, FloatArray]:
        w = 2 * np.pi * f_hz
        return self.wire_ohm * w * self.winding_f, self.wire_ohm / (w * self.magnetising_h)

    def angle(self, f_hz: float, order: int) -> FloatArray:
        capacitive, inductive = self._across(f_hz)
        return np.maximum(order * np.pi - self.end - capacitive + inductive, 0.5)

    def gap(self, f_hz: float, length_m: float, order: int) -> FloatArray:
        """How far a dip lies above the half wave, in ln f."""
        electrical = np.log(2 * np.pi * f_hz * length_m / SPEED_OF_LIGHT_M_S) + self.insulation
        return np.asarray(electrical - np.log(self.angle(f_hz, order)))

    def around(self, f_hz: float, length_m: float) -> tuple[int, FloatArray]:
        """The half waves that a dip is nearest to, and how far above them and its neighbours it lies, in ln f.

        Shape (half waves, draws), the nearest first.
        """
        near = int(2 * f_hz * length_m / SPEED_OF_LIGHT_M_S)
        gaps = {order: self.gap(f_hz, length_m, order) for order in range(max(near - 1, 1), near + 3)}
        orders = sorted(gaps, key=lambda order: abs(float(np.median(gaps[order]))))
        return orders[0], np.array([gaps[order] for order in orders])

    def shared(self, f_hz: float, order: int) -> FloatArray:
        capacitive, inductive = self._across(f_hz)
        angle = self.angle(f_hz, order)
        return np.asarray(angle / (angle + capacitive + inductive))


def _orders(box: _Box, f_hz: FloatArray, length_m: float) -> list[int | None]:
    """The half waves that each dip is; of two for one the nearer, and ``None`` for those that are none."""
    best: dict[int, tuple[float, int]] = {}
    for number, f in enumerate(f_hz):
        order, away = box.around(f, length_m)
        gap = abs(float(away[0, 0]))
        if gap < FIRST_MATCH and gap < best.get(order, (np.inf, 0))[0]:
            best[order] = (gap, number)
    orders: list[int | None] = [None] * f_hz.size
    for order, (_, number) in best.items():
        orders[number] = order
    return orders


def _plain(
    kind: Kind,
    length_m: float,
    dips: Sequence[DipEnsemble],
    known: Known,
    choke_m: float | None,
    members: int,
    dice: np.random.Generator,
) -> list[NamedDip]:
    """Kinds without a box: the first dip by its own answer, overtones near it."""
    if kind.answer is None:
        raise ValueError(f"{kind.name} is not trimmed")
    first = kind.length_usual[0] * SPEED_OF_LIGHT_M_S / length_m
    ratios = (1.0, *kind.usual.overtones)
    answer = []
    for dip in dips:
        order = int(np.argmin([abs(np.log(dip.measured_hz / first / ratio)) for ratio in ratios]))
        index = dip.members(members)
        f_hz = np.exp(dip.ln_f_of(index)) / ratios[order]
        lone = order == 0
        unknown = np.full(members, np.nan)
        seen = Seen(
            f_hz,
            np.full(members, length_m),
            dip.swr[index] if lone else unknown,
            dip.loaded_q[index] if lone else unknown,
        )
        slope = kind.answer(seen, known, dice).slope + (
            0.0 if lone else dice.normal(0, OVERTONE_SIGMA, members)
        )
        answer.append(NamedDip(dip, order + 1, middle_first(slope)))
    return answer
