"""What an analyzer sees into a line of sections, each of its own impedance, with something at the far end.

Told by delays and total losses, so that nothing needs to be known of lengths: a sweep alone cannot tell a
long fast line from a short slow one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.propagation import DB_PER_NEPER, propagation
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

OPEN, SHORT = 1.0, -1.0  # reflection at the far end, relative to the last section


@dataclass(frozen=True)
class Sections:
    """A line by what can be measured at one end of it."""

    delay_s: tuple[float, ...]  # one-way, of each section from the near end, in the high-frequency limit
    z0_ohm: tuple[float, ...]  # of each, high-frequency limit
    k1_db: float  # loss of all of it, k1*sqrt(f_MHz) + k2*f_MHz, spread evenly over the delay
    k2_db: float

    @property
    def total_delay_s(self) -> float:
        """One-way delay of all sections. [s]"""
        return sum(self.delay_s)

    def loss_db(self, f_hz: FloatArray) -> FloatArray:
        """Matched loss, one way, of all sections."""
        total = self.total_delay_s
        gamma, _ = _propagation(f_hz, total, 50.0, self.k1_db, self.k2_db)
        return np.asarray(gamma.real * DB_PER_NEPER)

    def turn(self, f_hz: FloatArray) -> ComplexArray:
        """exp(-2γl) of all sections."""
        gamma, _ = _propagation(f_hz, self.total_delay_s, 50.0, self.k1_db, self.k2_db)
        return np.asarray(np.exp(-2 * gamma))

    def gamma(self, f_hz: FloatArray, end: float, *, reference_ohm: float) -> ComplexArray:
        """Reflection at the near end; ``end`` is that at the far end (1 open, -1 short, 0 matched to the last
        section).
        """
        total = self.total_delay_s
        gamma_end: ComplexArray = np.full(f_hz.shape, end, dtype=np.complex128)
        beyond: ComplexArray | None = None
        for delay_s, z0_ohm in zip(reversed(self.delay_s), reversed(self.z0_ohm), strict=True):
            share = delay_s / total
            gamma, zc_ohm = _propagation(f_hz, delay_s, z0_ohm, self.k1_db * share, self.k2_db * share)
            if beyond is not None:
                gamma_end = _seen_from(gamma_end, beyond, zc_ohm)
            gamma_end = gamma_end * np.exp(-2 * gamma)
            beyond = zc_ohm
        assert beyond is not None  # a line has at least one section
        return _seen_from(gamma_end, beyond, np.full(f_hz.shape, reference_ohm, dtype=np.complex128))


def _seen_from(gamma: ComplexArray, its_zc_ohm: ComplexArray, zc_ohm: ComplexArray) -> ComplexArray:
    """A reflection relative to one impedance, seen from a line of another."""
    step = (its_zc_ohm - zc_ohm) / (its_zc_ohm + zc_ohm)
    return np.asarray((gamma + step) / (1 + step * gamma))


def _propagation(
    f_hz: FloatArray, delay_s: float, z0_ohm: float, k1_db: float, k2_db: float
) -> tuple[ComplexArray, ComplexArray]:
    """γl and zc of a section: as a line of one metre."""
    return propagation(
        f_hz,
        z0_ohm=z0_ohm,
        velocity_factor=1 / (SPEED_OF_LIGHT_M_S * delay_s),
        k1=100 * k1_db,
        k2=100 * k2_db,
    )
