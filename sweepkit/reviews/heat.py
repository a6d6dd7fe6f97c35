"""What box, coil and ground take beyond the coax, and whether a good SWR comes from heat: one answer for each band."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.bands import Band
from sweepkit.conversions import FloatArray, gamma_abs_from_swr
from sweepkit.errors import BadInput
from sweepkit.figures import COVERAGE_QUANTILES, Figure
from sweepkit.findings import Finding
from sweepkit.kit import AntennaNote, Box
from sweepkit.quantities import parse_length_m
from sweepkit.reviews.plane import Plane
from sweepkit.reviews.view import View
from sweepkit.station.ledger import PowerLoss
from sweepkit.station.point_verdicts import LOSS_NAMED_DB
from sweepkit.station.too_good import UNPLUG

if TYPE_CHECKING:  # antennas are weighed where one is told
    from sweepkit.antennas.kind import Known
    from sweepkit.antennas.radiation import Heat, ShownDip

DRAWS = 2000  # of the stories that are weighed; their chance is good to 0.01
STREAM = 2**31 + 3  # keeps these random numbers apart from all others
NEAR_SHARE = 0.15  # a band so near a dip, of its frequency, is fed through it; common practice, no source
LEAST_WIDTH_HZ = 1.0  # no dip is sharper
WIDTH_LIMITS = (2.0, 3.0)  # where the width of a dip is read
NEAR_LIMIT = (
    0.9  # a dip whose SWR comes so near a limit has no width there worth reading; common practice, no source
)
BETWEEN_95 = 3.92  # ends of a 95 % interval, in standard deviations of a normal one
CANNOT_SEE = "cannot be seen from here"
NOT_TOLD = "not told; name the box as the antenna's transformer in the kit (sweepkit bench measures it)"


@dataclass(frozen=True, eq=False)
class Beyond:
    """What lies beyond the coax on one band: rows of the ledger, and why a low SWR is not believed."""

    losses: tuple[PowerLoss, ...]
    finding: Finding | None = None
    contradiction: Finding | None = None

    def named(self) -> str:
        """The loss that is worth a word, for a band that can be used: that of coil and ground, or of the box."""
        names = {"box": "transformer or choke", "coil": "the coil", "ground": "the ground"}
        worth = [
            f"{names[loss.where]} takes {loss.loss_db.value:.1f} dB ({loss.loss_db.low:.1f} to {loss.loss_db.high:.1f})"
            for loss in self.losses
            if loss.loss_db.low is not None
            and loss.loss_db.high is not None
            and loss.loss_db.low > LOSS_NAMED_DB
            and not (loss.where == "box" and loss.told)  # said with the verdict
        ]
        return f" Beyond the coax {' and '.join(worth)}." if worth else ""


def look_beyond(
    bands: tuple[Band, ...],
    plane: Plane,
    view: View,
    antenna: AntennaNote | None,
    boxes: Mapping[str, Box],
    *,
    swept_hz: tuple[float, float],
    reference_ohm: float,
    at_feedpoint: bool,
    with_intervals: bool,
) -> Mapping[str, Beyond]:
    """What lies beyond the coax, rows and doubts by the name of the band.

    ``plane`` with its ``view`` is the feedpoint where it is known, so that R means something, else where it was
    measured; ``swept_hz`` are the ends of the sweep.
    """
    if antenna is None:
        return _nothing_told(bands)
    box = box_of(antenna, boxes)

    def heat_of(number: int | None) -> Heat | None:
        """What a dip of the plane tells."""
        if antenna.length_m is None or number is None:
            return None
        shown = _shown(plane, number, swept_hz, reference_ohm=reference_ohm, at_feedpoint=at_feedpoint)
        if shown is None:
            return None
        known = _known(antenna, boxes, float(shown.f_hz[0]))
        from sweepkit.antennas.radiation import weigh

        return weigh(antenna.kind, shown, antenna.length_m, known, np.random.default_rng(STREAM))

    beyond = {}
    for band in bands:
        row = _box_row(box, antenna, (band.low_hz + band.high_hz) / 2)
        heat = None if antenna.length_m is None else heat_of(_near_dip(plane, band))
        if heat is None:
            unseen = Figure.none(_why_unseen(antenna))
            rows = (row, PowerLoss("coil", unseen, False), PowerLoss("ground", unseen, False))
            doubt = _doubt_far_off(band, plane, view, antenna, boxes)
            if doubt and any(heat_of(k) is not None for k in range(len(plane.dips))):
                doubt = None  # its own dip is elsewhere
            beyond[band.name] = Beyond(rows, doubt)
        else:
            beyond[band.name] = _with_heat(heat, row, antenna, with_intervals=with_intervals)
    return beyond


@lru_cache(maxsize=8)
def _nothing_told(bands: tuple[Band, ...]) -> Mapping[str, Beyond]:
    """The same of any sweep, where no antenna is told."""
    unseen = Figure.none(_why_unseen(None))
    ground, coil = PowerLoss("ground", unseen, False), PowerLoss("coil", unseen, False)
    return {band.name: Beyond((_box_row(None, None, 0.0), coil, ground)) for band in bands}


def _doubt_far_off(
    band: Band, plane: Plane, view: View, antenna: AntennaNote | None, boxes: Mapping[str, Box]
) -> Finding | None:
    """An end-fed cut for a band that shows no dip of its wire, but a low SWR where no sound one's can be."""
    if antenna is None or antenna.kind != "end-fed" or antenna.length_m is None:
        return None
    from sweepkit.antennas.radiation import weigh
    from sweepkit.reviews.no_half_wave import far_off_words, half_wave_hz, seen_far_off

    length_m = antenna.length_m
    own_hz = half_wave_hz(length_m)
    if not band.low_hz * (1 - NEAR_SHARE) <= own_hz <= band.high_hz * (1 + NEAR_SHARE):
        return None
    dice = np.random.default_rng([STREAM, 2])
    shown = seen_far_off(view, plane, length_m, dice, DRAWS)
    heat = None if shown is None else weigh("end-fed", shown, length_m, _known(antenna, boxes, own_hz), dice)
    if heat is None or not heat.flagged:
        return None
    text = f"too good for an end-fed of this length: {far_off_words(view, length_m)}; {heat.shown}"
    return Finding(
        "swr-too-good", "warning", f"{text}. Choke or transformer take it, or the length is wrong", UNPLUG
    )


