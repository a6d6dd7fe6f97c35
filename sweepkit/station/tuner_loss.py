"""What a tuner loses: found by the operator with two loads, or from what it sees and the Q of its coil.

Either gives the ``loss_db`` or the ``coil_q`` of kit.toml.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray, gamma_abs_from_swr, z_from_gamma
from sweepkit.errors import BadInput
from sweepkit.kit.tuner import Tuner

COIL_Q = 100.0  # middle of the range below
UNTOLD_COIL_Q = (50.0, 200.0)  # coils of small tuners on iron-powder rings; common practice, no source
# Switches, wiring and capacitors at an easy match; common practice, no source
UNTOLD_WIRING_DB = (0.05, 0.35)
EASY_R_OHM = 50.0 / 3  # the load at which a told loss is taken to hold: SWR 3, what tuners are specified for
TUNER_STREAM = 2**31 + 2  # keeps these random numbers apart from those of sweep and line


def tuner_loss_db_from_half_and_double_load(swr_half: float, swr_double: float) -> float:
    """Loss of a tuner from two sweeps through it.

    The tuner is set to a match with a load at its output. Then the load is replaced by half and by double its
    resistance; without loss each reads SWR 2, and loss lowers both readings (F. Witt, QST April and May 1995;
    QEX September/October 2003).

    Returns: loss; slightly negative where reading errors outweigh it. [dB]
    Raises ``BadInput``: an SWR of 1 or less, from which no loss follows.
    """
    for swr in (swr_half, swr_double):
        if not swr > 1:
            raise BadInput(
                f"the SWR with half or double load is {swr:g}; above 1 was expected; set the match again"
            )
    through = (swr_half + 1) * (swr_double + 1) / ((swr_half - 1) * (swr_double - 1))
    return 5 * math.log10(through) - 10 * math.log10(3)  # 3: the same for SWR 2 and no loss


def l_network_loss_db(z_ohm: ArrayLike, *, z0_ohm: float = 50.0, coil_q: ArrayLike = COIL_Q) -> FloatArray:
    """Loss of an L network with its coil in series and a lossless capacitor across, set to a match.

    One such network matches each impedance: the capacitor lies on the radio's side where the parallel conductance of
    the load is too large to be matched from there, else on the load's. The coil carries X = sqrt(R (Z0 - R)) - X_load,
    or turns what the capacitor leaves of the load; its resistance X/Q shares the current of R, or of Z0. For a
    resistive load that is ``1/(1 + Q/Q_coil)`` with ``Q = sqrt(larger/smaller - 1)`` (Pozar 2012, section 5.1; the
    reactances are those of the lossless design).

    ``coil_q``: quality factor of the coil, above 0.
    """
    z = np.asarray(z_ohm, dtype=np.complex128)
    r, x = z.real, z.imag
    root = np.sqrt(np.maximum(r * (z0_ohm - r), 0.0))
    at_radio = (r < z0_ohm) & (x <= root)
    conductance = r / (r**2 + x**2)
    through = z0_ohm * np.sqrt(np.maximum(1 / (z0_ohm * conductance) - 1, 0.0))
    coil_ohm = np.where(at_radio, root - x, through)
    shared = coil_ohm / np.asarray(coil_q) / np.where(at_radio, r, z0_ohm)
    return np.asarray(10 * np.log10(1 + shared), dtype=np.float64)[()]


def tuner_loss_db(
    tuner: Tuner, swr: FloatArray, z_ohm: ComplexArray | None, *, z0_ohm: float, loss_told: bool = False
) -> FloatArray:
    """What a tuner that matches loses, on every draw, shape (draws,), the nominal one first; NaN stays NaN.

    The nominal draw: the kit's ``loss_db``, or what the coil loses where that is more. The others: wiring and coil,
    as far as told (``loss_told``: ``loss_db`` is the operator's own), else over their usual ranges; without an
    impedance over all that have this SWR.
    """
    coil_q, turns, wiring_db = _untold(swr.size)
    if tuner.coil_q is not None:
        coil_q = np.full(swr.size, tuner.coil_q)
    if loss_told:
        easy_db = l_network_loss_db(EASY_R_OHM * z0_ohm / 50, z0_ohm=z0_ohm, coil_q=coil_q)
        wiring_db = np.maximum(tuner.loss_db - easy_db, 0.0)
    seen_ohm = z_from_gamma(turns * gamma_abs_from_swr(swr), z0_ohm) if z_ohm is None else z_ohm
    passive = np.where(seen_ohm.real > 0, seen_ohm, np.nan)
    coil_db = l_network_loss_db(passive, z0_ohm=z0_ohm, coil_q=coil_q)
    loss_db = wiring_db + coil_db
    loss_db[0] = max(tuner.loss_db, coil_db[0])
    return loss_db


def _untold(draws: int) -> tuple[FloatArray, ComplexArray, FloatArray]:
    """Coil, place on the circle of an SWR, and wiring of tuners, the nominal one first; that alone needs no dice."""
    coil_q, turns, wiring_db = np.full(draws, COIL_Q), np.full(draws, -1 + 0j), np.zeros(draws)
    if draws > 1:
        dice = np.random.default_rng(TUNER_STREAM)
        drawn_q = np.exp(dice.uniform(math.log(UNTOLD_COIL_Q[0]), math.log(UNTOLD_COIL_Q[1]), draws))
        coil_q[1:] = drawn_q[1:]
        turns[1:] = np.exp(2j * np.pi * dice.uniform(0, 1, draws))[1:]  # the first has the lower resistance
        wiring_db = dice.uniform(*UNTOLD_WIRING_DB, draws)
    return coil_q, turns, wiring_db
