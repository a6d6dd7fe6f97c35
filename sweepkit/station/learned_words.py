"""What was learned of line and analyzer, in words."""

from __future__ import annotations

import math

import numpy as np

from sweepkit.conversions import FloatArray
from sweepkit.findings import Finding
from sweepkit.instrument import WAVES, error_waves
from sweepkit.station.evidence import BY_ANALYZER, LEAD
from sweepkit.station.linear import wave_shares
from sweepkit.station.posterior import Learned

FAR = 1.5  # sigma of what was told; nearer by, a line fits as told
SEEN = 0.95  # chance of something untold in the line, one in three beforehand, from which on it is said
LIKELY = 0.5
SOMETHING = (
    "; a joint, an adapter, a piece, a choke or a box that nobody told of fits better than the line as told"
)
LOOK = "look at connectors and adapters, or measure the line alone: sweepkit feedline"
BLIND = 0.8  # share of what was unknown that is unknown still: the sweep hardly shows the line


def say_learned(learned: Learned, f_hz: float) -> Finding:
    """A note on how the line fits, and the size of the directivity error at some frequencies."""
    lines = learned if learned.kinds[LEAD] > LIKELY else learned.without_lead()
    told = [_say_piece(lines, k) for k in range(len(learned.chain.pieces))]
    tell = [key for _, key in told if key]
    untold = 1 - float(learned.kinds[0])
    return Finding(
        "line-fits",
        "note",
        f"what the sweep tells of line and analyzer: {', '.join(words for words, _ in told)}; "
        f"directivity about {_directivity_db(learned, f_hz):.0f} dB{SOMETHING if untold > SEEN else ''}",
        f"tell it in the kit: {', '.join(tell)}" if tell else LOOK if untold > SEEN else "nothing to do",
    )


def _say_piece(learned: Learned, k: int) -> tuple[str, str]:
    """One piece in words, and the key of the kit to change where there is one."""
    pieces = learned.chain.pieces
    piece, count = pieces[k], len(pieces)
    if piece.length_m <= 0:
        return f"{piece.name} fits as told", ""
    longer = np.zeros(learned.mean.size)  # electrically, as a share, by scores
    longer[BY_ANALYZER + k] = piece.length_sigma_m / piece.length_m
    longer[BY_ANALYZER + count + k] = -piece.velocity_factor_sigma
    mean, sigma = float(longer @ learned.mean), math.sqrt(float(longer @ learned.covariance @ longer))
    words = f"{100 * mean:+.1f} % of electrical length, give or take {100 * sigma:.1f}"
    told_sigma = math.sqrt(float(longer @ longer))
    if sigma > BLIND * told_sigma:
        return f"length of {piece.name} hardly told ({words})", ""
    if abs(mean) < FAR * told_sigma:
        return f"{piece.name} fits as told ({words})", ""
    factor, length_m = piece.velocity_factor / (1 + mean), piece.length_m * (1 + mean)
    return (
        f"{piece.name}: velocity factor {piece.velocity_factor:.2f} told, {factor:.2f} fits, or {length_m:.1f} m "
        f"in place of {piece.length_m:g} ({words})",
        f"velocity_factor = {factor:.3f}",
    )


def _directivity_db(learned: Learned, f_hz: float) -> float:
    """Rms size of the error at a frequency, what is unknown of it included."""
    waves = wave_shares(learned.model)[0] * error_waves(np.array([f_hz]))[:, 0]
    row = np.concatenate([waves, 1j * waves])
    at = np.concatenate([np.arange(WAVES.size), BY_ANALYZER // 2 + np.arange(WAVES.size)])
    covariance: FloatArray = learned.covariance[np.ix_(at, at)]
    square = abs(row @ learned.mean[at]) ** 2 + (row @ covariance @ row.conj()).real
    return -10 * math.log10(max(float(square), 1e-12))