def box_of(antenna: AntennaNote | None, boxes: Mapping[str, Box]) -> Box | None:
    """The box that an antenna names, where the kit knows what it loses."""
    box = None if antenna is None or antenna.box is None else boxes.get(antenna.box)
    return box if box is not None and box.loss_db else None


def _box_row(box: Box | None, antenna: AntennaNote | None, f_hz: float) -> PowerLoss:
    if box is not None:
        loss_db = float(box.loss_at_db(f_hz))
        half_db = BETWEEN_95 / 2 * box.loss_tolerance_db
        return PowerLoss("box", Figure(loss_db, max(loss_db - half_db, 0.0), loss_db + half_db), True)
    if antenna is not None and antenna.transformer == 1 and antenna.choke_at == "none":
        return PowerLoss("box", Figure(0.0, 0.0, 0.0), True)
    return PowerLoss("box", Figure.none(NOT_TOLD), False)


def _with_heat(heat: Heat, box: PowerLoss, antenna: AntennaNote, *, with_intervals: bool) -> Beyond:
    """Rows, doubt, and what a told loss of the box says against them."""
    doubt = _finding(heat, antenna) if heat.flagged else None
    if heat.box_db is None:
        rows = [(where, _figure(draws, with_intervals)) for where, draws in heat.losses_db.items()]
        return Beyond((box, *(PowerLoss(where, figure, False) for where, figure in rows)), doubt)
    unseen = PowerLoss("ground", Figure.none(f"{CANNOT_SEE}: the soil under a wire shows in no sweep"), False)
    seen = _figure(heat.box_db, with_intervals)
    least_db = float(np.quantile(heat.box_db, COVERAGE_QUANTILES[0]))
    contradiction = _contradicts(box.loss_db, heat.box_db)
    if (
        box.loss_db.high is None or box.loss_db.high < least_db
    ):  # more than the told box alone: a choke heats, too
        box = PowerLoss("box", seen, False)
    coil = PowerLoss("coil", Figure(0.0, 0.0, 0.0), True)
    return Beyond((box, coil, unseen), doubt, contradiction)


