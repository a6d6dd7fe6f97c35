"""Sweeps of modelled antennas as an analyzer gives them, swept again, connected again or with a fault."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from sweepkit.conversions import gamma_from_z
from sweepkit.feedline.chain import ChainDraws, LineChain
from sweepkit.feedline.plane import add_chain
from sweepkit.lines import LinePiece
from sweepkit.sweep import Sweep

Impedance = Callable[[np.ndarray], np.ndarray]

# Standard deviations of one repeat: frequency, resistance, offset of the reflection (practice table, see
# sweepkit/diagnosis/spreads.py); written out here so that a change there does not change the trial.
REPEATS = {"noise": (0.0, 0.0, 0.0), "same": (0.0002, 0.01, 0.003), "reconnected": (0.001, 0.02, 0.005)}


def repeated(z_ohm: Impedance, dice: np.random.Generator, how: str) -> Impedance:
    """The antenna swept again, or connected again and swept."""
    f, r, _ = REPEATS[how]
    slide, scale = 1 + f * dice.standard_normal(), 1 + r * dice.standard_normal()

    def z(f_hz: np.ndarray) -> np.ndarray:
        at = z_ohm(f_hz / slide)
        return scale * at.real + 1j * at.imag

    return z


def analyzer_error(dice: np.random.Generator, directivity_db: float = 40.0) -> complex:
    """A directivity error of known size, which stays for a session."""
    return complex(10 ** (-directivity_db / 20) * np.exp(2j * np.pi * dice.random()))


def swept(
    z_ohm: Impedance,
    f_hz: np.ndarray,
    dice: np.random.Generator,
    *,
    error: complex = 0.0,
    noise: float = 0.001,
    line: Sequence[LinePiece] = (),
    how: str | None = None,
) -> Sweep:
    """A sweep; ``how`` it was repeated adds an offset."""
    gamma = gamma_from_z(z_ohm(f_hz), 50.0)
    if line:
        gamma = add_chain(f_hz, gamma, nominal(line))[0]
    if how is not None:
        gamma = gamma + REPEATS[how][2] * (dice.standard_normal() + 1j * dice.standard_normal())
    scatter = dice.standard_normal((2, f_hz.size)) / np.sqrt(2)
    return Sweep.from_gamma(f_hz, gamma + error + noise * (scatter[0] + 1j * scatter[1]))


def nominal(line: Sequence[LinePiece]) -> ChainDraws:
    return LineChain(line).nominal
