"""Modelled antennas (tests/data/models) behind pieces of line, with the errors of an analyzer."""

from pathlib import Path

import numpy as np

from sweepkit.conversions import gamma_from_z
from sweepkit.feedline.chain import LineChain
from sweepkit.feedline.plane import add_chain
from sweepkit.sweep import Sweep

MODELS = Path(__file__).parents[1] / "data" / "models"


def antenna(name):
    """Frequency [Hz] and reflection at the feedpoint of a modelled antenna."""
    table = np.loadtxt(MODELS / f"{name}.csv", delimiter=",", skiprows=1)
    return table[:, 0], gamma_from_z(table[:, 1] + 1j * table[:, 2], 50.0)


def measured(f_hz, gamma, pieces=(), *, noise=0.002, seed=0):
    """As an analyzer of 40 dB directivity would see it through the pieces."""
    dice = np.random.default_rng(seed)
    at_radio = add_chain(f_hz, gamma, LineChain(pieces).nominal)[0]
    error = 0.01 * np.exp(2j * np.pi * dice.random())
    parts = dice.standard_normal((2, f_hz.size)) * noise / np.sqrt(2)
    return at_radio + error + parts[0] + 1j * parts[1]


def swept_line(pieces, end, *, f_hz=None, noise=0.002, seed=0, scale_error=0.0, source_match=0.0):
    """A Sweep of pieces of line with a reflection at the far end, by an analyzer of 40 dB directivity."""
    f_hz = np.linspace(1e6, 60e6, 201) if f_hz is None else f_hz
    far = np.full(f_hz.size, end, dtype=complex)
    true = add_chain(f_hz, far, LineChain(pieces).nominal)[0]
    seen = (1 + scale_error) * true / (1 - source_match * true)
    return Sweep.from_gamma(f_hz, seen + measured(f_hz, np.zeros(f_hz.size), noise=noise, seed=seed))
