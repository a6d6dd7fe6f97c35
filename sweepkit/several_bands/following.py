"""How the dips of one wire follow its length: each dip named by kind and length, each with a slope of its own.

An end-fed of length L dips where its wire is n half waves: with the box across its end,

    kL (1 + i) = n pi - e - Zw (wC - 1/(wM)),    d ln f / d ln L = -kL / (kL + Zw (wC + 1/(wM))),

e the end effect, which acts once, i the insulation, C and M of the box (``antennas.end_fed``). All dips weigh the same
draws of wire and box. A dip that none of them explains is one of the coax's outside, and hardly follows the wire.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.antennas import end_fed
from sweepkit.antennas.kind import Kind, Known, Seen
from sweepkit.conversions import FloatArray, IndexArray
from sweepkit.errors import BadInput
from sweepkit.quantities import FOOT_M, SPEED_OF_LIGHT_M_S, frequency_text, length_text
from sweepkit.several_bands.middle import middle_first
from sweepkit.trim.dip import DipEnsemble

CANDIDATES = 4000  # draws of wire and box before the dips weigh them
FIRST_MATCH, MATCH = 0.07, 0.032  # of ln f between a dip and a half wave, before and after weighing
STRAY_CHANCE = 0.1  # of a dip that is none of the wire's; common practice, no source
END_EFFECT = 2 * np.pi * (0.5 - end_fed.WIRE_LENGTH)
END_SPREAD = 0.25  # of the end effect: counterpoise and height; models of our own
# What the other half of the antenna takes of a slope: its middle with a choke at the box and a counterpoise wire, with
# coax up to a choke, with coax all the way; much more where that half is near resonance. Models of our own.
OTHER_HALF = {"counterpoise": 0.012, "choked": 0.02, "coax": 0.03}
# That share goes with the half waves on the wire, since the other half then has more resonances near: so much for each.
# One in four takes the other way: where the other half is near resonance the dip runs ahead of the wire. Own models.
OTHER_PER_HALF_WAVE, AHEAD = 0.4, 0.25
MOST_AHEAD = 0.15  # of a slope; models of our own
NEAR_CHOKE_M = 0.5
# A length is asked about where fewer of its half waves show than this, and another reading of the number explains so
# much more (sum of two shares); common practice, no source.
LEAST_ORDERS, MOST_SHOWN, CLEARLY = 2, 0.6, 0.45
LEAST_TOO_MANY = 1.5  # dips that only the whole wire has, where half of it was told; the coax may make one
# The told length may act so much longer: Zw c C with the most winding capacitance that is usual, 12 pF.
BOX_M = end_fed.WIRE_OHM * SPEED_OF_LIGHT_M_S * 12e-12
OVERTONE_SIGMA = 0.02  # of the slope of an overtone of dipoles, verticals, loops: models of our own
NO_DIP_SLOPE, NO_DIP_SIGMA = -0.95, 0.06  # of a curve between two dips of the wire
# Of ln f: dips so near on both sides of a half wave that shows no dip of its own share it with the coax; where it would
# lie, and what further resonances of the coax make of the slopes, one sigma. Common practice, no source.
PAIR, PAIR_SIGMA, PAIR_SLOPE_SIGMA = 0.2, 0.03, 0.12
COAX_SLOPE = -0.9  # at most; a dip of the coax's outside lies anywhere between this and 0


@dataclass(frozen=True, eq=False)
class NamedDip:
    """A dip, the half waves on the wire that it is (``None``: the coax's outside), and its slope on every draw.

    ``taken``: what the other half takes of the slope, where that is known; ``shared``: a dip of coax and wire at once.
    """

    dip: DipEnsemble
    order: int | None
    slope: FloatArray
    taken: FloatArray | None = None
    shared: bool = False

    @property
    def moved_by(self) -> tuple[str, ...]:
        """What moves it."""
        if self.shared:
            return ("wire", "coax")
        return ("coax",) if self.order is None else ("wire",)


@dataclass(frozen=True, eq=False)
class Followed:
    """All dips of one wire, and the slope of a curve that no dip is near to."""

    dips: tuple[NamedDip, ...]
    elsewhere: FloatArray


def follow_dips(
    kind: Kind,
    length_m: float,
    dips: Sequence[DipEnsemble],
    known: Known,
    *,
    choke_m: float | None,
    members: int,
    dice: np.random.Generator,
    spans_hz: Sequence[tuple[float, float]],
) -> Followed:
    """Name the dips of a wire at the feedpoint, with a slope for each on every draw, the middle one first.

    ``spans_hz`` are the ends of the sweeps, ``choke_m`` is how far down the coax a choke sits (``None``: none, or
    nobody told), ``members`` the draws with the measured one.
    """
    named = _end_fed if kind.name == "end-fed" else _plain
    found = named(kind, length_m, dips, known, choke_m, members, dice, spans_hz)
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
    spans_hz: Sequence[tuple[float, float]],
) -> list[NamedDip]:
    box = _Box.drawn(known, dice)
    f_hz = np.array([dip.measured_hz for dip in dips])
    orders = _orders(box.middle(), f_hz, length_m, FIRST_MATCH)
    log_weight = np.zeros(CANDIDATES)
    for f, order in zip(f_hz, orders, strict=True):
        if order is not None:
            gap = box.gap(f, length_m, order) / end_fed.LENGTH_SIGMA
            fits = (1 + gap**2 / end_fed.LENGTH_FREEDOM) ** (-(end_fed.LENGTH_FREEDOM + 1) / 2)
            log_weight += np.log((1 - STRAY_CHANCE) * fits + 0.01 * STRAY_CHANCE)
    weight = np.exp(log_weight - log_weight.max())
    rows = np.asarray(dice.choice(CANDIDATES, members, p=weight / weight.sum()), dtype=np.intp)
    box = box.taken(rows)
    orders = _orders(box.middle(), f_hz, length_m, MATCH)
    other = _other_half(known, choke_m)
    halves = _shared_slopes(box.middle(), np.log(f_hz), orders, length_m, members, dice, spans_hz)
    answer = []
    for number, (dip, order) in enumerate(zip(dips, orders, strict=True)):
        taken = None
        if number in halves:
            slope = halves[number]
        elif order is None:
            slope = COAX_SLOPE * dice.beta(1.0, 1.5, members)
        else:
            away = abs(float(np.median(box.gap(dip.measured_hz, length_m, order))))
            shield = OTHER_HALF[other] * OTHER_PER_HALF_WAVE * order
            shield += max(away - end_fed.LENGTH_SIGMA / 2, 0.0)
            slope = dice.normal(end_fed.WIRE_SLOPE, end_fed.WIRE_SLOPE_SIGMA, members)
            slope = slope * box.shared(dip.measured_hz, order)
            taken = np.minimum(shield * np.exp(dice.normal(0, end_fed.SHIELD_SPREAD, members)), -slope)
            taken = np.where(dice.random(members) < AHEAD, -np.minimum(taken, MOST_AHEAD), taken)
            slope = slope + taken + dice.normal(0, end_fed.REST_SIGMA, members)
        answer.append(NamedDip(dip, order, middle_first(slope), taken, number in halves))
    return answer


def _shared_slopes(
    box: _Box,
    ln_f: FloatArray,
    orders: Sequence[int | None],
    length_m: float,
    members: int,
    dice: np.random.Generator,
    spans_hz: Sequence[tuple[float, float]],
) -> dict[int, FloatArray]:
    """Slopes of the dips beside a half wave that was swept and no dip is: there wire and coax act on one another.

    Two resonances o (the wire's) and c (the coax's) that do, dip at x and y with x + y = o + c, and x follows the wire
    to (y - o) / (y - x) of its own slope, y to the rest.
    """
    shown = {order for order in orders if order is not None}
    stray = np.array([number for number, order in enumerate(orders) if order is None], dtype=np.intp)
    found: dict[int, FloatArray] = {}
    for order in set(range(1, max(shown, default=0) + 2)) - shown:
        wire = _half_wave_ln_hz(box, order, length_m)
        if not any(np.log(low) < wire < np.log(high) for low, high in spans_hz):
            continue
        below, above = (
            stray[(side > 0) & (side < PAIR)] for side in (wire - ln_f[stray], ln_f[stray] - wire)
        )
        if not below.size or not above.size:
            continue
        x, y = int(below.max()), int(above.min())
        there = wire + dice.normal(0, PAIR_SIGMA, members)
        share = np.clip((ln_f[y] - there) / (ln_f[y] - ln_f[x]), 0.0, 1.0)
        for number, part in ((x, share), (y, 1 - share)):
            slope = NO_DIP_SLOPE * part + dice.normal(0, PAIR_SLOPE_SIGMA, members)
            found[number] = np.clip(slope, NO_DIP_SLOPE, 0.0)
    return found


def _half_wave_ln_hz(box: _Box, order: int, length_m: float) -> float:
    """Where a wire with the middle box dips at an order, as ln f."""
    ln_f = float(np.log(order * SPEED_OF_LIGHT_M_S / 2 / length_m))
    for _ in range(8):
        ln_f -= float(box.gap(float(np.exp(ln_f)), length_m, order)[0])
    return ln_f


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

    def shared(self, f_hz: float, order: int) -> FloatArray:
        capacitive, inductive = self._across(f_hz)
        angle = self.angle(f_hz, order)
        return np.asarray(angle / (angle + capacitive + inductive))


def _orders(box: _Box, f_hz: FloatArray, length_m: float, match: float) -> list[int | None]:
    """The half waves that each dip is; of two for one the nearer, and ``None`` for those that are none."""
    best: dict[int, tuple[float, int]] = {}
    for number, f in enumerate(f_hz):
        near = 2 * f * length_m / SPEED_OF_LIGHT_M_S
        gaps = {
            order: abs(float(box.gap(f, length_m, order)[0]))
            for order in range(max(int(near) - 1, 1), int(near) + 3)
        }
        order = min(gaps, key=lambda n: gaps[n])
        if gaps[order] < match and gaps[order] < best.get(order, (np.inf, 0))[0]:
            best[order] = (gaps[order], number)
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
    spans_hz: Sequence[tuple[float, float]],
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


def refuse_wrong_length(
    kind: Kind, length_m: float, dips_hz: Sequence[float], spans_hz: Sequence[tuple[float, float]]
) -> None:
    """A length that explains the dips of its sweeps far worse than what else the number may mean."""
    from sweepkit.antennas.which import choose_dip

    if not dips_hz:
        return
    if kind.name == "end-fed":
        _refuse_by_half_waves(length_m, dips_hz, spans_hz)
        return
    low, high = (share * SPEED_OF_LIGHT_M_S / length_m for share in kind.length_range)
    if not any(start <= low and high <= stop for start, stop in spans_hz):
        return
    if choose_dip(kind, length_m, list(dips_hz)).number is None:  # raises with what else it may mean
        raise BadInput(
            f"a {kind.part} of {length_text(length_m)} dips first between {frequency_text(low)} and "
            f"{frequency_text(high)}, and no dip is there; the sweep dips at "
            f"{', '.join(map(frequency_text, dips_hz[:4]))}; check the length (feet or metres, half or whole), the kind"
        )


def _refuse_by_half_waves(
    length_m: float, dips_hz: Sequence[float], spans_hz: Sequence[tuple[float, float]]
) -> None:
    """Half waves that should show and do, dips that are half waves: counted for the number as told, and otherwise."""
    readings = {
        "is that feet? write it with ft": length_m * FOOT_M,
        "is that metres, not feet? write it with m": length_m / FOOT_M,
        "is that twice the wire? give the wire once": length_m / 2,
        "is that half of it? give the whole wire": 2 * length_m,
    }
    tried = [_explains(length_m, dips_hz, spans_hz, box_m) for box_m in np.linspace(0, BOX_M, 5)]
    if tried[0][1] > MOST_SHOWN:
        _refuse_half(length_m, dips_hz, spans_hz, tried[0][0])
        return
    as_told = max(own + shown for own, shown, orders in tried if orders)
    for question, other_m in readings.items():
        better, better_shown, orders = _explains(other_m, dips_hz, spans_hz)
        if orders >= LEAST_ORDERS and better + better_shown > as_told + CLEARLY:
            raise BadInput(
                f"a wire of {length_text(length_m)} does not dip at {', '.join(map(frequency_text, dips_hz[:4]))}; "
                f"one of {length_text(other_m)} would; {question}, or check the kind"
            )


def _refuse_half(
    length_m: float, dips_hz: Sequence[float], spans_hz: Sequence[tuple[float, float]], own: float
) -> None:
    """Half of a wire has every other dip: asked where all are half waves of the whole, and two at least too many."""
    whole, shown, orders = _explains(2 * length_m, dips_hz, spans_hz)
    if whole == shown == 1.0 and orders > LEAST_ORDERS and (whole - own) * len(dips_hz) > LEAST_TOO_MANY:
        raise BadInput(
            f"a wire of {length_text(length_m)} has every other of the dips at "
            f"{', '.join(map(frequency_text, dips_hz[:4]))}, one of {length_text(2 * length_m)} has all; is that half "
            "of it? give the whole wire"
        )


def _explains(
    length_m: float, dips_hz: Sequence[float], spans_hz: Sequence[tuple[float, float]], box_m: float = 0.0
) -> tuple[float, float, int]:
    """Share of the dips that are half waves, of the half waves inside the sweeps that dip, and how many those are.

    ``box_m``: so much more wire than there is acts, as the winding's capacitance does. [m]
    """
    first_hz = end_fed.WIRE_LENGTH * SPEED_OF_LIGHT_M_S / (length_m + box_m)
    waves = first_hz * (1 + 0.5 / end_fed.WIRE_LENGTH * np.arange(8))
    near = np.abs(np.log(np.array(dips_hz)[:, np.newaxis] / waves)) < FIRST_MATCH
    there = [any(low * 1.03 < f < high * 0.97 for low, high in spans_hz) for f in waves]
    own = float(near.any(axis=1).mean())
    if not any(there):
        return own, 1.0, 0
    return own, float(near.any(axis=0)[there].mean()), sum(there)
