"""What an analyzer sees into a line of sections, each of its own impedance, with something at the far end.

Told by delays and total losses, so that nothing needs to be known of lengths: a sweep alone cannot tell a
long fast line from a short slow one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

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
        delay_s, z0_ohm = np.array(self.delay_s), np.array(self.z0_ohm)
        return near_end(f_hz, delay_s, z0_ohm, self.k1_db, self.k2_db, end, reference_ohm=reference_ohm)


def near_end(
    f_hz: FloatArray,
    delay_s: FloatArray,
    z0_ohm: FloatArray,
    k1_db: ArrayLike,
    k2_db: ArrayLike,
    end: ArrayLike,
    *,
    reference_ohm: float,
) -> ComplexArray:
    """Reflection at the near end of many lines side by side, shape (..., n).

    Delay and impedance of shape (..., sections), losses and the reflection at the far end of shape (...); as the
    fields of :class:`Sections`.
    """
    k1, k2, gamma_end = (np.asarray(part)[..., np.newaxis] for part in (k1_db, k2_db, end))
    shares = delay_s / delay_s.sum(axis=-1, keepdims=True)
    beyond: ComplexArray | None = None
    for k in reversed(range(delay_s.shape[-1])):
        share, one = shares[..., k, None], (delay_s[..., k, None], z0_ohm[..., k, None])
        gamma, zc_ohm = _propagation(f_hz, *one, k1 * share, k2 * share)
        if beyond is not None:
            gamma_end = _seen_from(gamma_end, beyond, zc_ohm)
        gamma_end = gamma_end * np.exp(-2 * gamma)
        beyond = zc_ohm
    assert beyond is not None  # a line has at least one section
    return _seen_from(gamma_end, beyond, reference_ohm)


def _seen_from(gamma: ComplexArray, its_zc_ohm: ComplexArray, zc_ohm: ComplexArray | float) -> ComplexArray:
    """A reflection relative to one impedance, seen from a line of another."""
    step = (its_zc_ohm - zc_ohm) / (its_zc_ohm + zc_ohm)
    return np.asarray((gamma + step) / (1 + step * gamma))


def _propagation(
    f_hz: FloatArray, delay_s: ArrayLike, z0_ohm: ArrayLike, k1_db: ArrayLike, k2_db: ArrayLike
) -> tuple[ComplexArray, ComplexArray]:
    """γl and zc of a section: as a line of one metre."""
    return propagation(
        f_hz,
        z0_ohm=z0_ohm,
        velocity_factor=1 / (SPEED_OF_LIGHT_M_S * np.asarray(delay_s)),
        k1=100 * np.asarray(k1_db),
        k2=100 * np.asarray(k2_db),
    )
