"""Where the watts go: what each part of the station takes between the radio's full power and the antenna."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure
from sweepkit.kit.tuner import Tuner
from sweepkit.station.at_radio import ALL_LOST_DB, AtRadio
from sweepkit.station.point_verdicts import reach_of, within_limit
from sweepkit.station.power import leaving_w, share_from_loss_db
from sweepkit.station.tuner_loss import tuner_loss_db
from sweepkit.station.tuner_reach import MATCHES
from sweepkit.station.why import Case, swr_text

NO_LINE_TOLD = "the line was not told, so its loss is not known"
NO_SWR = "no SWR is known here"

Where = Literal["radio", "tuner", "line", "box", "coil", "ground"]


@dataclass(frozen=True)
class PowerLoss:
    """What one part takes."""

    # in order from the radio. "radio" is what it holds back or gets back from full power; "ground" all that heats
    # beyond the line and is in no other row
    where: Where
    loss_db: Figure  # no value where it cannot be seen or was not told
    told: bool  # it rests on what the operator told or measured, not on usual values


@dataclass(frozen=True)
class Ledger:
    """The parts up to the end of the coax, and the watts that leave it."""

    losses: tuple[PowerLoss, ...]
    leaves_coax_w: Figure


def line_loss_figure(at: AtRadio, index: int | None) -> Figure:
    """Total loss of the line at one point; none where no SWR is known. [dB]"""
    if at.line_loss_db is None:
        return Figure.none(f"{NO_LINE_TOLD}; give --line")
    if index is None:
        return Figure.none(NO_SWR)
    return Figure.from_draws(at.line_loss_db[:, index], reason="the far end reflects everything", wall=0.0)


def make_ledger(case: Case) -> Ledger:
    """The ledger at the best frequency that has the verdict."""
    fold_back_told = "radio.power_at_swr" in case.told
    line = PowerLoss("line", line_loss_figure(case.at, case.index), case.at.line_loss_db is not None)
    silent = _why_no_watts(case)
    if silent or case.index is None:
        none = Figure.none(silent or NO_SWR)
        return Ledger((PowerLoss("radio", none, fold_back_told), line), none)
    radio, swr = case.limits.radio, case.at.swr[:, case.index]
    if bool(within_limit(case.curves, case.limits)[case.index]):
        leaving = leaving_w(swr, radio)
        tuned = []
    else:
        tuner = case.limits.tuner or Tuner()
        loss_db = _tuner_draws_db(case, tuner)
        leaving = leaving_w(swr, radio, tuner, tuner_loss_db=loss_db)
        figure = Figure.from_draws(loss_db, reason=NO_SWR, wall=0.0)
        tuned = [PowerLoss("tuner", figure, _loss_told(case) or tuner.coil_q is not None)]
        swr = np.ones_like(swr)
    held_db = (
        -10 * np.log10(np.maximum(leaving_w(swr, radio) / radio.power_w, 10 ** (-ALL_LOST_DB / 10))) + 0.0
    )
    held = Figure.from_draws(held_db, reason=NO_SWR, wall=0.0)
    rows = (PowerLoss("radio", held, fold_back_told), *tuned, line)
    return Ledger(rows, _leaves_coax(case.at, case.index, leaving))


def _why_no_watts(case: Case) -> str:
    """Why the key stays up; empty where it does not."""
    if case.index is None or case.verdict == "unknown":
        return "whether to transmit here is not known, so neither are the watts"
    direct = bool(within_limit(case.curves, case.limits)[case.index])
    if not direct and reach_of(case.curves, case.limits)[case.index] != MATCHES:
        return f"not to be keyed at SWR {swr_text(case.swr)}"
    return ""


def _tuner_draws_db(case: Case, tuner: Tuner) -> FloatArray:
    z_ohm = case.at.z_ohm if case.at.phase == "signed" else None
    seen = None if z_ohm is None else np.broadcast_to(z_ohm[:, case.index], case.at.swr[:, case.index].shape)
    return tuner_loss_db(
        tuner,
        case.at.swr[:, case.index],
        seen,
        z0_ohm=case.limits.radio.z0_ohm,
        loss_told=_loss_told(case),
    )


def _loss_told(case: Case) -> bool:
    return "tuner.loss_db" in case.told


def _leaves_coax(at: AtRadio, index: int, leaving: FloatArray) -> Figure:
    """The watts in every draw."""
    if at.line_loss_db is None:
        return Figure.none(f"{NO_LINE_TOLD}; {leaving[0]:.3g} W go into it; give --line")
    loss_db = np.nan_to_num(at.line_loss_db[:, index], nan=ALL_LOST_DB, posinf=ALL_LOST_DB)
    return Figure.from_draws(leaving * share_from_loss_db(loss_db), reason=NO_SWR, wall=0.0)
