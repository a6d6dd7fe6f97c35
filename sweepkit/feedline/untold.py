"""What one untold thing in a line adds to a reflection: a joint in series, or a piece of other impedance.

Where it sits, the reflection there changes by r(1 - Γ)²/2R for a resistance in series, and by
jβlδ((Z/R)(1 - Γ)² + (R/Z)(1 + Γ)²)/2 for a length l whose impedance Z is off by δ, both to first order (Pozar,
Microwave Engineering, 4th ed., Wiley 2012, sections 2.3 and 4.4, differentiated). Carried to the radio by the matrix
of the line before it, both are squares of something linear in the reflection there: directivity, tracking and source
match, as of an analyzer whose errors come from inside the line.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.near import IDENTITY, piece_matrix, times
from sweepkit.lines import LinePiece
from sweepkit.quantities import SPEED_OF_LIGHT_M_S

# Places along the line, both ends among them: a sweep of ±20 % tells no more places of 30 m apart.
PLACES = 4
UNTOLD_OHM = 1.5  # rms of a joint that is worn or dirty; common practice, no source [ohm]
# Length times share of impedance, rms: the middle of the logarithms of 0.02 m (a metre of another drum, 2 % off) and
# 0.25 m (half a metre of 75 ohm for 50); common practice, no source. [m]
UNTOLD_M = 0.07
TERMS = 2 * PLACES


# Matrices of pieces of so many metres that were looked at already, at the same frequencies.
Parts = dict[tuple[LinePiece, float], ComplexArray]


def untold_terms(
    f_hz: FloatArray, chain: LineChain, *, reference_ohm: float, parts: Parts | None = None
) -> ComplexArray:
    """What a thing of ordinary size at each place adds to directivity, tracking and source match.

    Parameters
    ----------
    f_hz : float array, shape (n,)
        Frequency. [Hz]
    chain : LineChain
        The line as told, at least one piece.
    reference_ohm : float
        Reference of the reflections. [ohm]
    parts : Parts, optional
        To be shared by lines that have pieces in common; it is added to.

    Returns
    -------
    complex array, shape (TERMS, 3, n)
        A joint at each place, then a piece at each. [-]
    """
    joints, pieces = [], []
    share = 1 / math.sqrt(PLACES)  # there is one, anywhere
    for (a, b, c, d), piece in _places(f_hz, chain, reference_ohm, {} if parts is None else parts):
        series, shunt = _square(a + b, -(c + d)), _square(a - b, d - c)
        turn = 2 * np.pi * f_hz / (piece.velocity_factor * SPEED_OF_LIGHT_M_S)
        ratio = piece.z0_ohm / reference_ohm
        joints.append(share * UNTOLD_OHM / (2 * reference_ohm) * series)
        pieces.append(0.5j * share * UNTOLD_M * turn * (ratio * series + shunt / ratio))
    return np.stack([*joints, *pieces])


def _square(constant: ComplexArray, by_gamma: ComplexArray) -> ComplexArray:
    """Terms with Γ to the power of 0, 1 and 2 of a square, shape (3, n)."""
    return np.stack([constant**2, 2 * constant * by_gamma, by_gamma**2])


def _places(
    f_hz: FloatArray, chain: LineChain, reference_ohm: float, parts: Parts
) -> Iterator[tuple[ComplexArray, LinePiece]]:
    """Evenly along the delay: the matrix of the line before each place, and the piece that it lies in."""

    def part(piece: LinePiece, length_m: float) -> ComplexArray:
        if (piece, length_m) not in parts:
            parts[piece, length_m] = _part(f_hz, piece, length_m, reference_ohm)
        return parts[piece, length_m]

    delays = [piece.length_m / piece.velocity_factor for piece in chain.pieces]
    k, left, before = 0, 0.0, IDENTITY[:, np.newaxis]
    for step in np.diff(np.linspace(0, sum(delays), PLACES), prepend=0.0):
        left += float(step)
        while k < len(delays) - 1 and left > delays[k]:
            before = times(before, part(chain.pieces[k], chain.pieces[k].length_m))
            left, k = left - delays[k], k + 1
        piece = chain.pieces[k]
        yield times(before, part(piece, min(left * piece.velocity_factor, piece.length_m))), piece


def _part(f_hz: FloatArray, piece: LinePiece, length_m: float, reference_ohm: float) -> ComplexArray:
    """So much of a piece."""
    told = LineChain([piece]).nominal
    return piece_matrix(
        f_hz,
        z0_ohm=told.z0_ohm[0, 0],
        velocity_factor=told.velocity_factor[0, 0],
        k1=piece.k1_db_per_100m,
        k2=piece.k2_db_per_100m,
        length_m=length_m,
        reference_ohm=reference_ohm,
    )
