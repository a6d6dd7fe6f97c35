"""A place at one state of the antenna: its curve slid, its dip, the SWR it holds, and the radio's verdict."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.analysis.share import lowest_point, share_within
from sweepkit.conversions import (
    ComplexArray,
    FloatArray,
    gamma_abs_from_swr,
    mismatch_loss_db_from_gamma_abs,
    swr_from_gamma_abs,
    z_from_gamma,
)
from sweepkit.feedline.chain import ChainDraws, draw_chain
from sweepkit.feedline.losses import swr_ceiling, total_loss_db
from sweepkit.feedline.plane import add_chain
from sweepkit.figures import Figure
from sweepkit.quantities import frequency_text
from sweepkit.reviews.plane import LARGEST_GAMMA, swr_figure
from sweepkit.several_bands.answer import State
from sweepkit.several_bands.places import Place
from sweepkit.several_bands.seen import NEAR, Around, SeenFile, SeenPlace
from sweepkit.station.at_radio import ALL_LOST_DB, AtRadio
from sweepkit.station.band import judge_band
from sweepkit.station.point_verdicts import Verdict

POINTS = 61  # frequencies of a place
POINT_WIDTH = 1e-3  # a single frequency is judged over so much of itself
UNSEEN_SWR = 1e4  # ceiling of a line without loss: above everything that is measured


def grid_of(place: Place) -> FloatArray:
    """Frequencies of a place, evenly spaced."""
    if place.low_hz == place.high_hz:
        return place.low_hz * np.linspace(1 - POINT_WIDTH / 2, 1 + POINT_WIDTH / 2, 5)
    return np.linspace(place.low_hz, place.high_hz, POINTS)


@dataclass(frozen=True, eq=False)
class Slid:
    """A place, its curve slid by ``shift`` of ln f on every draw, and what that leaves out per ln f, shape (draws,)."""

    place: Place
    file: SeenFile
    shift: FloatArray
    left_out: ComplexArray

    @property
    def is_known(self) -> bool:
        """Whether the sweep shows it where the measured draw is slid to."""
        low, high = (np.exp(np.log(f) - self.shift[0]) for f in (self.place.low_hz, self.place.high_hz))
        return self.file.curve.knows(float(low), float(high))

    def grid_hz(self) -> FloatArray:
        """Frequencies of the place."""
        return grid_of(self.place)

    def gamma(self) -> ComplexArray:
        """Reflection at the feedpoint on every draw, shape (draws, points)."""
        gamma = self.file.curve.at(np.log(self.grid_hz()) - self.shift[:, np.newaxis])
        return np.asarray(gamma + (self.left_out * self.shift)[:, np.newaxis])


@dataclass(frozen=True, eq=False)
class Drawn:
    """What a state is made of, on every draw: mismatch loss [dB] and share within the limit, shape (draws,)."""

    state: State
    loss_db: FloatArray
    share: FloatArray


def state_of(
    slid: Slid,
    dip_hz: FloatArray | None,
    dip_swr: FloatArray | None,
    around: Around,
) -> Drawn:
    """Figures of a place whose curve is known, and its dip where that is slid to, shape (draws,), if one is near."""
    gamma = slid.gamma()
    size = np.minimum(np.abs(gamma), LARGEST_GAMMA)
    grid_hz = slid.grid_hz()
    best_hz, best = lowest_point(grid_hz, size)
    if slid.place.low_hz == slid.place.high_hz:
        best, best_hz = size[:, size.shape[1] // 2], np.full(size.shape[0], slid.place.low_hz)
    best = np.minimum(best, LARGEST_GAMMA)
    loss_db = mismatch_loss_db_from_gamma_abs(best)
    share = share_within(size, float(gamma_abs_from_swr(around.limit_swr)))
    none = f"no dip within {NEAR:.0%} of {frequency_text(slid.place.middle_hz)}"
    state = State(
        dip_hz=Figure.none(none) if dip_hz is None else Figure.from_draws(dip_hz, reason=none),
        dip_swr=Figure.none(none) if dip_swr is None else swr_figure(_gamma_abs(dip_swr), reason=none),
        best_hz=Figure.from_draws(best_hz, reason=none),
        best_swr=swr_figure(best, reason=none),
        loss_db=Figure.from_draws(loss_db, reason=none),
        share_within_limit=Figure.from_draws(share, reason=none),
        verdict=_verdict(slid, gamma[:1], around),
    )
    return Drawn(state, loss_db, share)


def state_now(each: SeenPlace, around: Around) -> Drawn | None:
    """A place as the antenna stands, where it was swept, with the dip near it."""
    if each.file is None:
        return None
    still = np.zeros(each.file.curve.draws)
    slid = Slid(each.place, each.file, still, still.astype(np.complex128))
    if not slid.is_known:
        return None
    middle_hz = each.place.middle_hz
    near = [dip for dip in each.file.seen.dips if abs(np.log(dip.measured_hz / middle_hz)) < NEAR]
    dip = min(near, key=lambda one: abs(np.log(one.measured_hz / middle_hz)), default=None)
    f_hz, swr = (None, None) if dip is None else (dip.f_hz, dip.swr)
    return state_of(slid, f_hz, swr, around)


def _gamma_abs(swr: FloatArray) -> FloatArray:
    return np.minimum(np.asarray((swr - 1) / (swr + 1)), LARGEST_GAMMA)


def _verdict(slid: Slid, gamma: ComplexArray, around: Around) -> Verdict:
    chain = slid.file.seen.review.planes.chain
    signed = slid.file.view.phase == "signed"
    return verdict_at_radio(slid.grid_hz(), gamma, chain, around, signed=signed)


def verdict_at_radio(
    f_hz: FloatArray,
    gamma: ComplexArray,
    told: ChainDraws | None,
    around: Around,
    *,
    signed: bool = True,
) -> Verdict:
    """What the radio makes of a place, through box and line where they were told; nominal values.

    ``gamma``, shape (1, k), is the reflection at the feedpoint; ``signed``: whether its phase means anything.
    """
    kit = around.kit
    reference_ohm = kit.radio.z0_ohm
    chain = None if told is None else draw_chain(told.chain, np.random.default_rng(0), 0)
    at_radio = gamma if chain is None else add_chain(f_hz, gamma, chain, reference_ohm=reference_ohm)
    size = np.minimum(np.abs(at_radio), LARGEST_GAMMA)
    loss_db = ceiling = None
    if chain is not None:
        loss_db = total_loss_db(f_hz, gamma, chain, reference_ohm=reference_ohm)
        loss_db = np.where(np.isfinite(loss_db), loss_db, ALL_LOST_DB)
        if chain.chain.pieces:
            ceiling = np.minimum(swr_ceiling(f_hz, chain, reference_ohm=reference_ohm), UNSEEN_SWR)
    at = AtRadio(
        f_hz=f_hz,
        swr=swr_from_gamma_abs(size),
        z_ohm=z_from_gamma(at_radio, reference_ohm) if signed else None,
        phase="signed" if signed else "none",
        line_loss_db=loss_db,
        swr_ceiling=ceiling,
        box_loss_db=None if around.box is None else around.box.loss_at_db(f_hz),
    )
    ends = (float(f_hz[0]), float(f_hz[-1]))
    return judge_band(at, band_hz=ends, radio=kit.radio, tuner=kit.tuner, limit_swr=around.limit_swr).verdict
