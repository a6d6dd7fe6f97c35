"""Direct, through the tuner, not, or cannot say: point by point over frequency."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sweepkit.kit.radio import Radio
from sweepkit.kit.tuner import Tuner
from sweepkit.station.at_radio import Nominal
from sweepkit.station.tuner_reach import BEYOND, CANNOT_SAY, MATCHES, tuner_reach

Verdict = Literal["direct", "tuner", "no", "unknown"]

LOSS_NAMED_DB = 1.0  # lost in line or box: above it the figure is named; common practice, no source
LOSS_TOO_MUCH_DB = 3.0  # half the power: above it the line comes first; common practice, no source
ROUNDING = 1e-9  # an SWR at its limit stays at it through rounding of the arithmetic


@dataclass(frozen=True)
class Limits:
    """What a verdict is held against; up to ``limit_swr``, this value included, it is direct."""

    radio: Radio
    tuner: Tuner | None
    limit_swr: float

    @property
    def rests_on_impedance(self) -> bool:
        """Whether the tuner is known by a region of impedances."""
        return self.tuner is not None and self.tuner.max_swr is None


def point_verdicts(
    curves: Nominal, limits: Limits, *, too_good: bool | NDArray[np.bool_] = False
) -> NDArray[np.str_]:
    """The verdict at each frequency, shape (k,).

    The first rule that fits decides: no SWR: unknown; within the limit, but at the ceiling of the line: unknown; more
    than 3 dB lost in line and told box: no; usable, but flat far outside the bands (``too_good``): unknown; within
    the limit: direct; the tuner matches: tuner; it may or may not: unknown; else no.
    """
    within = within_limit(curves, limits)
    reach = reach_of(curves, limits)
    usable = within | (reach != BEYOND)
    verdicts = np.full(curves.swr.shape, "no", dtype="<U7")
    for where, verdict in (  # the first rule comes last and overrules
        (reach == CANNOT_SAY, "unknown"),
        (reach == MATCHES, "tuner"),
        (within, "direct"),
        (usable & too_good, "unknown"),
        (curves.told_loss_db > LOSS_TOO_MUCH_DB, "no"),
        (within & (curves.nearness >= 1), "unknown"),
        (np.isnan(curves.swr), "unknown"),
    ):
        verdicts[where] = verdict
    return verdicts


def within_limit(curves: Nominal, limits: Limits) -> NDArray[np.bool_]:
    """Where the SWR is at or below the limit, shape (k,)."""
    return np.asarray(curves.swr <= limits.limit_swr * (1 + ROUNDING), dtype=bool)


def reach_of(curves: Nominal, limits: Limits) -> NDArray[np.int8]:
    """Where the tuner matches, shape (k,), as :func:`tuner_reach` says it."""
    swr = curves.swr / (1 + ROUNDING)
    z_ohm = curves.z_ohm[:] if limits.rests_on_impedance and curves.z_ohm is not None else None
    return tuner_reach(swr, z_ohm, phase=curves.phase, tuner=limits.tuner, z0_ohm=curves.z0_ohm)