def _finding(heat: Heat, antenna: AntennaNote) -> Finding:
    """Why the SWR is too good, and the one test."""
    lost_db = np.sum(list(heat.losses_db.values()), axis=0) if heat.box_db is None else heat.box_db
    low, middle, high = np.quantile(1 - 10 ** (-lost_db / 10), [0.025, 0.5, 0.975])
    where = "coil and ground" if heat.box_db is None else "choke or transformer"
    article = "an" if antenna.kind[0] in "aeiou" else "a"
    text = (
        f"too good for {article} {antenna.kind} of this size: it shows {heat.shown}; most likely "
        f"{100 * middle:.0f} % ({100 * low:.0f} to {100 * high:.0f} %) of the power heats {where}; "
        "the radio takes no harm, but less is radiated"
    )
    return Finding("swr-too-good", "warning", text, UNPLUG)


def _contradicts(told: Figure, seen_db: FloatArray) -> Finding | None:
    """A box that is told to lose more than the whole antenna can lose by its sweep."""
    most_db = float(np.quantile(seen_db, COVERAGE_QUANTILES[1]))
    if told.low is None or told.low <= most_db:
        return None
    return Finding(
        "loss-contradicts",
        "warning",
        f"the kit's box loses {told.value:.1f} dB, but this dip is so narrow that all beyond the coax can lose "
        f"{most_db:.1f} dB at most",
        "sweep the box on the bench again (sweepkit bench), or correct the kit",
    )


def _figure(draws: FloatArray, with_intervals: bool) -> Figure:
    """Middle and interval of a loss, none below 0."""
    low, middle, high = (float(q) for q in np.quantile(np.maximum(draws, 0.0) + 0.0, [0.025, 0.5, 0.975]))
    return Figure(middle, low, high) if with_intervals else Figure(middle)


def _near_dip(plane: Plane, band: Band) -> int | None:
    """The dip that feeds a band: inside it or near, the nearest to its middle."""
    middle_hz = (band.low_hz + band.high_hz) / 2
    near = [
        (abs(f_hz - middle_hz), number)
        for number, dip in enumerate(plane.dips)
        if (f_hz := dip.f_hz.value) is not None
        and band.low_hz * (1 - NEAR_SHARE) <= f_hz <= band.high_hz * (1 + NEAR_SHARE)
    ]
    return min(near)[1] if near else None


def _shown(
    plane: Plane, number: int, swept_hz: tuple[float, float], *, reference_ohm: float, at_feedpoint: bool
) -> ShownDip | None:
    """The dip as it is weighed, its intervals as normal draws."""
    dip = plane.dips[number]
    if dip.f_hz.value is None or dip.swr.value is None:
        return None
    dice = np.random.default_rng([STREAM, 1])
    swr = np.maximum(_draws(dip.swr, dice), 1.0)
    has_r = at_feedpoint and dip.r_ohm.value is not None
    from sweepkit.antennas.radiation import ShownDip

    return ShownDip(
        f_hz=_draws(dip.f_hz, dice),
        r_ohm=np.maximum(_draws(dip.r_ohm, dice), 1e-3) if has_r else None,
        swr=swr,
        loaded_q=_loaded_q(plane, number, swept_hz, swr, dice),
        reference_ohm=reference_ohm,
    )


