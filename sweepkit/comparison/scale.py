"""Logarithm or plain number: on which scale the spread of a quantity is the same everywhere.

Lengths, grounds and losses act on frequency, resistance, Q and bandwidth as factors: a site that moves a dip by
1 % does so on every band, and a spread in ohm or hertz would be a different one for every antenna. Their
logarithms spread alike, and a difference of logarithms is a relative difference.

SWR too is taken as a logarithm. Where the dip has little reactance, ln SWR = |ln(R / 50 ohm)|, so that a factor on
R moves ln SWR by the same amount at SWR 1.2 and at 3. The bars say what is lost: near SWR 1 the scale is folded, an
R above 50 ohm and one below look alike, and spreads come out too small; R itself, which keeps
the sign, is the quantity to compare there. Decibels are logarithms already; a reactance may have any
sign; both stay plain.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.figures import Figure

Scale = Literal["log", "plain"]

LOG_QUANTITIES = frozenset(
    {"dip_hz", "resonance_hz", "best_hz", "bandwidth_hz", "r_ohm", "q", "dip_swr", "swr", "best_swr"}
)
LEAST_SWR = {"dip_swr": 1.0, "swr": 1.0, "best_swr": 1.0}
PLAIN_QUANTITIES = frozenset({"x_ohm", "line_loss_db", "return_loss_db", "share_within_limit"})
SIGMAS_IN_INTERVAL = 2 * 1.959963984540054  # a 95 % interval of a normal distribution, in standard deviations


def scale_of(quantity: str) -> Scale:
    """On which scale a quantity is compared.

    Raises ``ValueError``: for a name without an entry: a scale is a decision, not a default.
    """
    if quantity in LOG_QUANTITIES:
        return "log"
    if quantity in PLAIN_QUANTITIES:
        return "plain"
    raise ValueError(
        f"quantity is {quantity!r}; it must be one of {sorted(LOG_QUANTITIES | PLAIN_QUANTITIES)}"
    )


def on_scale(values: FloatArray, scale: Scale) -> FloatArray:
    """Values as they are analysed, natural logarithms or themselves; NaN where there is no answer.

    A value of 0 or less has no logarithm: ``ValueError``.
    """
    plain = np.asarray(values, dtype=np.float64)
    if scale == "plain":
        return plain
    if np.any(plain <= 0):
        raise ValueError(f"a value is {np.nanmin(plain)}; on a logarithmic scale it must be above 0")
    return np.asarray(np.log(plain))


def sd_on_scale(low: FloatArray, high: FloatArray, scale: Scale) -> FloatArray:
    """Standard deviation of a measurement from the ends of its 95 % interval, as of a normal distribution."""
    return (on_scale(high, scale) - on_scale(low, scale)) / SIGMAS_IN_INTERVAL


def value_on_scale(quantity: str, figure: Figure) -> float:
    """Value of a figure as it is analysed; NaN without one, or where its scale has no place for it."""
    scale, value = scale_of(quantity), figure.value
    if value is None or (scale == "log" and value <= 0):
        return math.nan
    return float(on_scale(np.asarray(value), scale))


def value_from_scale(quantity: str, value: float) -> float:
    """The way back: the quantity in its own unit."""
    return value if scale_of(quantity) == "plain" else math.exp(value)


def least_of(quantity: str) -> float:
    """What no value of a quantity is below: 1 for SWR, 0 where the scale is a logarithm."""
    return LEAST_SWR.get(quantity, 0.0 if scale_of(quantity) == "log" else -math.inf)


def interval_on_scale(quantity: str, figure: Figure) -> tuple[float, float]:
    """Ends of the interval as they are analysed; of a figure without draws its value."""
    low, high = on_scale(_ends(quantity, figure), scale_of(quantity))
    return float(low), float(high)


def sd_of_measurement(quantity: str, figure: Figure) -> float:
    """Standard deviation of the measurement of a figure, :func:`sd_on_scale`."""
    low, high = _ends(quantity, figure)
    return float(sd_on_scale(low, high, scale_of(quantity)))


def _ends(quantity: str, figure: Figure) -> FloatArray:
    """Ends of the interval in the quantity's unit; one may touch 0, its logarithm not."""
    value = 0.0 if figure.value is None else figure.value
    low, high = (value if end is None else end for end in (figure.low, figure.high))
    least = value * 1e-6 if scale_of(quantity) == "log" else -math.inf
    return np.maximum([low, high], least)
