"""What box, coil and ground take beyond the coax, and whether a good SWR comes from heat: one answer for each band."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sweepkit.bands import Band
from sweepkit.conversions import FloatArray
from sweepkit.errors import BadInput
from sweepkit.figures import COVERAGE_QUANTILES, Figure
from sweepkit.findings import Finding
from sweepkit.kit import AntennaNote, Box
from sweepkit.quantities import parse_length_m
from sweepkit.reviews.plane import Plane
from sweepkit.reviews.shown_dip import BETWEEN_95, DRAWS, STREAM, shown_dip
from sweepkit.reviews.view import View
from sweepkit.station.ledger import PowerLoss
from sweepkit.station.point_verdicts import LOSS_NAMED_DB
from sweepkit.station.too_good import UNPLUG

if TYPE_CHECKING:  # antennas are weighed where one is told
    from sweepkit.antennas.kind import Known
    from sweepkit.antennas.radiation import Heat

NEAR_SHARE = 0.15  # a band so near a dip, of its frequency, is fed through it; common practice, no source
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
        shown = shown_dip(plane, number, swept_hz, reference_ohm=reference_ohm, at_feedpoint=at_feedpoint)
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
