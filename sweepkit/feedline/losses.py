"""What a chain of line costs, and what it hides: losses, standing waves at both ends, the ceiling.

Powers are exact: 1 - |Γ|² at both ends with the waves carried through the full line equation. The shortcut
formula from matched loss and SWR holds for a long line with a real characteristic impedance only.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray, swr_from_gamma_abs
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.plane import add_chain, chain_matrix, piece_propagation
from sweepkit.feedline.propagation import DB_PER_NEPER


def matched_loss_db(f_hz: ArrayLike, draws: ChainDraws) -> FloatArray:
    """One-way loss of all pieces when each is ended in its own characteristic impedance.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency, 0 or more. [Hz]
    draws : ChainDraws
        The chain.

    Returns
    -------
    float array, shape (draws, n)
        Loss, 0 or more. [dB]
    """
    f = np.asarray(f_hz, dtype=np.float64)
    nepers = np.zeros((draws.size, f.size))
    for k in range(len(draws.chain.pieces)):
        gamma_per_m, _ = piece_propagation(f, draws, k)
        nepers += gamma_per_m.real * draws.length_m[:, k, None]
    return nepers * DB_PER_NEPER


def share_through(
    f_hz: ArrayLike, gamma_feedpoint: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> FloatArray:
    """Share of the power going into the line at the radio that comes out of it at the feedpoint.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency, 0 or more. [Hz]
    gamma_feedpoint : complex array, shape (n,) or (draws, n)
        Reflection coefficient at the feedpoint. [-]
    draws : ChainDraws
        The chain.
    reference_ohm : float
        Reference resistance of the reflection, above 0. [ohm]

    Returns
    -------
    float array, shape (draws, n)
        0 to 1; NaN where the reflection is above 1 (noise, or a line that does not fit). [-]
    """
    gamma = np.asarray(gamma_feedpoint, dtype=np.complex128)
    matrix = chain_matrix(f_hz, draws, reference_ohm=reference_ohm)
    reflected = matrix[0] * gamma + matrix[1]
    incident = matrix[2] * gamma + matrix[3]
    going_in = np.abs(incident) ** 2 - np.abs(reflected) ** 2
    coming_out = np.broadcast_to(1 - np.abs(gamma) ** 2, going_in.shape)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where((coming_out >= 0) & (going_in > 0), coming_out / going_in, np.nan)


def total_loss_db(
    f_hz: ArrayLike, gamma_feedpoint: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> FloatArray:
    """Loss with the mismatch as it is; ``inf`` at total reflection, NaN above it. As :func:`share_through`."""
    with np.errstate(divide="ignore"):
        return -10 * np.log10(share_through(f_hz, gamma_feedpoint, draws, reference_ohm=reference_ohm))


def share_to_antenna(
    f_hz: ArrayLike, gamma_feedpoint: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> FloatArray:
    """Share of a radio's forward power that leaves the line at the feedpoint, without a tuner.

    (1 - |Γ|² at the radio) times :func:`share_through`, arguments and shape as there.
    """
    at_radio = add_chain(f_hz, gamma_feedpoint, draws, reference_ohm=reference_ohm)
    through = share_through(f_hz, gamma_feedpoint, draws, reference_ohm=reference_ohm)
    return (1 - np.abs(at_radio) ** 2) * through


def swr_both_ends(
    f_hz: ArrayLike, gamma_feedpoint: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0
) -> tuple[FloatArray, FloatArray]:
    """SWR at the radio and at the feedpoint, against one reference; arguments and shapes as :func:`share_through`."""
    at_radio = add_chain(f_hz, gamma_feedpoint, draws, reference_ohm=reference_ohm)
    at_feedpoint = np.broadcast_to(np.asarray(gamma_feedpoint), at_radio.shape)
    return swr_from_gamma_abs(np.abs(at_radio)), swr_from_gamma_abs(np.abs(at_feedpoint))


def swr_ceiling(f_hz: ArrayLike, draws: ChainDraws, *, reference_ohm: float = 50.0) -> FloatArray:
    """Highest SWR that can show at the radio, whatever passive thing hangs at the far end, shape (draws, n).

    The disc of passive loads |Γ| ≤ 1 becomes another disc at the radio; its farthest point is the ceiling, ``inf``
    for a line without loss.
    """
    a, b, c, d = chain_matrix(f_hz, draws, reference_ohm=reference_ohm)
    spread = np.abs(d) ** 2 - np.abs(c) ** 2
    centre = (b * np.conj(d) - a * np.conj(c)) / spread
    radius = np.abs(a * d - b * c) / spread
    return swr_from_gamma_abs(np.abs(centre) + radius)


def worst_volts_and_amps(
    f_hz: ArrayLike,
    gamma_feedpoint: ArrayLike,
    draws: ChainDraws,
    *,
    power_w: float,
    reference_ohm: float = 50.0,
) -> tuple[FloatArray, FloatArray]:
    """Highest voltage [V, peak] and current [A, rms] on the line; arguments and shapes as :func:`share_through`.

    ``power_w`` goes into the line at the radio: a tuner's output, or forward less reflected power. Peak voltage
    strains the dielectric, effective current heats the conductors; sampled every 4.5 degrees and at both ends of each
    piece, NaN where the reflection is above 1.
    """
    f = np.asarray(f_hz, dtype=np.float64)
    at_radio = add_chain(f, gamma_feedpoint, draws, reference_ohm=reference_ohm)
    with np.errstate(divide="ignore", invalid="ignore"):
        incident = np.sqrt(power_w / (1 - np.abs(at_radio) ** 2)) + 0j
    volts = np.sqrt(reference_ohm) * incident * (1 + at_radio)
    amps = incident * (1 - at_radio) / np.sqrt(reference_ohm)
    worst_volts, worst_amps = np.abs(volts), np.abs(amps)
    for k in range(len(draws.chain.pieces)):
        gamma_per_m, zc_ohm = piece_propagation(f, draws, k)
        length_m = draws.length_m[:, k, None]
        out, back = (volts + zc_ohm * amps) / 2, (volts - zc_ohm * amps) / 2
        for share in _positions(gamma_per_m, length_m):
            there = np.exp(-gamma_per_m * (share * length_m))
            volts, amps = out * there + back / there, (out * there - back / there) / zc_ohm
            worst_volts = np.maximum(worst_volts, np.abs(volts))
            worst_amps = np.maximum(worst_amps, np.abs(amps))
    return worst_volts * np.sqrt(2), worst_amps


def _positions(gamma_per_m: ComplexArray, length_m: FloatArray) -> FloatArray:
    """Where to look along a piece, as shares of its length: every 4.5 degrees, the end included."""
    turns_deg = np.degrees(float(np.max(gamma_per_m.imag * length_m, initial=0.0)))
    steps = max(1, int(np.ceil(turns_deg / 4.5)))
    return np.arange(1, steps + 1) / steps
