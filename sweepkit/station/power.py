"""Watts: what the radio still gives at an SWR, and what of it reaches the antenna."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import FloatArray, gamma_abs_from_swr
from sweepkit.kit.radio import Radio
from sweepkit.kit.tuner import Tuner


def forward_w(swr: ArrayLike, radio: Radio) -> FloatArray:
    """Forward power that the radio still gives into an SWR.

    Between the rows of ``power_at_swr`` it is interpolated over SWR. Below the first row it runs to full
    power at SWR 1. Beyond the last row it falls with ``1/(1 + |gamma|)**2``, as in a radio that holds its
    peak voltage (identity for a standing wave; that radios do so: common practice, no source).

    ``swr``: SWR at the radio, 1 or more; ``inf`` is allowed, NaN stays NaN.
    Returns: forward power at the supply voltage in use, never rising with SWR. [W]
    """
    s = np.asarray(swr, dtype=np.float64)
    rows = radio.power_at_swr if radio.power_at_swr[0][0] == 1 else ((1.0, 1.0), *radio.power_at_swr)
    row_swr, row_share = np.array(rows).T
    voltage = 1 + gamma_abs_from_swr(np.maximum(s, row_swr[-1]))
    last_voltage = 1 + gamma_abs_from_swr(row_swr[-1])
    share = np.interp(s, row_swr, row_share) * (last_voltage / voltage) ** 2
    full_w = radio.power_w * radio.supply_share
    return np.asarray(full_w * np.where(np.isnan(s), np.nan, share), dtype=np.float64)


def accepted_share(swr: ArrayLike) -> FloatArray:
    """Share of forward power that goes into a load: 1 - |gamma|² (Pozar 2012, section 2.3)."""
    return np.asarray(1 - gamma_abs_from_swr(swr) ** 2, dtype=np.float64)


def share_from_loss_db(loss_db: ArrayLike) -> FloatArray:
    """Share of power that is left after a loss."""
    return np.asarray(10 ** (-np.asarray(loss_db, dtype=np.float64) / 10), dtype=np.float64)


def leaving_w(
    swr: ArrayLike, radio: Radio, tuner: Tuner | None = None, *, tuner_loss_db: ArrayLike | None = None
) -> FloatArray:
    """Power that goes into the line: directly with the mismatch, or through a tuner, which shows the radio a match."""
    if tuner is None:
        return forward_w(swr, radio) * accepted_share(swr)
    matched = forward_w(1.0, radio) * share_from_loss_db(
        tuner.loss_db if tuner_loss_db is None else tuner_loss_db
    )
    return np.where(np.isnan(swr), np.nan, matched)
