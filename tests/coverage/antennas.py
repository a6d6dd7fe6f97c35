"""Impedances whose figures are known exactly: resonators, and modelled antennas by interpolation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

TABLES = Path(__file__).resolve().parents[1] / "data" / "models"
NARROW_TABLES = ("dipole_40m", "dipole_20m_low", "vee_80m", "whip_40m", "whip_80m", "end_fed_40m")
REFERENCE_OHM = 50.0
DENSE_POINTS = 20_001

Impedance = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Case:
    """An impedance and the range in which it is looked at."""

    name: str
    z_ohm: Impedance
    low_hz: float
    high_hz: float


@dataclass(frozen=True)
class Truth:
    """Figures of one dip without noise or error."""

    f_hz: float
    swr: float
    r_ohm: float
    x_ohm: float
    edges_hz: dict[float, tuple[float | None, float | None]]
    resonance: tuple[float, float, float] | None  # f, R, Q of the zero of X nearest the dip


def series(r_ohm: float, q: float, f0_hz: float) -> Impedance:
    return lambda f_hz: r_ohm * (1 + 1j * q * (f_hz / f0_hz - f0_hz / f_hz))


def parallel(r_ohm: float, q: float, f0_hz: float) -> Impedance:
    return lambda f_hz: r_ohm / (1 + 1j * q * (f_hz / f0_hz - f0_hz / f_hz))


def side_by_side(*branches: Impedance) -> Impedance:
    return lambda f_hz: 1 / sum(1 / branch(f_hz) for branch in branches)


@cache
def table(name: str) -> Case:
    f_hz, r_ohm, x_ohm = np.loadtxt(TABLES / f"{name}.csv", delimiter=",", skiprows=1, unpack=True)
    return Case(name, CubicSpline(f_hz, r_ohm + 1j * x_ohm), float(f_hz[0]), float(f_hz[-1]))


def draw_case(dice: np.random.Generator) -> Case:
    """One antenna of the study."""
    kind = dice.choice(["series", "parallel", "two-band", "table"])
    f0_hz = float(dice.choice([3.6e6, 7.1e6, 10.1e6, 14.2e6, 21.2e6, 28.5e6]))
    r_ohm, q = (
        float(np.exp(dice.uniform(np.log(20), np.log(110)))),
        float(np.exp(dice.uniform(np.log(6), np.log(60)))),
    )
    reach = float(dice.uniform(2.0, 5.0)) / q  # some loaded widths to each side
    if kind == "table":
        return table(str(dice.choice(NARROW_TABLES)))
    if kind == "two-band":
        other = series(
            float(dice.uniform(30, 90)), float(dice.uniform(8, 25)), f0_hz * float(dice.uniform(1.8, 2.2))
        )
        z_ohm = side_by_side(series(r_ohm, min(q, 25.0), f0_hz), other)
        return Case("two-band", z_ohm, 0.8 * f0_hz, 2.5 * f0_hz)
    z_ohm = series(r_ohm, q, f0_hz) if kind == "series" else parallel(r_ohm, q, f0_hz)
    return Case(str(kind), z_ohm, f0_hz * (1 - min(reach, 0.4)), f0_hz * (1 + min(reach, 0.4)))


def find_truths(case: Case, limits_swr: tuple[float, ...]) -> list[Truth]:
    """Figures of every dip of the range, from a dense grid refined by parabolas and straight lines."""
    f_hz = np.linspace(case.low_hz, case.high_hz, DENSE_POINTS)
    z_ohm = case.z_ohm(f_hz)
    magnitude = np.abs((z_ohm - REFERENCE_OHM) / (z_ohm + REFERENCE_OHM))
    lows = np.flatnonzero((magnitude[1:-1] < magnitude[:-2]) & (magnitude[1:-1] < magnitude[2:])) + 1
    return [_truth(case, f_hz, magnitude, z_ohm, int(k), limits_swr) for k in lows]


def _truth(case, f_hz, magnitude, z_ohm, k, limits_swr):
    a, b, c = magnitude[k - 1 : k + 2] ** 2
    f_dip_hz = f_hz[k] + 0.5 * (a - c) / (a - 2 * b + c) * (f_hz[1] - f_hz[0])
    z_dip = complex(case.z_ohm(np.array([f_dip_hz]))[0])
    reflection = abs((z_dip - REFERENCE_OHM) / (z_dip + REFERENCE_OHM))
    edges = {}
    for limit in limits_swr:
        level = (limit - 1) / (limit + 1)
        edges[limit] = (
            _crossing(f_hz, magnitude, level, k, -1), _crossing(f_hz, magnitude, level, k, +1)
        ) if reflection < level else (None, None)  # fmt: skip
    return Truth(
        f_hz=float(f_dip_hz),
        swr=(1 + reflection) / (1 - reflection),
        r_ohm=z_dip.real,
        x_ohm=z_dip.imag,
        edges_hz=edges,
        resonance=_resonance(case, f_hz, z_ohm.imag, f_dip_hz),
    )


def _crossing(f_hz, magnitude, level, k, step):
    while 0 <= k + step < f_hz.size:
        if magnitude[k + step] > level:
            share = (level - magnitude[k]) / (magnitude[k + step] - magnitude[k])
            return float(f_hz[k] + share * (f_hz[k + step] - f_hz[k]))
        k += step
    return None


def _resonance(case, f_hz, x_ohm, f_dip_hz):
    zeros = np.flatnonzero(np.sign(x_ohm[1:]) != np.sign(x_ohm[:-1]))
    if not zeros.size:
        return None
    k = zeros[np.argmin(np.abs(f_hz[zeros] - f_dip_hz))]
    f0_hz = float(f_hz[k] - x_ohm[k] * (f_hz[k + 1] - f_hz[k]) / (x_ohm[k + 1] - x_ohm[k]))
    step_hz = 1e-5 * f0_hz
    below, at, above = case.z_ohm(np.array([f0_hz - step_hz, f0_hz, f0_hz + step_hz]))
    return f0_hz, float(at.real), float(f0_hz / (2 * at.real) * abs(above - below) / (2 * step_hz))
