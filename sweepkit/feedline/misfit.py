"""Does the line that was told fit the sweep? Too much loss pushes the reflection at the feedpoint above 1."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sweepkit.conversions import ComplexArray, FloatArray
from sweepkit.feedline.chain import ChainDraws
from sweepkit.feedline.losses import matched_loss_db
from sweepkit.feedline.plane import noise_growth, remove_chain
from sweepkit.findings import Finding
from sweepkit.quantities import frequency_text

WINDOWS = 40  # a sweep is judged in about so many stretches: one bad point is noise, a stretch is not
LEAST_WINDOW = 3
CHANCE = 4.5  # stretches stand out by so many standard errors; about 1 in 10 000 sweeps by chance alone
LEAST_SHARE = 0.025  # a line fits if this share of equally believable lines does, JCGM 101:2008, 7.7
MOST_DRAWS = 200  # enough to tell a share of 2.5 %
MOST_AT_ONCE = 200_000  # draws times points: keeps memory flat
LEAST_NOISE = 1e-4  # a sweep without noise still has rounded numbers; common practice, no source


@dataclass(frozen=True)
class Misfit:
    """The evidence that a line does not fit."""

    f_hz: float  # where it shows most
    gamma_abs: float  # of the reflection at the feedpoint there, with the line as told
    told_loss_db: float  # matched loss of the line as told, there
    most_loss_db: float  # largest matched loss that the reflection measured at the radio allows there

    def finding(self) -> Finding:
        """What to tell the operator."""
        return Finding(
            "line-does-not-fit",
            "stop",
            f"with the line as told the antenna would reflect more than it gets: {self.gamma_abs:.2f} of the "
            f"wave at {frequency_text(self.f_hz)}; the line told loses {self.told_loss_db:.2f} dB there, "
            f"the sweep allows {self.most_loss_db:.2f} dB at most",
            "check type and length of every piece, and at which end it was swept",
        )


def find_misfit(
    f_hz: ArrayLike,
    gamma_radio: ArrayLike,
    draws: ChainDraws,
    *,
    noise: float,
    directivity: float = 0.0,
    reference_ohm: float = 50.0,
) -> Misfit | None:
    """Evidence that no line within its tolerances can stand between this sweep and a passive antenna, or ``None``.

    ``noise`` is the rms of the complex noise on the reflection, ``directivity`` its largest constant error; the first
    200 draws are tried.
    """
    f, gamma = np.asarray(f_hz, dtype=np.float64), np.asarray(gamma_radio, dtype=np.complex128)
    known = {"noise": noise, "directivity": directivity, "reference_ohm": reference_ohm}
    told = draws.part(slice(0, 1))
    nominal = _excess_in_errors(f, gamma, told, **known)[0]
    if nominal.max() < CHANCE:
        return None
    tried, at_once = draws.part(slice(0, MOST_DRAWS)), max(1, MOST_AT_ONCE // f.size)
    blocks = (tried.part(slice(first, first + at_once)) for first in range(0, tried.size, at_once))
    fits = [_excess_in_errors(f, gamma, block, **known).max(axis=1) < CHANCE for block in blocks]
    if np.concatenate(fits).mean() > LEAST_SHARE:
        return None
    first = int(np.argmax(nominal))
    worst = slice(first, first + _window(f.size))
    removed = np.abs(remove_chain(f[worst], gamma[worst], told, reference_ohm=reference_ohm))
    return Misfit(
        f_hz=float(f[worst].mean()),
        gamma_abs=float(removed.mean()),
        told_loss_db=float(matched_loss_db(f[worst], told).mean()),
        most_loss_db=max(0.0, float(-10 * np.log10(np.mean(np.abs(gamma[worst]))))),
    )


def _window(points: int) -> int:
    """Points in a stretch, odd."""
    return max(LEAST_WINDOW, points // WINDOWS) | 1


def _excess_in_errors(
    f_hz: FloatArray,
    gamma: ComplexArray,
    draws: ChainDraws,
    *,
    noise: float,
    directivity: float,
    reference_ohm: float,
) -> FloatArray:
    """By how many standard errors each stretch lies above total reflection, shape (draws, stretches)."""
    magnitude = np.abs(remove_chain(f_hz, gamma, draws, reference_ohm=reference_ohm))
    growth = noise_growth(f_hz, gamma, draws, reference_ohm=reference_ohm)
    # Of the noise, half lies along the reflection and scatters; the half across it lengthens it a little.
    excess = magnitude - 1 - growth * directivity - (growth * noise) ** 2 / 4
    scatter = growth * max(noise, LEAST_NOISE) / np.sqrt(2)
    window = min(_window(f_hz.size), f_hz.size)
    mean_excess, mean_square = _running_mean(excess, window), _running_mean(scatter**2, window)
    return mean_excess / np.sqrt(np.maximum(mean_square / window, np.finfo(float).tiny))


def _running_mean(values: FloatArray, window: int) -> FloatArray:
    """Mean over each stretch along the last axis."""
    total = np.cumsum(np.concatenate([np.zeros((*values.shape[:-1], 1)), values], axis=-1), axis=-1)
    return np.asarray((total[..., window:] - total[..., :-window]) / window)
