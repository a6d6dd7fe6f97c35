"""Reviews to draw."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sweepkit.plots.over_frequency import SwrLine
from sweepkit.plots.overlay import NamedLine
from sweepkit.plots.traces import Traces
from sweepkit.readers import read_sweep
from sweepkit.reviews import Review, review
from sweepkit.sweep import Sweep

SAMPLES = Path(__file__).resolve().parents[2] / "sample_sweeps"


@pytest.fixture(scope="session")
def dipole() -> Review:
    return review(read_sweep(SAMPLES / "ridge_dipole_40m.s1p"), measured_at="feedpoint", draws=200)


@pytest.fixture(scope="session")
def coarse_whip() -> Review:
    return review(read_sweep(SAMPLES / "spit_whip_40m_coarse.s1p"), draws=200)


@pytest.fixture(scope="session")
def behind_a_line() -> Review:
    return review(read_sweep(SAMPLES / "valley_dipole_rg58.s1p"), lines=["RG-58 15 m"], draws=200)


@pytest.fixture(scope="session")
def magnitude_only() -> Review:
    f_hz = np.linspace(6.5e6, 7.7e6, 101)
    gamma_abs = np.clip(0.2 + np.abs(f_hz - 7.1e6) / 1e6, 0, 0.95)
    return review(Sweep(f_hz=f_hz, gamma=None, gamma_abs=gamma_abs, phase="none"), draws=50)


def curves_of_setups(count: int) -> list[NamedLine]:
    """Made-up dips side by side, each with an interval."""
    rng = np.random.default_rng(3)
    f_hz = np.linspace(6.8e6, 7.4e6, 101)
    curves = []
    for k in range(count):
        f0_hz, q, r_ohm = 7.05e6 + 1.2e4 * k, 12 + k, 50 + 6 * k
        z_ohm = r_ohm * (1 + 2j * q * (f_hz - f0_hz) / f0_hz)
        gamma = (z_ohm - 50) / (z_ohm + 50)
        draws = gamma + 0.01 * np.exp(2j * np.pi * rng.random((60, 1)))
        swr = Traces(f_hz, np.vstack([gamma, draws]), 50.0).swr
        curves.append(NamedLine(f"setup {k + 1}", SwrLine(f_hz, swr)))
    return curves
