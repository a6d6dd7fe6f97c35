"""Wire models as they were set up and with one thing wrong (tests/data/models/faults.npz, made by make_faults.py)."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from sweepkit.conversions import gamma_from_z, z_from_gamma
from tests.diagnosis.modelled import Impedance
from tests.models.families import END_FED_REFERENCE_OHM
from tests.models.nec import through_transformer

TABLE = Path(__file__).resolve().parents[1] / "data" / "models" / "faults.npz"
POINTS = 151


@dataclass(frozen=True)
class Setup:
    """One antenna: its states by name, and the frequencies it is swept at."""

    name: str
    kind: str
    f_hz: np.ndarray
    states: dict[str, Impedance]

    def z_ohm(self, state: str, f_hz: np.ndarray, slide: float) -> np.ndarray:
        """Impedance of a state whose frequencies have all slid alike, box and all."""
        return self.states[state](f_hz / (1 + slide))

    def erected(self, state: str, dice: np.random.Generator, *, again: bool) -> str:
        """Which state of the table that is; here put up again is a slide."""
        return state

    def rung_of(self, truth: str, rung: str) -> str:
        """What lies between where this befalls it."""
        return rung


@cache
def setups(table: Path = TABLE) -> tuple[Setup, ...]:
    found: dict[str, dict[str, Impedance]] = defaultdict(dict)
    spans: dict[str, np.ndarray] = {}
    with np.load(table) as stored:
        for key in stored:
            kind, number, state = key.split("/")
            f_hz, r_ohm, x_ohm = stored[key].astype(float)
            found[f"{kind}/{number}"][state] = _between(kind, f_hz, r_ohm + 1j * x_ohm)
            spans[f"{kind}/{number}"] = np.linspace(f_hz[0] * 1.001, f_hz[-1] * 0.999, POINTS)
    return tuple(Setup(name, name.split("/")[0], spans[name], states) for name, states in found.items())


def _between(kind: str, f_hz: np.ndarray, z_ohm: np.ndarray) -> Impedance:
    if kind != "end-fed":
        return CubicSpline(f_hz, z_ohm)
    spline = CubicSpline(f_hz, gamma_from_z(z_ohm, END_FED_REFERENCE_OHM))
    return lambda at_hz: through_transformer(z_from_gamma(spline(at_hz), END_FED_REFERENCE_OHM), at_hz)