def _draws(figure: Figure, dice: np.random.Generator) -> FloatArray:
    """Normal draws of a figure, its value first."""
    value = figure.value or 0.0
    wide = 0.0 if figure.low is None or figure.high is None else figure.high - figure.low
    drawn = value + wide / BETWEEN_95 * dice.standard_normal(DRAWS)
    drawn[0] = value
    low, high = sorted((0.5 * value, 1.5 * value))  # a normal one has no business further out
    return np.asarray(np.minimum(np.maximum(drawn, low), high))


def _loaded_q(
    plane: Plane, number: int, swept_hz: tuple[float, float], swr: FloatArray, dice: np.random.Generator
) -> FloatArray:
    """Q of a single resonance with the dip's width: 1 - |gamma|² falls to 1/(1 + (Q w/f)²) of what it is at the dip.

    A row for each limit, shape (rows, draws): a sound antenna has the same Q in all of them; a resistance in the return
    of an end-fed keeps the SWR low to one side or far from the dip. Where it stays within a limit up to the end of the
    sweep, the dip is at least as wide as that, and a row more takes the other side for both.
    """
    dip, f_hz = plane.dips[number], _draws(plane.dips[number].f_hz, dice)
    rows = [np.full(DRAWS, np.nan)]
    for width in plane.swr_bandwidths:
        limit = width.limit_swr
        if width.dip != number or limit not in WIDTH_LIMITS:
            continue
        if dip.swr.value is None or dip.swr.value >= NEAR_LIMIT * limit:
            continue
        taken = 1 - gamma_abs_from_swr(np.minimum(swr, 0.99 * limit)) ** 2
        turns = np.sqrt(taken / (1 - float(gamma_abs_from_swr(limit)) ** 2) - 1)
        edges = (width.low_hz, width.high_hz)
        ends = [
            np.full(DRAWS, end_hz) if edge.value is None else _draws(edge, dice)
            for edge, end_hz in zip(edges, swept_hz, strict=True)
        ]
        widths_hz = [ends[1] - ends[0]]
        widths_hz += [
            2 * abs(end - f_hz) for end, edge in zip(ends, edges, strict=True) if edge.value is not None
        ]
        shown = widths_hz if any(edge.value is None for edge in edges) else widths_hz[:1]
        rows += [turns * f_hz / np.maximum(width_hz, LEAST_WIDTH_HZ) for width_hz in shown]
    return np.stack(rows[1:] or rows)


def _why_unseen(antenna: AntennaNote | None) -> str:
    """Why there is no figure: a kind of which no bound is known says so."""
    if antenna is None:
        return CANNOT_SEE
    from sweepkit.antennas.radiation import WEIGHERS

    if antenna.kind in WEIGHERS:
        return CANNOT_SEE
    return f"not judged for this kind: what a {antenna.kind} radiates has no bound that a sweep shows"


def _known(antenna: AntennaNote, boxes: Mapping[str, Box], f_hz: float) -> Known:
    choke = boxes.get(antenna.choke) if antenna.choke else None
    from sweepkit.antennas.kind import Known

    return Known(
        radials=antenna.radials,
        radial_length_m=antenna.radial_length_m,
        radial_height_m=antenna.radial_height_m,
        counterpoise_m=antenna.counterpoise_m,
        coil_h=antenna.coil_h,
        transformer=antenna.transformer,
        choke_at_m=_choke_at_m(antenna.choke_at),
        choke_ohm=choke.choke_at_ohm(f_hz) if choke is not None and choke.choke_ohm else None,
    )


def _choke_at_m(text: str | None) -> float | None:
    """How far from the feedpoint; without a choke all of the coax is part of the antenna."""
    if text is None:
        return None
    try:
        return math.inf if text == "none" else parse_length_m(text)
    except BadInput:  # free words of a logbook
        return None
