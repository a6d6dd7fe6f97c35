"""Figures of one band that go with its verdict: what the line loses, and the watts at the antenna."""

from __future__ import annotations

import numpy as np

from sweepkit.figures import Figure
from sweepkit.kit.tuner import Tuner
from sweepkit.station.at_radio import ALL_LOST_DB, AtRadio
from sweepkit.station.point_verdicts import reach_of, within_limit
from sweepkit.station.power import leaving_w, share_from_loss_db
from sweepkit.station.tuner_reach import MATCHES
from sweepkit.station.why import Case, swr_text

NO_LINE_TOLD = "the line was not told, so its loss is not known"


def line_loss_figure(at: AtRadio, index: int | None) -> Figure:
    """Total loss of the line at one point. [dB]

    Parameters
    ----------
    at : AtRadio
        What is seen at the radio.
    index : int or None
        Which point; ``None`` where no SWR is known.
    """
    if at.line_loss_db is None:
        return Figure.none(f"{NO_LINE_TOLD}; give --line")
    if index is None:
        return Figure.none("no SWR is known here")
    return Figure.from_draws(at.line_loss_db[:, index], reason="the far end reflects everything", wall=0.0)


def power_figure(case: Case) -> Figure:
    """What reaches the antenna, directly or through the tuner. [W]

    Parameters
    ----------
    case : Case
        What was found of the band.
    """
    if case.index is None or case.verdict == "unknown":
        return Figure.none("whether to transmit here is not known, so neither are the watts")
    direct = bool(within_limit(case.curves, case.limits)[case.index])
    if not direct and reach_of(case.curves, case.limits)[case.index] != MATCHES:
        return Figure.none(f"not to be keyed at SWR {swr_text(case.swr)}")
    return _power(case.at, case.index, case, None if direct else case.limits.tuner)


def _power(at: AtRadio, index: int, case: Case, tuner: Tuner | None) -> Figure:
    """The watts in every draw."""
    leaving = leaving_w(at.swr[:, index], case.limits.radio, tuner)
    if at.line_loss_db is None:
        return Figure.none(f"{NO_LINE_TOLD}; {leaving[0]:.3g} W go into it; give --line")
    loss_db = np.nan_to_num(at.line_loss_db[:, index], nan=ALL_LOST_DB, posinf=ALL_LOST_DB)
    return Figure.from_draws(leaving * share_from_loss_db(loss_db), reason="no SWR is known here", wall=0.0)
