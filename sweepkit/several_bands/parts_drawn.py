"""An antenna of parts on draws: its dips, and what a change of each part does to each of them.

A fan follows a small matrix (``fan_model``). A linked or trap dipole is cumulative: every outer place carries what is
done to an inner section.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.findings import Finding
from sweepkit.quantities import SPEED_OF_LIGHT_M_S, length_text
from sweepkit.several_bands.earlier import EarlierLength, agreeing, learn_slopes
from sweepkit.several_bands.fan_model import TWIN_NEAR, fan_slopes, with_like_legs
from sweepkit.several_bands.following import Followed, NamedDip
from sweepkit.several_bands.middle import middle_first
from sweepkit.several_bands.parts_told import SHARES, EarlierPart, PartsWish
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.seen import SeenPlace
from sweepkit.several_bands.trap_model import trap_slopes
from sweepkit.trim.dip import DipEnsemble
from sweepkit.trim.folds import FoldDraws, draw_folds

TOGETHER, TOGETHER_SIGMA = (
    -1.0,
    0.025,
)  # slope of a dip when all legs change by one factor: dipoles, models of our own
# Where no wire with traps shows the dips: power of its share by which a loaded section answers slower.
TRAP_POWER = (1.0, 2.0)
GAP_POWER = (0.0, 1.5)  # the same behind an open link, where insulation may shorten as well
TRAP_SECTION_SIGMA = 0.1  # a metre inside a trap over one outside


@dataclass(frozen=True, eq=False)
class Parts:
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
    contradictions: tuple[Finding, ...]

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


def draw_parts(
    shown: tuple[SeenPlace, ...],
    found: Mapping[str, DipEnsemble],
    wish: PartsWish,
    earlier: Sequence[EarlierPart],
    seed: int,
) -> Parts:
    """The parts whose dips were found, with slopes by kind and by what ``earlier`` sweeps say."""
    dice = np.random.default_rng([seed, 61])
    ordered = tuple(sorted(shown, key=lambda each: -wish.lengths_m[each.place.name]))
    dips = tuple(found[each.place.name] for each in ordered)
    length_m = np.array([wish.lengths_m[each.place.name] for each in ordered])
    n = max(each.file.curve.draws for each in ordered if each.file is not None)
    ln_f = np.stack([_ln_f(dip, n) for dip in dips], axis=1)
    middle_hz = np.array([dip.measured_hz for dip in dips])
    own = middle_first(dice.normal(TOGETHER, TOGETHER_SIGMA, ln_f.shape))
    wanted_hz = np.array([each.place.middle_hz for each in ordered])
    if wish.kind == "fan":
        matrix = fan_slopes(middle_hz, wanted_hz, own, _twins(ordered, dips), dice)
        matrix = with_like_legs(matrix, ln_f, length_m, wanted_hz, dice)
    elif wish.kind == "trap":
        matrix, own = _trap_worth(length_m, middle_hz, wanted_hz, own, dice)
    else:
        matrix, own = _inner(length_m, n), _behind_gaps(length_m, middle_hz, own, dice)
    matrix, own, learned, left_out = _learned(matrix, own, dips, ordered, length_m, wish, earlier, dice)
    folds = draw_folds(wish.lies, n, dice)
    folds = FoldDraws(middle_first(folds.worth), middle_first(folds.dead_m))
    return Parts(wish, ordered, dips, length_m, ln_f, matrix, own, folds, learned, tuple(left_out))


def _inner(length_m: FloatArray, n: int) -> FloatArray:
    """A metre of each section carried in full by its own place and all outer ones, shape (draws, places, places)."""
    inner = (length_m[np.newaxis, :] <= length_m[:, np.newaxis]).astype(np.float64)
    return np.broadcast_to(inner, (n, *inner.shape)).copy()


def _behind_gaps(
    length_m: FloatArray, dip_hz: FloatArray, own: FloatArray, dice: np.random.Generator
) -> FloatArray:
    """Slopes of linked sections: what hangs behind an open link loads those inside."""
    loaded = _share_of_plain(length_m, dip_hz) ** dice.uniform(*GAP_POWER, own.shape)
    return middle_first(own * np.where(length_m < length_m.max(), loaded, 1.0))


def _share_of_plain(length_m: FloatArray, dip_hz: FloatArray) -> FloatArray:
    """How long a leg is at its dip, over that of a plain dipole, at most 1."""
    return np.minimum(dip_hz * length_m / SPEED_OF_LIGHT_M_S / SHARES["linked"][2], 1.0)


def _trap_worth(
    length_m: FloatArray, dip_hz: FloatArray, place_hz: FloatArray, own: FloatArray, dice: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """What a metre of each section is worth to each place, longest first, and the slopes.

    By wires and traps that show these dips; where none does, a section answers the slower the more it is loaded.
    """
    n, inwards = own.shape[0], slice(None, None, -1)
    worth = _inner(length_m, n) * (1 + dice.normal(0, TRAP_SECTION_SIGMA, (n, length_m.size, length_m.size)))
    slopes = trap_slopes(length_m[inwards], dip_hz[inwards], place_hz[inwards], n, dice)
    if slopes is not None:
        return -slopes[:, inwards, inwards] * length_m[:, np.newaxis], np.full_like(own, TOGETHER)
    worth[:, np.arange(length_m.size), np.arange(length_m.size)] = 1.0
    loaded = _share_of_plain(length_m, dip_hz) ** dice.uniform(*TRAP_POWER, own.shape)
    return middle_first(worth), middle_first(own * loaded)


def _ln_f(dip: DipEnsemble, n: int) -> FloatArray:
    ln_f = dip.ln_f_of(dip.members(n))
    ln_f[0] = np.log(dip.measured_hz)
    return ln_f


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


def _learned(
    matrix: FloatArray,
    own: FloatArray,
    dips: Sequence[DipEnsemble],
    ordered: Sequence[SeenPlace],
    length_m: FloatArray,
    wish: PartsWish,
    earlier: Sequence[EarlierPart],
    dice: np.random.Generator,
) -> tuple[FloatArray, FloatArray, int, list[Finding]]:
    """Slopes weighed by earlier sweeps with one part different, and what is said of those that contradict."""
    names = [each.place.name for each in ordered]
    used = 0
    said: list[Finding] = []
    for then in earlier:
        if then.part not in names:
            continue
        q, learned_any = names.index(then.part), 0
        whole = EarlierLength(then.dips, then.length_m, f"{then.part} {length_text(then.length_m)}")
        followed = NamedDip(dips[q], 1, matrix[:, q, q] * (1.0 if wish.kind == "fan" else own[:, q]))
        kept, left_out = agreeing([followed], [whole], float(length_m[q]))
        said += left_out
        if not kept:
            continue
        for p, dip in enumerate(dips):
            if wish.kind != "fan" and p != q:
                continue
            slope = matrix[:, p, q] if wish.kind == "fan" else own[:, p] * matrix[:, p, q]
            taught, count = learn_slopes(
                Followed((NamedDip(dip, 1, slope),), slope), [whole], float(length_m[q]), dice
            )
            learned_any += count
            if wish.kind == "fan":
                matrix[:, p, q] = np.minimum(taught.dips[0].slope, np.maximum(slope, 0.0))
            else:
                own[:, p] = taught.dips[0].slope / matrix[:, p, q]
        used += bool(learned_any)
    return matrix, own, used, said
