"""What a tuner loses: found by the operator with two loads, or estimated from its coil.

Either gives the ``loss_db`` of kit.toml.
"""

from __future__ import annotations

import math

from sweepkit.errors import BadInput


def tuner_loss_db_from_half_and_double_load(swr_half: float, swr_double: float) -> float:
    """Loss of a tuner from two sweeps through it.

    The tuner is set to a match with a load at its output. Then the load is replaced by half and by double its
    resistance; without loss each reads SWR 2, and loss lowers both readings (F. Witt, QST April and May 1995;
    QEX September/October 2003).

    Parameters
    ----------
    swr_half, swr_double : float
        SWR at the tuner's input with half and with double the load, above 1. [-]

    Returns
    -------
    float
        Loss; slightly negative where reading errors outweigh it. [dB]

    Raises
    ------
    BadInput
        An SWR of 1 or less, from which no loss follows.
    """
    for swr in (swr_half, swr_double):
        if not swr > 1:
            raise BadInput(
                f"the SWR with half or double load is {swr:g}; above 1 was expected; set the match again"
            )
    through = (swr_half + 1) * (swr_double + 1) / ((swr_half - 1) * (swr_double - 1))
    return 5 * math.log10(through) - 10 * math.log10(3)  # 3: the same for SWR 2 and no loss


def l_network_loss_db(r_ohm: float, *, z0_ohm: float = 50.0, coil_q: float = 100.0) -> float:
    """Loss of an L network of one coil and one lossless capacitor between two resistances.

    Efficiency ``1/(1 + Q/Q_coil)`` with ``Q = sqrt(larger/smaller - 1)``, both reactances as in the lossless
    design.

    Parameters
    ----------
    r_ohm : float
        Resistance to be matched, above 0. [ohm]
    z0_ohm : float
        Resistance it is matched to, above 0. [ohm]
    coil_q : float
        Quality factor of the coil, above 0. [-]

    Returns
    -------
    float
        Loss, 0 or more. [dB]
    """
    q = math.sqrt(max(r_ohm, z0_ohm) / min(r_ohm, z0_ohm) - 1)
    return 10 * math.log10(1 + q / coil_q)
